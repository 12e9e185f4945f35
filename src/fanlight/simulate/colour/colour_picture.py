"""Colour laid over the grey picture: the estimate carried to pixels, who wins a pixel, and its colour.

What is interpolated is the normalised autocorrelation, real and imaginary part, never the velocity: between a cell just
below the end of the scale and one just above it lies the end of the scale, not standing blood.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.simulate.colour.colour_beams import ColourBeams
from fanlight.simulate.colour.colour_map import N_VARIANCES, N_VELOCITIES, colour_table
from fanlight.study import Box, Sector

Bytes = NDArray[np.uint8]

# Power is carried to pixels in dB about the threshold and cut off here, so that a strong core does not spill over its
# neighbours (engineering judgement).
_REACH_DB = 6.0
# Over which the grey picture is averaged before it claims a pixel: single speckles do not (engineering judgement).
_CALM_MM = 1.2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Coloured:
    """The part of the picture in which colour can lie, frame by frame."""

    box: Box  # upright, round the colour box, in pixels of the grey picture
    rgb: Bytes  # (frame, row, col, 3)
    mask: Bytes  # (frame, row, col) 255 where colour is shown


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Places:
    box: Box
    sample: NDArray[np.float32]
    line: NDArray[np.float32]
    inside: NDArray[np.bool_]


def paint_colours(beams: ColourBeams, sector: Sector, grey: Bytes, mm_per_px: float) -> Coloured:
    """Return the colours of each frame.

    Parameters
    ----------
    beams : ColourBeams
        The estimate.
    sector : Sector
        Where the grey picture lies on `grey`.
    grey : ndarray of shape (frame, row, col)
        The grey picture as painted; bright pixels are tissue and keep their place.
    mm_per_px : float
        Of the grey picture.
    """
    places = _places(beams, sector, grey.shape[1], grey.shape[2], mm_per_px)
    box, setting = places.box, beams.setting
    table = colour_table(setting.map_key, setting.baseline_shift_fraction, setting.is_inverted).reshape(-1, 3)
    most_grey = math.floor(255 * setting.priority_fraction)
    calm = 2 * round(_CALM_MM / mm_per_px / 2) + 1
    n = len(beams.correlation)
    rgb = np.empty((n, box.height_px, box.width_px, 3), np.uint8)
    mask = np.empty((n, box.height_px, box.width_px), np.uint8)
    planes = np.empty((*beams.correlation.shape[1:], 3), np.float32)
    for index in range(n):
        planes[..., 0], planes[..., 1] = beams.correlation[index].real, beams.correlation[index].imag
        np.clip(beams.power_db[index] - beams.threshold_db, -_REACH_DB, _REACH_DB, out=planes[..., 2])
        seen = cv2.remap(planes, places.line, places.sample, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        patch = grey[index, box.row0 : box.row1, box.col0 : box.col1]
        shown = (seen[..., 2] > 0) & places.inside & (cv2.blur(patch, (calm, calm)) <= most_grey)
        np.take(table, _steps(seen, setting.baseline_shift_fraction), axis=0, out=rgb[index], mode="clip")
        mask[index] = shown.astype(np.uint8) * np.uint8(255)
    return Coloured(box=box, rgb=rgb, mask=mask)


def _steps(seen: NDArray[np.float32], shift: float) -> NDArray[np.intp]:
    """Return the place of each pixel in a flat colour table: variance, then velocity."""
    length, angle = cv2.cartToPolar(seen[..., 0], seen[..., 1])  # angle 0 to 2π
    turn = np.asarray(angle, np.float32) * np.float32(0.5 / math.pi) + np.float32(0.5 - 0.5 * shift)
    turn -= np.floor(turn)  # share of the shown range
    velocity = np.minimum((turn * N_VELOCITIES).astype(np.intp), N_VELOCITIES - 1)
    scatter = (1 - np.asarray(length, np.float32)) * (N_VARIANCES - 1) + np.float32(0.5)
    return np.asarray(np.clip(scatter, 0, N_VARIANCES - 1).astype(np.intp) * N_VELOCITIES + velocity)


def _places(beams: ColourBeams, sector: Sector, rows: int, cols: int, mm_per_px: float) -> _Places:
    """Return where each pixel of the colour box's upright box lies among the cells."""
    setting, geometry = beams.setting, beams.geometry
    corners = np.array(outline_px(beams, sector, mm_per_px))
    low, high = corners.min(axis=0), corners.max(axis=0)
    box = Box(
        row0=max(math.floor(low[0]), 0),
        col0=max(math.floor(low[1]), 0),
        row1=min(math.ceil(high[0]) + 1, rows),
        col1=min(math.ceil(high[1]) + 1, cols),
    )
    row, col = np.mgrid[box.row0 : box.row1, box.col0 : box.col1].astype(np.float64)
    down, aside = row - sector.apex_row_px, col - sector.apex_col_px
    depth = np.hypot(down, aside) * mm_per_px - geometry.apex_mm
    angle = np.degrees(np.arctan2(aside, down))
    inside = (depth >= setting.box.near_mm) & (depth <= setting.box.far_mm)
    inside &= (angle >= setting.box.left_deg) & (angle <= setting.box.right_deg)
    line = (angle - geometry.left_deg) / (geometry.right_deg - geometry.left_deg) * geometry.n_lines - 0.5
    sample = (depth - geometry.first_mm) / geometry.step_mm
    return _Places(
        box=box,
        sample=np.clip(sample, 0, geometry.n_samples - 1).astype(np.float32),
        line=np.clip(line, 0, geometry.n_lines - 1).astype(np.float32),
        inside=inside,
    )


_ARC_STEPS = 48  # straight pieces of an edge of the box


def outline_px(beams: ColourBeams, sector: Sector, mm_per_px: float) -> list[tuple[float, float]]:
    """Return the outline of the colour box, (row, col): near edge from left to right, far edge back."""
    box = beams.setting.box
    angles = np.radians(np.linspace(box.left_deg, box.right_deg, _ARC_STEPS + 1))
    out: list[tuple[float, float]] = []
    for depth, way in ((box.near_mm, angles), (box.far_mm, angles[::-1])):
        radius = (depth + beams.geometry.apex_mm) / mm_per_px
        out += [
            (sector.apex_row_px + radius * math.cos(a), sector.apex_col_px + radius * math.sin(a)) for a in way.tolist()
        ]
    return out
