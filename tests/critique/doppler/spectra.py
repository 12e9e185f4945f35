"""Spectra drawn without a machine, with one thing wrong at a time, and how they are judged."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext, Family
from fanlight.critique.doppler.spectrum_use import FAMILY
from fanlight.critique.doppler.told import tell
from fanlight.frames.colour_box import picture_mask
from fanlight.reference.criteria import read_family
from fanlight.study import (
    Box,
    Clip,
    DrawnMark,
    FileMarks,
    Finding,
    Layout,
    MarkedAxis,
    Mode,
    ModeReading,
    Patient,
    PictureChunk,
    Region,
    RegionReading,
    ScreenText,
    Sector,
    Species,
    Valve,
    ViewReading,
    ViewSource,
)
from tests.critique.doppler.colour_clips import HOUSE, TIME

BOX = Box(row0=100, col0=40, row1=400, col1=640)
BEAT_MS, MS_PER_PX = 600.0, 2.5
DOG = Patient(species=Species.DOG, weight_kg=10.0)


@dataclass(frozen=True, kw_only=True)
class Spectrum:
    """What is drawn; the defaults are a good pulsed spectrum of inflow: two waves a beat."""

    peak_cm_s: float = 80.0
    scale_cm_s: float = 100.0  # half of the height, with the baseline in the middle
    back_cm_s: float = 0.0  # peak of flow the other way, between the two waves
    baseline: float = 0.6  # share of the height above it
    noise: float = 0.0  # share of pixels lit by noise
    filter_cm_s: float = 8.0
    ms_per_px: float = MS_PER_PX
    has_guide: bool = True
    clicks_ms: float = 0.0  # three a beat, so long each
    wraps: bool = True  # sampled: what passes an end comes in at the other
    level: float = 120.0  # darkest grey of the signal; its grains are brighter by up to `grain`
    grain: float = 100.0
    missing_beats: tuple[int, ...] = ()
    dim_beats: tuple[int, ...] = ()
    dim_level: float = 60.0  # grey of the signal in them
    pause_ms: float = 0.0  # by which every other beat is longer
    r_at_ms: float | None = None  # of the beat, whose early wave begins at 0; None: no ECG
    cursor_deg: float | None = None  # on a fan that stands for the guide; None: no fan is drawn
    gate_px: float = 55.0  # from the apex of the fan
    gate_level: int = 0  # grey level of what lies at the gate
    gate_round_px: float = 12.0  # half the width of what lies there


def beat_times(drawn: Spectrum, at_ms: NDArray[np.floating[Any]]) -> tuple[NDArray[np.floating[Any]], NDArray[np.int_]]:
    """Return how long after its beat began each moment lies, and in which beat; pauses follow every other beat."""
    pair_ms = 2 * BEAT_MS + drawn.pause_ms
    within = at_ms % pair_ms
    second = within >= BEAT_MS
    return np.where(second, within - BEAT_MS, within), (2 * (at_ms // pair_ms) + second).astype(np.int_)


def strip(drawn: Spectrum, seed: int = 0) -> tuple[NDArray[np.uint8], Region]:
    """Return a screen with a strip, and its region."""
    rng = np.random.default_rng(seed)
    rows, cols = BOX.height_px, BOX.width_px
    zero = round(drawn.baseline * rows)
    cm_s = 2.0 * drawn.scale_cm_s / rows
    t, beat = beat_times(drawn, np.arange(cols) * drawn.ms_per_px)
    early = np.where(t < 160, np.sin(np.pi * np.clip(t, 0, 160) / 160), 0.0)
    late = np.where((t > 300) & (t < 400), 0.65 * np.sin(np.pi * (np.clip(t, 300, 400) - 300) / 100), 0.0)
    peak = drawn.peak_cm_s * np.maximum(early, late)
    peak[np.isin(beat, drawn.missing_beats)] = 0.0
    is_dim = np.isin(beat, drawn.dim_beats)
    screen = np.zeros((480, 680), np.uint8)
    levels = np.zeros((rows, cols))
    for col in range(cols):
        low = drawn.filter_cm_s
        if peak[col] <= low:
            continue
        for v in np.arange(low, peak[col], cm_s / 2):
            row = zero - 1 - int(v / cm_s)
            row = row % rows if drawn.wraps else row
            if 0 <= row < rows:
                grain = drawn.level + drawn.grain * rng.random()
                levels[row, col] = drawn.dim_level if is_dim[col] else grain
    if drawn.clicks_ms:
        for at in (170.0, 290.0, 410.0):
            inside = (t >= at) & (t < at + drawn.clicks_ms)
            levels[:, inside] = 110 + 100 * rng.random((rows, int(inside.sum())))
    noisy = rng.random((rows, cols)) < drawn.noise
    back = drawn.back_cm_s * np.where((t > 180) & (t < 280), np.sin(np.pi * (np.clip(t, 180, 280) - 180) / 100), 0.0)
    for k in np.flatnonzero(back > drawn.filter_cm_s):
        reach = zero + 1 + (np.arange(drawn.filter_cm_s, back[k], cm_s / 2) / cm_s).astype(int)
        levels[reach % rows, k] = drawn.level + drawn.grain * rng.random(len(reach))
    levels[noisy] = np.maximum(levels[noisy], 40 + 60 * rng.random(int(noisy.sum())))
    levels[min(zero, rows - 1)] = 200
    screen[BOX.row0 : BOX.row1, BOX.col0 : BOX.col1] = np.clip(levels, 0, 255)
    region = Region(
        spatial_format=3, data_type=3, box=BOX, unit_x=4, unit_y=7, delta_x=drawn.ms_per_px / 1000.0, delta_y=-cm_s,
        reference_col_px=0.0, reference_row_px=float(zero), reference_value_x=0.0, reference_value_y=0.0,
    )  # fmt: skip
    return screen, region


FAN = Sector(apex_row_px=2.0, apex_col_px=300.0, left_deg=-40.0, right_deg=40.0, near_px=3.0, far_px=88.0)
MM_PER_PX = 0.8


def gate_of(drawn: Spectrum) -> tuple[float, float]:
    """Return (row, col) of the gate that is drawn."""
    turn = np.radians(drawn.cursor_deg or 0.0)
    return (
        FAN.apex_row_px + drawn.gate_px * float(np.cos(turn)), FAN.apex_col_px + drawn.gate_px * float(np.sin(turn)),
    )  # fmt: skip


def painted(drawn: Spectrum, screen: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return the screen in colour, with guide, cursor, gate and ECG where they are asked for."""
    out = np.repeat(screen[..., None], 3, axis=2)
    if drawn.cursor_deg is not None:
        rng = np.random.default_rng(3)
        inside = picture_mask(FAN, *screen.shape) > 0
        grains = rng.rayleigh(50.0, screen.shape) * inside
        yy, xx = np.mgrid[: screen.shape[0], : screen.shape[1]]
        blood = np.hypot(yy - 50, (xx - 300) / 1.3) < 24
        grains[blood] *= 0.04
        row, col = gate_of(drawn)
        here = np.hypot(yy - row, xx - col) < drawn.gate_round_px
        grains = np.where(here, drawn.gate_level * (0.8 + 0.4 * rng.random(screen.shape)), grains)
        out[inside] = np.clip(grains, 0, 255).astype(np.uint8)[inside][:, None]
        _draw_cursor(out, drawn)
    if drawn.r_at_ms is not None:
        _draw_ecg(out, drawn)
    return out


