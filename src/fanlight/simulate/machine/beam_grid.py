"""Where the machine looks: points along the lines in the image plane, and coarser ones beside it for slice thickness.

Anatomy is asked for on a coarse grid and carried to the fine grid of the echoes along the lines; where the tissue
changes between two coarse samples, the distances to its border say where, so that borders move smoothly.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.pose import Pose
from fanlight.heart.sampled import Sampled
from fanlight.simulate.machine.beams import LineGeometry

Array = Any
Floats = NDArray[np.floating[Any]]

# Coarse samples along a line: half a millimetre at the depth of a medium dog, thinner than a leaflet.
COARSE_DEPTHS = 160
# The side planes are four times coarser: they only tell how much of the slice lies in which tissue.
SIDE_SHARE = 2
# Of the slice's -6 dB thickness to either side; weights of middle and sides. Two-point Gaussian quadrature of the
# Gaussian power across the slice: three points at 0 and ±√3 sigma, 2/3 and 1/6 each (Gauss-Hermite, identity).
SIDE_OFFSET = 0.5202  # √3 · sigma of the power, whose full width at -6 dB is 2·√(2 ln 4)·sigma
MIDDLE_WEIGHT, SIDE_WEIGHT = 2 / 3, 1 / 6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BeamGrid:
    """Sample places in the probe's frame, and how to go from coarse to fine."""

    # (depth, line + side line, 3): the middle plane, and beside it, row by row in turn, the sides at -y and +y: one
    # sheet, whose rows lie at like depths, is sliced faster than three
    points_mm: NDArray[np.float64]
    n_depths: int  # of the middle plane
    n_lines: int
    n_side_depths: int
    n_side_lines: int
    coarse_mm: float  # between coarse samples
    coarse_depth_mm: Array  # (n_depths, 1)
    lower: Array  # (sample,) int32, coarse sample above
    upper: Array  # (sample,) int32, the one below it
    share: Array  # (sample, 1) float32, of the way from one to the other
    line_mm: Array  # (n_depths, 1) float32, distance of neighbouring lines
    side_mm: Array  # (n_depths, 1) float32, distance of the side planes
    side_row: Array  # (n_depths,) int32, row of the side planes that lies beside each coarse depth
    side_col: Array  # (n_lines,) int32, likewise for lines
    side_down: Array  # (sample, n_side_depths) float32: linear, side depths to samples
    side_over: Array  # (n_side_lines, n_lines) float32: linear, side lines to lines

    def split(self, sheet: Array) -> tuple[Array, tuple[Array, Array]]:
        """Return the middle plane (depth, line) and both sides (side depth, side line) of a sheet of all points."""
        sides = sheet[:, self.n_lines :]
        return sheet[:, : self.n_lines], (sides[0::2, :], sides[1::2, :])


def _linear(at: Floats, n: int) -> tuple[NDArray[np.int32], NDArray[np.float32]]:
    """Return the lower neighbour and the share of the way to the next, for places counted in cells of n."""
    lower = np.clip(np.floor(at), 0, n - 2).astype(np.int32)
    return lower, np.clip(at - lower, 0, 1).astype(np.float32)


def _matrix(at: Floats, n: int) -> NDArray[np.float32]:
    """Return the matrix (place, n) of linear interpolation."""
    lower, share = _linear(at, n)
    out = np.zeros((len(at), n), np.float32)
    rows = np.arange(len(at))
    out[rows, lower] = 1 - share
    out[rows, lower + 1] += share
    return out


def make_grid(xp: Any, lines: LineGeometry, slice_mm: Floats) -> BeamGrid:
    """Return the grid of these lines; `slice_mm` (sample,) is the -6 dB thickness of the slice."""
    n_depths = min(COARSE_DEPTHS, lines.n_samples // SIDE_SHARE * SIDE_SHARE)
    n_lines = lines.n_lines
    side_depths, side_lines = n_depths // SIDE_SHARE, n_lines // SIDE_SHARE
    fine_mm = (np.arange(lines.n_samples) + 0.5) * lines.sample_mm

    def plane(rows: int, cols: int, side: float) -> tuple[Floats, Floats]:
        depth = (np.arange(rows) + 0.5) / rows * lines.depth_mm
        angle = np.radians(lines.left_deg + (np.arange(cols) + 0.5) / cols * (lines.right_deg - lines.left_deg))
        radius = (depth + lines.apex_mm)[:, None]
        aside = side * SIDE_OFFSET * np.interp(depth, fine_mm, slice_mm)
        x = radius * np.sin(angle)[None, :]
        z = radius * np.cos(angle)[None, :] - lines.apex_mm
        y = np.broadcast_to(aside[:, None], x.shape)
        return depth, np.stack([x, y, z], axis=-1)

    depth, middle = plane(n_depths, n_lines, 0.0)
    sides = np.stack([plane(side_depths, side_lines, side)[1] for side in (-1.0, 1.0)], axis=1)
    points = np.concatenate([middle, sides.reshape(n_depths, side_lines, 3)], axis=1)
    coarse_mm = lines.depth_mm / n_depths
    lower, share = _linear(fine_mm / coarse_mm - 0.5, n_depths)
    over = (np.arange(n_lines) + 0.5) / n_lines * side_lines - 0.5
    return BeamGrid(
        points_mm=points,
        n_depths=n_depths,
        n_lines=n_lines,
        n_side_depths=side_depths,
        n_side_lines=side_lines,
        coarse_mm=coarse_mm,
        coarse_depth_mm=xp.asarray(depth[:, None].astype(np.float32)),
        lower=xp.asarray(lower),
        upper=xp.asarray(lower + np.int32(1)),
        share=xp.asarray(share[:, None]),
        line_mm=xp.asarray(((depth + lines.apex_mm) * lines.line_rad)[:, None].astype(np.float32)),
        side_mm=xp.asarray((SIDE_OFFSET * np.interp(depth, fine_mm, slice_mm))[:, None].astype(np.float32)),
        side_row=xp.asarray((np.arange(n_depths) // SIDE_SHARE).astype(np.int32)),
        side_col=xp.asarray(np.minimum(np.arange(n_lines) // SIDE_SHARE, side_lines - 1).astype(np.int32)),
        side_down=xp.asarray(_matrix(fine_mm / lines.depth_mm * side_depths - 0.5, side_depths)),
        side_over=xp.asarray(np.ascontiguousarray(_matrix(over, side_lines).T)),
    )


def patient_points(xp: Any, grid: BeamGrid, pose: Pose) -> tuple[Array, Array, Array]:
    """Return the grid's points in the patient frame, three arrays (depth, line + side line)."""
    points = pose.to_patient(grid.points_mm).astype(np.float32)
    return tuple(xp.asarray(np.ascontiguousarray(points[..., k])) for k in range(3))


def over_still(xp: Any, moving: Sampled, still: Sampled | None) -> Sampled:
    """Return what is seen where the moving part lies over the still one."""
    if still is None:
        return moving
    seen = moving.tissue != 0
    return Sampled(
        tissue=xp.where(seen, moving.tissue, still.tissue),
        # beside the moving part, its distance tells where it begins
        edge_mm=xp.where(seen, moving.edge_mm, xp.minimum(moving.edge_mm, still.edge_mm)),
        material_mm=tuple(
            xp.where(seen, ours, theirs) for ours, theirs in zip(moving.material_mm, still.material_mm, strict=True)
        ),
    )
