"""An M-mode strip drawn from borders that are known: speckle in layers, log-compressed as a machine does it."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.measure.m_mode import MModeStrip

Floats = NDArray[np.float64]

MM_PER_ROW = 0.15
MS_PER_COL = 4.0
COLS = 400
ROWS = 420
DYNAMIC_DB = 60.0  # from black to white
# Decibels above the quietest that is shown: wall, blood, pericardium, lung, and an interface of its own.
WALL_DB, BLOOD_DB, PERICARDIUM_DB, LUNG_DB, INTERFACE_DB = 30.0, 2.0, 55.0, 20.0, 2.0
PULSE_MM = 0.2  # standard deviation of the pulse's envelope


@dataclass(frozen=True, slots=True, kw_only=True)
class Ventricle:
    """Sizes in end-diastole, mm, and how they change by end-systole."""

    right_cavity: float = 7.0
    septum: float = 7.0
    cavity: float = 24.0
    wall: float = 7.0
    shortening: float = 0.36  # of the cavity
    thickening: float = 0.35  # of septum and wall
    beat_ms: float = 440.0
    starts_ms: tuple[float, ...] = (60.0, 500.0, 940.0, 1380.0)


def systole(heart: Ventricle, times_ms: Floats) -> Floats:
    """Return how far the heart has shrunk, 0 to 1: 0 at the start of each beat, 1 at 40 % of it."""
    starts = np.asarray(heart.starts_ms)
    begun = starts[np.clip(np.searchsorted(starts, times_ms, "right") - 1, 0, None)]
    share = np.mod(times_ms - begun, heart.beat_ms) / heart.beat_ms
    rising = np.sin(np.pi / 2 * np.clip(share / 0.4, 0, 1)) ** 2
    falling = np.cos(np.pi / 2 * np.clip((share - 0.4) / 0.35, 0, 1)) ** 2
    return np.asarray(np.where(share < 0.4, rising, falling))


def borders_mm(heart: Ventricle, times_ms: Floats) -> Floats:
    """Return the depth of the five borders, (5, column)."""
    shrunk = systole(heart, times_ms)
    septum = heart.septum * (1 + heart.thickening * shrunk)
    wall = heart.wall * (1 + heart.thickening * shrunk)
    cavity = heart.cavity * (1 - heart.shortening * shrunk)
    right_end = 8.0 + 0.2 * heart.cavity * heart.shortening * shrunk
    start = right_end + heart.right_cavity * (1 - 0.3 * shrunk)
    return np.stack([right_end, start, start + septum, start + septum + cavity, start + septum + cavity + wall])


def draw(
    borders: Floats, seed: int = 0, gain_db: float = 0.0, noise_levels: float = 2.0, mm_per_row: float = MM_PER_ROW
) -> NDArray[np.uint8]:
    """Return the grey levels of a strip whose borders lie at these depths."""
    rng = np.random.default_rng(seed)
    cols = borders.shape[1]
    rows = round(ROWS * MM_PER_ROW / mm_per_row)
    depth = (np.arange(rows) + 0.5)[:, None] * mm_per_row
    layer = (depth[None] >= borders[:, None, :]).sum(axis=0)  # 0 chest and right wall ... 5 pericardium and lung
    size_db = np.select(
        [layer == 1, layer == 3, layer == 5],
        [BLOOD_DB, BLOOD_DB, np.where(depth < borders[4] + 0.8, PERICARDIUM_DB, LUNG_DB)],
        WALL_DB,
    )
    # Texture of a wall moves with it; blood is new in each column.
    fixed = rng.rayleigh(size=(4 * rows,)) / np.sqrt(2)
    moving = np.concatenate([np.zeros((1, cols)), borders])
    own_row = np.rint((depth - np.take_along_axis(moving, layer, axis=0)) / mm_per_row).astype(int) + rows
    texture = np.where(np.isin(layer, (1, 3)), rng.rayleigh(size=layer.shape) / np.sqrt(2), fixed[own_row])
    amplitude = texture * 10 ** (size_db / 20)
    for border in borders[:4]:  # a wall's surface reflects
        # A row that the pulse spreads out again, to this strength.
        spread = np.sqrt(2 * np.pi) * PULSE_MM / mm_per_row
        amplitude += spread * 10 ** ((WALL_DB + INTERFACE_DB) / 20) * (np.abs(depth - border) < mm_per_row / 2)
    amplitude = cv2.GaussianBlur(amplitude, (0, 0), sigmaX=0.01, sigmaY=PULSE_MM / mm_per_row)
    levels = 255 * (20 * np.log10(np.maximum(amplitude, 1e-3)) + gain_db) / DYNAMIC_DB
    return np.asarray(np.clip(levels + rng.normal(0, noise_levels, levels.shape), 0, 255), np.uint8)


def times_ms() -> Floats:
    """Return the middle of each column."""
    return np.asarray((np.arange(COLS) + 0.5) * MS_PER_COL, np.float64)


def strip_of(
    heart: Ventricle, seed: int = 0, gain_db: float = 0.0, *, with_ecg: bool = True, mm_share: float = 0.0
) -> MModeStrip:
    """Return the strip of a heart."""
    starts = tuple(start - MS_PER_COL / 2 for start in heart.starts_ms) if with_ecg else ()
    return MModeStrip(
        levels=draw(borders_mm(heart, times_ms()), seed, gain_db),
        mm_per_row=MM_PER_ROW,
        ms_per_col=MS_PER_COL,
        mm_share=mm_share,
        r_times_ms=starts,
    )


def depth_mm() -> Floats:
    """Return the depth of the middle of each row, (row, 1)."""
    return np.asarray((np.arange(ROWS) + 0.5)[:, None] * MM_PER_ROW, np.float64)


def share_of_beat(starts_ms: tuple[float, ...], time_ms: Floats) -> Floats:
    """Return how far each moment is in its beat, 0 to 1; before the first and behind the last as in those beside."""
    starts = np.asarray(starts_ms)
    at = np.clip(np.searchsorted(starts, time_ms, "right") - 1, 0, len(starts) - 2)
    return np.asarray(np.mod((time_ms - starts[at]) / np.diff(starts)[at], 1.0))


def with_surfaces(amplitude: Floats, surfaces_mm: tuple[Floats, ...]) -> Floats:
    """Return amplitudes (row, column) with a row at each surface that the pulse spreads out to an interface's echo."""
    spread = np.sqrt(2 * np.pi) * PULSE_MM / MM_PER_ROW
    for surface_mm in surfaces_mm:
        on = np.abs(depth_mm() - surface_mm) <= MM_PER_ROW / 2
        amplitude = amplitude + spread * 10 ** ((WALL_DB + INTERFACE_DB) / 20) * on
    return amplitude


def shown(
    amplitude: Floats, rng: np.random.Generator, gain_db: float, starts_ms: tuple[float, ...], *, with_ecg: bool
) -> MModeStrip:
    """Return the strip that a machine makes of amplitudes (row, column), with the R waves of beats that start there."""
    amplitude = cv2.GaussianBlur(amplitude, (0, 0), sigmaX=0.01, sigmaY=PULSE_MM / MM_PER_ROW)
    levels = 255 * (20 * np.log10(np.maximum(amplitude, 1e-3)) + gain_db) / DYNAMIC_DB
    return MModeStrip(
        levels=np.asarray(np.clip(levels + rng.normal(0, 2.0, levels.shape), 0, 255), np.uint8),
        mm_per_row=MM_PER_ROW,
        ms_per_col=MS_PER_COL,
        r_times_ms=tuple(start - MS_PER_COL / 2 for start in starts_ms) if with_ecg else (),
    )