def _draw_cursor(out: NDArray[np.uint8], drawn: Spectrum) -> None:
    turn = np.radians(drawn.cursor_deg or 0.0)
    along, across = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    apex, ink = np.array([FAN.apex_row_px, FAN.apex_col_px]), (90, 200, 240)

    def line(start: NDArray[np.float64], end: NDArray[np.float64]) -> None:
        (r0, c0), (r1, c1) = np.round(start).astype(int).tolist(), np.round(end).astype(int).tolist()
        cv2.line(out, (c0, r0), (c1, r1), ink, 1, cv2.LINE_AA)

    for start in np.arange(FAN.near_px, FAN.far_px - 5, 10):
        if abs(start + 2.5 - drawn.gate_px) > 7:
            line(apex + start * along, apex + (start + 5) * along)
    for side in (-3, 3):
        middle = apex + (drawn.gate_px + side) * along
        line(middle - 7 * across, middle + 7 * across)


def _draw_ecg(out: NDArray[np.uint8], drawn: Spectrum) -> None:
    t, _ = beat_times(drawn, np.arange(BOX.width_px) * drawn.ms_per_px)
    t = t - (drawn.r_at_ms or 0.0)
    if not drawn.pause_ms:
        t = np.where(t > BEAT_MS / 2, t - BEAT_MS, np.where(t < -BEAT_MS / 2, t + BEAT_MS, t))
    high = 24.0 * np.exp(-((t / 6.0) ** 2)) + 4.0 * np.exp(-(((t - 180) / 30.0) ** 2))
    points = np.stack([np.arange(BOX.width_px) + BOX.col0, 450 - high], axis=1).round().astype(np.int32)
    cv2.polylines(out, [points], isClosed=False, color=(60, 220, 90), thickness=1)


