"""Screens with a known truth: a picture, fixed overlay, ruler, bars, trace. All layouts are invented here."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.study import Box, Picture, Sector, Strip


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """Pixels and what was drawn."""

    pixels: NDArray[np.uint8]  # (frame, row, col, 3)
    picture: Picture | None
    ruler_rows: tuple[float, ...] = ()
    ruler_col: float | None = None
    colour_area: Box | None = None
    cut: Box | None = None

    @property
    def grey(self) -> NDArray[np.uint8]:
        """Luma of the frames."""
        return np.stack([cv2.cvtColor(frame, cv2.COLOR_RGB2GRAY) for frame in self.pixels])


def speckle(rng: np.random.Generator, rows: int, cols: int, down_px: float, across_px: float) -> NDArray[np.float32]:
    """Fully developed speckle: Rayleigh amplitude of a filtered complex Gaussian field, mean 1."""
    field = rng.normal(size=(2, rows, cols)).astype(np.float32)
    real, imag = (cv2.GaussianBlur(part, (0, 0), sigmaX=across_px, sigmaY=down_px) for part in field)
    envelope = np.hypot(real, imag)
    return np.asarray(envelope / envelope.mean(), np.float32)


def beam_frames(
    rng: np.random.Generator,
    n_frames: int,
    *,
    depths: int = 400,
    beams: int = 160,
    gain: float = 1.0,
    noise: float = 3.0,
    shadow: tuple[float, float] | None = None,
    air: bool = False,
    far_noise: float = 0.0,
) -> NDArray[np.float32]:
    """Frames in beam coordinates: a beating cavity in speckled tissue, or the bands of a probe in the air."""
    down = np.linspace(0, 1, depths, dtype=np.float32)[:, None]
    across = np.linspace(0, 1, beams, dtype=np.float32)[None, :]
    tissue = speckle(rng, depths, beams, 1.6, 1.2)
    bands = sum(np.exp(-(((down - 0.02 - 0.035 * k) / 0.008) ** 2)) * 0.55**k for k in range(6))
    ripple = 1 + 0.05 * cv2.GaussianBlur(rng.normal(size=(1, beams)).astype(np.float32), (0, 0), 6)
    out = np.empty((n_frames, depths, beams), np.float32)
    for index in range(n_frames):
        beat = math.sin(2 * math.pi * index / 14.0)
        if air:
            level = 220 * bands * ripple * (1 + 0.01 * beat) + 0 * tissue
        else:
            wall = 1 + 0.12 * beat
            away = np.hypot((down - 0.5) / (0.22 * wall), (across - 0.5) / (0.24 * wall))
            level = np.where(away < 1, 5.0, 70.0) * np.roll(tissue, round(2 * beat), axis=0)
            level = level * (1.1 - 0.5 * down)
            level = np.where((away > 0.95) & (away < 1.15), 1.7 * level, level)
        if shadow is not None:
            level = np.where((across > shadow[0]) & (across < shadow[1]) & (down > 0.08), 0.04 * level, level)
        grain = noise * min(gain, 1.0) + far_noise * down**3
        out[index] = gain * level + np.abs(rng.normal(0, 1.0, size=level.shape)) * grain
    return out


def paint(
    frames: NDArray[np.float32], picture: Picture, rows: int, cols: int, cut: Box | None = None
) -> NDArray[np.uint8]:
    """Scan-convert beams to the screen: the reverse of ``frames.polar``; outside the picture 0."""
    yy, xx = np.mgrid[0:rows, 0:cols].astype(np.float32)
    n, depths, beams = frames.shape
    if isinstance(picture, Sector):
        dy, dx = yy - picture.apex_row_px, (xx - picture.apex_col_px) * picture.col_stretch
        radius, angle = np.hypot(dy, dx), np.degrees(np.arctan2(dx, dy))
        depth = (radius - picture.near_px) / picture.depth_px
        beam = (angle - picture.left_deg) / picture.width_deg
    else:
        depth = (yy - picture.box.row0) / (picture.box.height_px - 1)
        beam = (xx - picture.box.col0) / (picture.box.width_px - 1)
    inside = (depth >= 0) & (depth <= 1) & (beam >= 0) & (beam <= 1)
    if cut is not None:
        window = np.zeros_like(inside)
        window[cut.row0 : cut.row1, cut.col0 : cut.col1] = True
        inside &= window
    map_x, map_y = (beam * (beams - 1)).astype(np.float32), (depth * (depths - 1)).astype(np.float32)
    out = np.zeros((n, rows, cols), np.uint8)
    for index, frame in enumerate(frames):
        level = cv2.remap(frame, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        out[index] = np.where(inside, np.clip(level, 0, 255), 0).astype(np.uint8)
    return out


def add_overlay(
    pixels: NDArray[np.uint8],
    *,
    words: tuple[tuple[str, int, int], ...] = (),
    font: float = 0.5,
    bar: Box | None = None,
    trace: tuple[int, int, int] | None = None,
    menu: Box | None = None,
    level: int = 230,
) -> None:
    """Draw fixed text (word, row, col), a grey bar, a running trace (row, col0, col1) and a filled menu, in place."""
    for index, frame in enumerate(pixels):
        for word, row, col in words:
            cv2.putText(frame, word, (col, row), cv2.FONT_HERSHEY_SIMPLEX, font, (level,) * 3, 1, cv2.LINE_AA)
        if bar is not None:
            ramp = np.linspace(255, 0, bar.height_px).astype(np.uint8)[:, None, None]
            frame[bar.row0 : bar.row1, bar.col0 : bar.col1] = ramp
        if menu is not None:
            frame[menu.row0 : menu.row1, menu.col0 : menu.col1] = (40, 60, 90)
        if trace is not None:
            row, col0, col1 = trace
            x = np.arange(col0, min(col1, col0 + 40 + 6 * index))
            y = row - 18 * np.exp(-(((((x - col0) % 60) - 20) / 3.0) ** 2))
            cv2.polylines(frame, [np.stack([x, y], 1).astype(np.int32)], False, (40, 230, 60), 1, cv2.LINE_AA)


def add_ruler(
    pixels: NDArray[np.uint8], picture: Picture, col: int, spacing: float, *, kind: str = "dash", major_every: int = 5
) -> tuple[float, ...]:
    """Draw depth marks in place, the first at the face; return the rows of all marks."""
    first = picture.point(0.0, 0.5)[0]
    rows = []
    k = 0
    while first + k * spacing <= first + picture.depth_px + 0.5:
        row = first + k * spacing
        major = k % major_every == 0
        for frame in pixels:
            r = round(row)
            if kind == "dash":
                cv2.line(frame, (col, r), (col + (12 if major else 6), r), (210, 210, 210), 1)
            elif kind == "dot":
                cv2.circle(frame, (col, r), 3 if major else 1, (220, 220, 220), -1)
            elif kind == "axis":
                cv2.line(frame, (col - (10 if major else 5), r), (col, r), (200, 200, 200), 1)
        rows.append(row)
        k += 1
    if kind == "axis":
        for frame in pixels:
            cv2.line(frame, (col, round(rows[0])), (col, round(rows[-1])), (200, 200, 200), 1)
    return tuple(rows)


def phased(rows: int, cols: int, *, width_deg: float = 78.0, tilt_deg: float = 0.0, near_px: float = 6.0) -> Sector:
    """A phased-array fan that fills most of the screen."""
    return Sector(
        apex_row_px=0.07 * rows,
        apex_col_px=0.5 * cols + 0.3 * tilt_deg,
        left_deg=-0.5 * width_deg + tilt_deg,
        right_deg=0.5 * width_deg + tilt_deg,
        near_px=near_px,
        far_px=0.83 * rows,
    )


def curved(rows: int, cols: int) -> Sector:
    """A curved array with a wide face; its apex lies above the screen."""
    return Sector(
        apex_row_px=-0.16 * rows, apex_col_px=0.47 * cols, left_deg=-33.0, right_deg=33.0,
        near_px=0.24 * rows, far_px=1.0 * rows,
    )  # fmt: skip


def linear(rows: int, cols: int) -> Strip:
    """A linear array."""
    return Strip(
        box=Box(row0=round(0.12 * rows), col0=round(0.2 * cols), row1=round(0.86 * rows), col1=round(0.74 * cols))
    )


def screen(
    rng: np.random.Generator,
    picture: Picture | None,
    rows: int = 480,
    cols: int = 640,
    *,
    n_frames: int = 8,
    cut: Box | None = None,
    gain: float = 1.0,
    background: int = 0,
    jpeg_quality: int | None = None,
    layout: int = 0,
    air: bool = False,
    shadow: tuple[float, float] | None = None,
    noise: float = 3.0,
    floor: int = 0,
    far_noise: float = 0.0,
) -> Drawn:
    """Draw a whole screen in one of four invented layouts."""
    grey = np.zeros((n_frames, rows, cols), np.uint8)
    if picture is not None:
        beams = beam_frames(rng, n_frames, gain=gain, air=air, shadow=shadow, noise=noise, far_noise=far_noise)
        grey = paint(np.maximum(beams, floor), picture, rows, cols, cut)
    pixels = np.repeat(np.maximum(grey, background)[..., None], 3, axis=3)
    u, v = rows / 480, cols / 640
    ruler: tuple[float, ...] = ()
    ruler_col: float | None = None
    if layout == 0:
        add_overlay(
            pixels,
            words=(
                ("ROSEHILL VETS", 20, 12),
                ("P4 31Hz", round(60 * u), 8),
                ("12.0 cm", round(80 * u), 8),
                ("G 54", round(100 * u), 8),
            ),
            bar=Box(row0=round(60 * u), col0=cols - 24, row1=round(200 * u), col1=cols - 12),
        )
        if picture is not None:
            ruler_col = float(round(608 * v))
            ruler = add_ruler(pixels, picture, round(608 * v), picture.depth_px / 12.0, kind="dash")
    elif layout == 1:
        add_overlay(
            pixels,
            words=(
                ("Bramble 4 y", round(24 * u), round(300 * v)),
                ("LA long axis", round(452 * u), round(230 * v)),
            ),
            trace=(round(430 * u), round(120 * v), round(560 * v)),
            level=250,
            font=0.6,
        )
        if picture is not None:
            ruler_col = float(round(40 * v))
            ruler = add_ruler(pixels, picture, round(40 * v), picture.depth_px / 16.0, kind="dot")
    elif layout == 2:
        add_overlay(pixels, menu=Box(row0=0, col0=0, row1=round(26 * u), col1=cols), font=0.45,
                    words=(("MI 0.8", round(50 * u), cols - 90), ("72 bpm", rows - 12, cols - 90)))  # fmt: skip
        if picture is not None:
            ruler_col = float(cols - 30)
            ruler = add_ruler(pixels, picture, cols - 30, picture.depth_px / 9.0, kind="axis")
    if jpeg_quality is not None:
        for index, frame in enumerate(pixels):
            _, code = cv2.imencode(".jpg", frame[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, jpeg_quality])
            pixels[index] = cv2.imdecode(code, cv2.IMREAD_COLOR)[..., ::-1]
    return Drawn(pixels=pixels, picture=picture, ruler_rows=ruler, ruler_col=ruler_col, cut=cut)
