"""Drawn ultrasound clips to measure with: a beating cavity in speckle, a ruler, a running ECG and screen text.

Invented screens. They carry what costs time in real ones: a fan that fills the screen, speckle that changes in
every frame, a trace with its pen, small print. Nothing about image quality is claimed from them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.study import Sector

ROWS, COLS = 768, 1024
RATE_HZ = 40.0
_DEPTHS, _BEAMS = 512, 192
_BEAT_FRAMES = 16.0  # 150 beats a minute at 40 frames/s: a cat at rest (common practice, no source)
_TRACE_COLS, _TRACE_ROW, _PX_PER_FRAME = (60, 960), 715, 6.0
_TRACE_GAP_PX = 14  # between the pen and what is left of the sweep before

FAN = Sector(apex_row_px=36.0, apex_col_px=512.0, left_deg=-39.0, right_deg=39.0, near_px=8.0, far_px=610.0)


@dataclass(frozen=True, kw_only=True)
class Look:
    """What is written on the screen and whether flow is shown."""

    depth_cm: int = 12
    clock: str = "09:41:22"
    has_flow: bool = False


def draw_clip(rng: np.random.Generator, n_frames: int, look: Look) -> NDArray[np.uint8]:
    """Return a clip, shape (frame, 768, 1024, 3)."""
    still = _screen(look)
    tissue = _speckle(rng, _DEPTHS + 64, _BEAMS)
    down = np.linspace(0, 1, _DEPTHS, dtype=np.float32)[:, None]
    across = np.linspace(0, 1, _BEAMS, dtype=np.float32)[None, :]
    map_x, map_y, outside = _fan_maps()
    start = rng.uniform(0, _BEAT_FRAMES)
    out = np.empty((n_frames, ROWS, COLS, 3), np.uint8)
    for index in range(n_frames):
        phase = (index + start) / _BEAT_FRAMES % 1.0
        wall = 1.0 - 0.22 * np.sin(np.pi * min(phase / 0.7, 1.0)) ** 2
        away = np.hypot((down - 0.5) / (0.22 * wall), (across - 0.5) / (0.26 * wall))
        shift = round(6 * wall)
        bright = np.where(away < 1, np.float32(6), np.float32(75)) * (1.1 - 0.4 * down)
        bright[(away > 0.95) & (away < 1.2)] *= 1.6
        level = bright * tissue[shift : shift + _DEPTHS]
        level += np.abs(rng.standard_normal(level.shape, dtype=np.float32)) * 5.0
        beams = np.clip(level, 0, 255).astype(np.uint8)
        picture = cv2.remap(beams, map_x, map_y, cv2.INTER_LINEAR)
        picture[outside] = 0
        cv2.max(cv2.merge([picture] * 3), still, dst=out[index])
        if look.has_flow:
            _add_flow(out[index], phase)
        _add_trace(out[index], index + 150, start)
    return out


def _speckle(rng: np.random.Generator, rows: int, cols: int) -> NDArray[np.float32]:
    """Rayleigh amplitude of a filtered complex Gaussian field, mean 1."""
    field = rng.standard_normal((2, rows, cols), dtype=np.float32)
    real, imag = (cv2.GaussianBlur(part, (0, 0), sigmaX=1.3, sigmaY=1.8) for part in field)
    envelope = np.hypot(real, imag)
    return np.asarray(envelope / envelope.mean(), np.float32)


@lru_cache(maxsize=1)
def _fan_maps() -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.bool_]]:
    yy, xx = np.mgrid[0:ROWS, 0:COLS].astype(np.float32)
    dy, dx = yy - FAN.apex_row_px, xx - FAN.apex_col_px
    depth = (np.hypot(dy, dx) - FAN.near_px) / FAN.depth_px
    beam = (np.degrees(np.arctan2(dx, dy)) - FAN.left_deg) / FAN.width_deg
    outside = (depth < 0) | (depth > 1) | (beam < 0) | (beam > 1)
    return (beam * (_BEAMS - 1)).astype(np.float32), (depth * (_DEPTHS - 1)).astype(np.float32), outside


def _screen(look: Look) -> NDArray[np.uint8]:
    """All that stands still: text, ruler, grey bar."""
    frame = np.zeros((ROWS, COLS, 3), np.uint8)
    words = (
        ("ROSEHILL VETERINARY CENTRE", 24, 16, 0.5),
        ("MAPLE 20931", 24, 420, 0.5),
        ("25/11/2026", 24, 800, 0.5),
        (look.clock, 24, 920, 0.5),
        ("40 Hz", 80, 16, 0.5),
        (f"{look.depth_cm}.0 cm", 104, 16, 0.5),
        ("2D G 54", 128, 16, 0.45),
        ("DR 65 dB", 150, 16, 0.45),
        ("8.0 MHz", 172, 16, 0.45),
        ("MI 0.8", 60, 936, 0.45),
        ("150 bpm", 752, 920, 0.5),
    )
    for text, row, col, size in words:
        cv2.putText(frame, text, (col, row), cv2.FONT_HERSHEY_SIMPLEX, size, (225,) * 3, 1, cv2.LINE_AA)
    spacing = FAN.depth_px / look.depth_cm
    for mark in range(look.depth_cm + 1):
        row = round(FAN.apex_row_px + FAN.near_px + mark * spacing)
        cv2.line(frame, (968, row), (968 + (14 if mark % 5 == 0 else 7), row), (210,) * 3, 1)
    frame[90:260, 1000:1012] = np.linspace(255, 0, 170).astype(np.uint8)[:, None, None]
    return frame


def _add_flow(frame: NDArray[np.uint8], phase: float) -> None:
    """A colour bar, the outline of a box, and two streams in it: towards the probe and away, fast in the middle."""
    bar = np.linspace(1, -1, 140)
    frame[300:440, 1000:1012] = _flow_colours(bar)[:, None]
    cv2.polylines(
        frame, [np.array([[430, 240], [600, 240], [640, 470], [390, 470]], np.int32)], True, (200, 200, 200), 1
    )
    strength = 0.45 + 0.5 * np.sin(np.pi * phase)
    for centre, sign in ((482, 1.0), (544, -1.0)):
        window = frame[270:430, centre - 28 : centre + 28]
        down, across = np.ogrid[-1 : 1 : window.shape[0] * 1j, -1 : 1 : window.shape[1] * 1j]
        away = np.hypot(down, across)
        inside = away < 0.95
        window[inside] = _flow_colours(sign * strength * (1 - 0.6 * away[inside]))


def _flow_colours(speed: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Red to yellow towards the probe, blue to cyan away from it; speed from -1 to 1."""
    fast = np.abs(speed)[:, None]
    warm, cold = (
        np.array([90 + 165 * fast, 190 * fast**2, 0 * fast]),
        np.array([0 * fast, 170 * fast**2, 90 + 165 * fast]),
    )
    return np.asarray(np.where(speed[:, None] > 0, warm[..., 0].T, cold[..., 0].T), np.uint8)


