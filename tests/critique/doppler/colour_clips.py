"""Colour clips drawn without a machine, with one thing wrong at a time, and how they are judged."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext
from fanlight.critique.doppler.families import DOPPLER_FAMILIES
from fanlight.frames.colour_box import find_colour_box
from fanlight.frames.polar import to_grey
from fanlight.reference.criteria import read_family
from fanlight.reference.load import load_house
from fanlight.study import (
    BeatSource,
    Box,
    Clip,
    ClipTime,
    Finding,
    FrameTimes,
    Layout,
    Mode,
    ModeReading,
    Patient,
    PictureChunk,
    Quantity,
    Scale,
    ScaleSource,
    ScreenText,
    Sector,
    TimeSource,
)

ROWS, COLS = 420, 560
PICTURE = Sector(
    apex_row_px=10.0, apex_col_px=260.0, left_deg=-40.0, right_deg=40.0, near_px=0.0, far_px=390.0, col_stretch=1.0
)
HOUSE = load_house()
TIME = ClipTime(
    times=FrameTimes(times_ms=tuple(50.0 * k for k in range(24)), source=TimeSource.FRAME_TIME),
    beat_source=BeatSource.NONE, r_frames=(), beat_period_frames=None, beat_period_ms=None, heart_rate_bpm=None,
    complete_beats=0.0, end_diastole_frames=(), confidence=0.0, has_ecg=False,
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """What is drawn; the defaults are a clip without fault."""

    n_frames: int = 24
    fastest: float = 0.8  # speed of the flow over the end of the scale; above 1 it wraps
    specks_share: float = 0.0  # of tissue
    flash_frames: tuple[int, ...] = ()
    over_px: int = 0  # by which colour runs over the border of the blood
    radius_px: float = 45.0  # of the stream of blood
    has_bar: bool = True
    has_outline: bool = True
    noise_share: float = 0.0  # of the box, blood and tissue alike
    slow_share: float = 0.0  # of the speed of walls over the end of the scale: painted where they are
    slow_frames: tuple[int, ...] | None = None  # in which walls move; None for all
    jet: float = 0.0  # spread of speeds side by side in half of each beat, over the end of the scale
    tinted_frames: tuple[int, ...] | None = None  # with the tint of turbulence; None: the bar has none
    clip_frames_shown: int = 1  # each colour is shown so often
    box_deg: float = 22.0  # to either side
    box_far_px: float = 300.0


def ramp(share: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Colours of a velocity from -1 to 1: black, red, yellow; black, blue, cyan."""
    size = np.abs(share)
    strong, light = np.clip(60 + 330 * size, 0, 255), np.clip(510 * (size - 0.5), 0, 255)
    up = np.stack([strong, light, 0 * size], axis=-1)
    down = np.stack([0 * size, light, strong], axis=-1)
    return np.where((share >= 0)[..., None], up, down).astype(np.uint8)


def tinted(colours: NDArray[np.uint8], tint: NDArray[np.float64] | float) -> NDArray[np.uint8]:
    """Colours, (..., 3), run towards green by shares of the way, (...)."""
    way = 0.7 * np.asarray(tint)[..., None]
    return np.asarray((1 - way) * colours + way * np.array([40.0, 220.0, 80.0]), np.uint8)


