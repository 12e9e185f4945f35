"""Paints lines onto a screen: bilinear between the four nearest samples, by two backends that agree to a grey level."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.simulate.machine.beams import Beams
from fanlight.study import Sector

Array = Any


@lru_cache(maxsize=16)
def _maps(
    sector: Sector, rows: int, cols: int, n_samples: int, n_lines: int
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.bool_]]:
    """Return where each pixel lies: place along the line and across the lines, in samples; and whether inside."""
    row, col = np.mgrid[0:rows, 0:cols].astype(np.float64)
    aside = (col - sector.apex_col_px) * sector.col_stretch
    down = row - sector.apex_row_px
    depth = (np.hypot(aside, down) - sector.near_px) / sector.depth_px
    beam = (np.degrees(np.arctan2(aside, down)) - sector.left_deg) / sector.width_deg
    inside = (depth >= 0) & (depth < 1) & (beam >= 0) & (beam <= 1)
    sample = _in_steps(np.clip(depth * n_samples - 0.5, 0, n_samples - 1))
    line = _in_steps(np.clip(beam * n_lines - 0.5, 0, n_lines - 1))
    return sample.astype(np.float32), line.astype(np.float32), inside


def _in_steps(place: NDArray[np.float64]) -> NDArray[np.float64]:
    """Round to the 1/32 of a sample in which OpenCV interpolates, so that both backends weigh alike."""
    return np.round(place * 32) / 32


def scan_convert(beams: Beams, sector: Sector, *, rows: int, cols: int) -> NDArray[np.uint8]:
    """Return frames (frame, row, col) with the picture at `sector` and black around it.

    Parameters
    ----------
    beams : Beams
        NumPy levels; move them to the processor first if they lie elsewhere.
    sector : Sector
        Where the picture lies; `beams.geometry.on_screen` makes one that is true to scale.
    """
    sample, line, inside = _maps(sector, rows, cols, *beams.levels.shape[1:])
    out = np.empty((len(beams.levels), rows, cols), np.uint8)
    mask = inside.astype(np.uint8) * np.uint8(255)
    for index, frame in enumerate(np.asarray(beams.levels)):
        painted = cv2.remap(frame, line, sample, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        cv2.bitwise_and(painted, mask, dst=out[index])
    return out


def scan_convert_array(xp: Any, beams: Beams, sector: Sector, *, rows: int, cols: int) -> Array:
    """Do the same in array-API code, for a graphics card; agrees with `scan_convert` to one grey level."""
    n_frames, n_samples, n_lines = beams.levels.shape
    sample, line, inside = _maps(sector, rows, cols, n_samples, n_lines)
    down, over = np.minimum(sample.astype(np.int32), n_samples - 2), np.minimum(line.astype(np.int32), n_lines - 2)
    first = xp.asarray((down * n_lines + over)[inside])
    t, u = xp.asarray((sample - down)[inside]), xp.asarray((line - over)[inside])
    flat = xp.reshape(beams.levels, (n_frames, n_samples * n_lines))

    def corner(step: int) -> Array:
        return xp.astype(xp.take(flat, first + step, axis=1), xp.float32)

    near = corner(0) * (1 - u) + corner(1) * u
    far = corner(n_lines) * (1 - u) + corner(n_lines + 1) * u
    grey = xp.astype(xp.floor(near * (1 - t) + far * t + 0.5), xp.uint8)
    # pixels outside take the black that stands behind the last picture pixel
    order = np.full(rows * cols, int(inside.sum()), np.int32)
    order[inside.reshape(-1)] = np.arange(int(inside.sum()), dtype=np.int32)
    black = xp.zeros((n_frames, 1), dtype=xp.uint8)
    return xp.reshape(xp.take(xp.concat([grey, black], axis=1), xp.asarray(order), axis=1), (n_frames, rows, cols))


def fitted_sector(beams: Beams, *, rows: int, cols: int, margin_px: int = 20) -> Sector:
    """Return the largest true-to-scale place of a picture on a screen of this size."""
    g = beams.geometry
    angles = np.radians([g.left_deg, g.right_deg, min(max(0.0, g.left_deg), g.right_deg)])
    far = g.apex_mm + g.depth_mm
    left, right = float(far * np.sin(angles).min()), float(far * np.sin(angles).max())
    top = float(g.apex_mm * np.cos(angles).min())
    bottom = float(far * np.cos(angles).max())
    mm_per_px = max((right - left) / (cols - 2 * margin_px), (bottom - top) / (rows - 2 * margin_px))
    return g.on_screen(
        apex_row_px=margin_px - top / mm_per_px,
        apex_col_px=cols / 2 - (left + right) / 2 / mm_per_px,
        mm_per_px=mm_per_px,
    )