def judge(
    drawn: Spectrum,
    mode: Mode = Mode.PULSED_WAVE,
    *,
    family: Family = FAMILY,
    valve: Valve | None = None,
    marks: tuple[DrawnMark, ...] = (),
    axes: tuple[MarkedAxis, ...] = (),
    patient: Patient = DOG,
    trusted: bool = True,
    seed: int = 0,
    beat_ms: float | None = BEAT_MS,
    words: tuple[str, ...] = (),
) -> dict[str, Finding]:
    """Show a drawn spectrum to the family."""
    screen, region = strip(drawn, seed)
    regions = [RegionReading(region=region, trusted=trusted, reason="drawn")]
    if drawn.has_guide:
        guide = replace(
            region, spatial_format=1, data_type=1, box=Box(row0=0, col0=200, row1=90, col1=400), unit_x=3, unit_y=3,
            delta_x=MM_PER_PX / 10, delta_y=MM_PER_PX / 10,
        )  # fmt: skip
        regions.append(RegionReading(region=guide, trusted=True, reason="drawn"))
    layout = Layout(
        rows=480, cols=680, picture=None if drawn.cursor_deg is None else FAN, picture_confidence=0.0,
        picture_reason="not looked for", scale=None,
        scale_reason="not asked", regions=tuple(regions),
        texts=tuple(ScreenText(text=each, box=Box(row0=0, col0=0, row1=8, col1=60), confidence=0.9) for each in words),
    )  # fmt: skip
    file = Clip(
        key="drawn", number=1, name="drawn.dcm", container="DICOM", rows=480, cols=680, n_frames=1, is_colour=False
    )
    shared: dict[str, Any] = {}
    view = ViewReading(view="", source=ViewSource.MENTOR, valve=valve)
    tell(shared, view, FileMarks(name="drawn.dcm", drawn=marks, axes=axes))
    working = family.start(
        ClipContext(
            clip=file, patient=patient, layout=layout, mode=ModeReading(mode=mode, probability=1.0, reasons=()),
            criteria=read_family(HOUSE, family.name), shared=shared,
        )
    )  # fmt: skip
    pixels = painted(drawn, screen)
    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    working.add(PictureChunk(first=0, pixels=pixels[None], grey=np.asarray(grey[None], np.uint8), beams=None))
    return {item.criterion: item for item in working.finish(replace(TIME, beat_period_ms=beat_ms))}