def _millivolt(beat: NDArray[np.float64]) -> NDArray[np.float64]:
    """A P wave, a QRS complex and a T wave, invented after their usual shape; R is about 1."""
    wrapped = np.mod(beat + 0.5, 1.0) - 0.5
    waves = ((-0.17, 0.025, 0.12), (-0.022, 0.008, -0.15), (0.0, 0.011, 1.0), (0.025, 0.01, -0.25), (0.30, 0.04, 0.22))
    return np.asarray(sum(height * np.exp(-0.5 * ((wrapped - at) / width) ** 2) for at, width, height in waves))


def _add_trace(frame: NDArray[np.uint8], now: int, start: float) -> None:
    """A trace that a pen overwrites from left to right."""
    col0, col1 = _TRACE_COLS
    width = col1 - col0
    drawn = now * _PX_PER_FRAME
    pen = drawn % width
    for first, last, sweep in ((0.0, pen, drawn - pen), (pen + _TRACE_GAP_PX, float(width), drawn - pen - width)):
        along = np.arange(first, last, 0.5)
        if len(along) < 2:
            continue
        beat = ((sweep + along) / _PX_PER_FRAME - 150 + start) / _BEAT_FRAMES
        points = np.stack([col0 + along, _TRACE_ROW - 36 * _millivolt(beat)], axis=1)
        cv2.polylines(frame, [np.round(points * 8).astype(np.int32)], False, (60, 230, 70), 1, cv2.LINE_AA, 3)