def clip(drawn: Drawn, seed: int = 0) -> NDArray[np.uint8]:
    """Return RGB frames (frame, row, col, 3)."""
    rng = np.random.default_rng(seed)
    row, col = np.mgrid[0:ROWS, 0:COLS].astype(np.float64)
    aside, down = col - PICTURE.apex_col_px, row - PICTURE.apex_row_px
    radius, angle = np.hypot(aside, down), np.degrees(np.arctan2(aside, down))
    fan = (radius < PICTURE.far_px) & (np.abs(angle) < 40.0)
    box = fan & (radius > 120) & (radius < drawn.box_far_px) & (np.abs(angle) < drawn.box_deg)
    blood = (np.hypot(aside, row - 215) < 70) & fan
    stream = np.hypot(aside, 0.45 * (row - 215)) < drawn.radius_px
    flow = (cv2.dilate((stream & blood).astype(np.uint8), np.ones((2 * drawn.over_px + 1,) * 2)) > 0) & box
    frames = []
    for shown_k in range(drawn.n_frames):
        k = shown_k - shown_k % drawn.clip_frames_shown
        grey = np.where(blood, 12.0, 110.0) + 14.0 * rng.standard_normal((ROWS, COLS))
        frame = np.repeat(np.where(fan, np.clip(grey, 0, 255), 0).astype(np.uint8)[..., None], 3, axis=2)
        swing = np.sin(2 * np.pi * k / 12)
        speed = drawn.fastest * swing * np.clip(1.0 - (np.hypot(aside, 0.45 * (row - 215)) / 60.0) ** 4, 0.0, 1.0)
        if drawn.jet:
            pieces = rng.standard_normal((ROWS // 5, COLS // 5)).repeat(5, axis=0).repeat(5, axis=1)
            speed = speed + drawn.jet * max(swing, 0.0) * pieces[:ROWS, :COLS]
        wrapped = (speed + 1.0) % 2.0 - 1.0
        shown = flow & (np.abs(speed) > 0.05)
        specks = (rng.random((ROWS // 2, COLS // 2)) < drawn.specks_share).repeat(2, axis=0).repeat(2, axis=1)
        shown_specks = specks & box & ~blood
        is_tinted = drawn.tinted_frames is not None and k in drawn.tinted_frames
        frame[shown] = tinted(ramp(wrapped), 0.9 if is_tinted else 0.0)[shown]
        frame[shown_specks] = ramp(rng.uniform(-1.0, 1.0, (ROWS, COLS)))[shown_specks]
        if drawn.noise_share:
            noise = cv2.blur(rng.standard_normal((ROWS, COLS)), (9, 9)) * 9
            snow = box & (rng.random((ROWS // 4, COLS // 4)) < drawn.noise_share).repeat(4, axis=0).repeat(4, axis=1)
            frame[snow] = ramp(np.where(noise > 0, 0.75, -0.75))[snow]
        if drawn.slow_share and (drawn.slow_frames is None or k in drawn.slow_frames):
            walls = box & ~blood
            frame[walls] = ramp(np.full((ROWS, COLS), drawn.slow_share))[walls]
        if k in drawn.flash_frames:
            frame[box] = ramp(np.full((ROWS, COLS), 0.4))[box]
        if drawn.has_outline:
            for rim in (radius - 120, radius - drawn.box_far_px):
                frame[(np.abs(rim) < 0.7) & (np.abs(angle) < drawn.box_deg)] = (160, 170, 180)
            for rim in (angle - drawn.box_deg, angle + drawn.box_deg):
                aside_px = np.radians(rim) * radius
                frame[(np.abs(aside_px) < 0.7) & (radius > 120) & (radius < drawn.box_far_px)] = (160, 170, 180)
        if drawn.has_bar:
            bar = ramp(np.linspace(1.0, -1.0, 140))
            bar[66:74] = 0
            across = np.linspace(0, 1, 16) * (drawn.tinted_frames is not None)
            frame[60:200, 530:546] = tinted(bar[:, None], np.where((bar.max(axis=1) > 0)[:, None], across, 0.0))
        frames.append(frame)
    return np.stack(frames)


def judge(
    pixels: NDArray[np.uint8],
    picture: Sector = PICTURE,
    mode: Mode = Mode.COLOUR,
    size: int = 32,
    scale: tuple[float, Box] | None = (45.0, Box(row0=45, col0=520, row1=56, col1=558)),
    mhz: float | None = None,
    mm_per_px: float | None = None,
) -> dict[str, Finding]:
    """Show a clip to all Doppler families; findings by criterion."""
    n, rows, cols = pixels.shape[:3]
    texts: tuple[ScreenText, ...] = (
        ()
        if scale is None
        else (ScreenText(text="+", box=scale[1], confidence=1.0, quantities=(Quantity(value=scale[0], unit="cm/s"),)),)
    )
    if mhz is not None:
        at = Box(row0=300, col0=10, row1=310, col1=60)
        texts += (ScreenText(text="f", box=at, confidence=1.0, quantities=(Quantity(value=mhz, unit="MHz"),)),)
    calibrated = None if mm_per_px is None else Scale(
        mm_per_row_px=mm_per_px, mm_per_col_px=mm_per_px, source=ScaleSource.RULER, uncertainty_fraction=0.01,
        witnesses=(),
    )  # fmt: skip
    layout = Layout(
        rows=rows, cols=cols, picture=picture, picture_confidence=1.0, picture_reason="drawn", scale=calibrated,
        scale_reason="not asked", colour_box=find_colour_box(pixels[:32], picture), texts=texts,
    )  # fmt: skip
    file = Clip(
        key="drawn", number=1, name="drawn.dcm", container="DICOM", rows=rows, cols=cols, n_frames=n, is_colour=True
    )
    shared: dict[str, object] = {}
    working = [
        family.start(
            ClipContext(
                clip=file, patient=Patient(), layout=layout, mode=ModeReading(mode=mode, probability=1.0, reasons=()),
                criteria=read_family(HOUSE, family.name), shared=shared,
            )
        )
        for family in DOPPLER_FAMILIES
    ]  # fmt: skip
    for first in range(0, n, size):
        part = pixels[first : first + size]
        shown = PictureChunk(first=first, pixels=part, grey=to_grey(part), beams=None)
        for accumulator in working:
            accumulator.add(shown)
    return {finding.criterion: finding for accumulator in working for finding in accumulator.finish(TIME)}
