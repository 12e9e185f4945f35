"""The random field that speckle is made of. It is looked up where tissue lies at rest, so speckle follows the tissue.

The field is complex Gaussian (very many scatterers in each resolution cell: fully developed speckle), periodic in 3-D,
and already smoothed to the distance of the grid's samples, across the image plane to the thickness of the slice: what
is looked up at one point is what the beam gathers around it, so that a small step of the tissue is a small change of
the echo. Smoothing grows with depth; fields of several widths are smoothed from the same noise and stay alike.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.pose import Pose
from fanlight.simulate.machine.point_spread import PointSpread

Array = Any

# Cells across the slice, along the beam, across the lines: powers of two, so that wrapping is a bit mask.
N_SLICE, N_ALONG, N_ACROSS = 16, 256, 128
N_CELLS = N_SLICE * N_ALONG * N_ACROSS
N_LEVELS = 6  # fields of growing width; neighbours are alike to 0.95
# The field's axes are turned a little out of the probe's, so that its period is met nowhere along a line or a row.
_TURN_DEG = 5.0
# Cells in a width of the smoothing: the nearest cell stands for the place, which costs a few per cent of likeness.
_CELLS_ALONG, _CELLS_ACROSS, _CELLS_SLICE = 3.2, 2.6, 2.2
_N_TEXTURE = 32
_TEXTURE_CELLS = 3.0  # a correlation length


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scatterers:
    """The fields of one clip and how to look them up."""

    field: Array  # (level * cell,) complex64, mean power 1
    texture: Array  # (32³,) float32, standard deviation 1
    axes: Array  # (3, 3) float32: rows are directions in the patient along the beam, across the lines, across the slice
    cells_per_mm: tuple[float, float, float]  # along these directions
    level_start: Array  # (sample, 1) int32: where the field of this depth starts


def _circulant(n: int, width_cells: float) -> NDArray[np.float32]:
    """Return the matrix that smooths a periodic axis by a Gaussian of this full width at half height."""
    apart = np.abs(np.arange(n)[:, None] - np.arange(n)[None, :])
    apart = np.minimum(apart, n - apart)
    bell = np.exp(-4 * math.log(2) * (apart / max(width_cells, 0.3)) ** 2)
    return np.asarray(bell / np.sqrt((bell[0] ** 2).sum()), np.float32)


def _turn() -> NDArray[np.float64]:
    c, s = math.cos(math.radians(_TURN_DEG)), math.sin(math.radians(_TURN_DEG))
    about_slice = np.asarray([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])
    about_across = np.asarray([[c, 0, -s], [0, 1.0, 0], [s, 0, c]])
    return np.asarray(about_slice @ about_across)


def make_scatterers(xp: Any, spread: PointSpread, pose: Pose, rng: np.random.Generator) -> Scatterers:
    """Draw the fields of a clip for a blur; `pose` says which way the beam runs through the animal."""
    across_all = spread.scatter_lateral_mm
    low = float(np.quantile(across_all, 0.15))
    levels = np.geomspace(low, max(float(across_all.max()), low * 1.01), N_LEVELS)
    level = np.argmin(np.abs(np.log(across_all[:, None] / levels[None, :])), axis=1)
    slices = np.asarray([spread.slice_mm[level == k].mean() if (level == k).any() else 1.0 for k in range(N_LEVELS)])
    cell_along = spread.scatter_axial_mm / _CELLS_ALONG
    cell_across = low / _CELLS_ACROSS
    cell_slice = float(slices[np.unique(level)].min()) / _CELLS_SLICE
    noise = rng.standard_normal((2, N_SLICE, N_ALONG, N_ACROSS), np.float32) * np.float32(math.sqrt(0.5))
    noise = xp.matmul(xp.asarray(_circulant(N_ALONG, _CELLS_ALONG)), xp.asarray(noise))
    fields = []
    for width, slab in zip(levels, slices, strict=True):
        wide = xp.matmul(noise, xp.asarray(_circulant(N_ACROSS, width / cell_across)))
        flat = xp.reshape(wide, (2, N_SLICE, N_ALONG * N_ACROSS))
        thick = xp.matmul(xp.asarray(_circulant(N_SLICE, slab / cell_slice)), flat)
        fields.append(xp.reshape(thick, (2, N_CELLS)))
    both = xp.concat(fields, axis=1)
    rows = _turn() @ np.stack([pose.z, pose.x, pose.y])
    return Scatterers(
        field=xp.astype(both[0, :], xp.complex64) + xp.astype(both[1, :], xp.complex64) * 1j,
        texture=xp.asarray(_texture(rng)),
        axes=xp.asarray(rows.astype(np.float32)),
        cells_per_mm=(1 / cell_along, 1 / cell_across, 1 / cell_slice),
        level_start=xp.asarray((level[:, None] * N_CELLS).astype(np.int32)),
    )


def _texture(rng: np.random.Generator) -> NDArray[np.float32]:
    """Return a smooth periodic field of standard deviation 1, flat."""
    smooth = _circulant(_N_TEXTURE, _TEXTURE_CELLS)
    field = rng.standard_normal((_N_TEXTURE,) * 3, np.float32)
    for _ in range(3):
        field = np.moveaxis(np.tensordot(smooth, field, axes=(1, 0)), 0, 2)
    return np.asarray(field / field.std(), np.float32).reshape(-1)


def along_axes(scatterers: Scatterers, material_mm: tuple[Array, Array, Array]) -> tuple[Array, Array, Array]:
    """Return tissue's resting place in mm along the field's axes: along beam, across lines, across slice."""
    x, y, z = material_mm
    axes = scatterers.axes
    along, across, over = (axes[k, 0] * x + axes[k, 1] * y + axes[k, 2] * z for k in range(3))
    return along, across, over


def cell_index(xp: Any, cells: tuple[Array, Array, Array]) -> Array:
    """Return the flat index (int32) of the nearest cells, wrapped into the period; places are in cells."""
    along, across, over = (xp.astype(xp.floor(part), xp.int32) for part in cells)
    wrapped = xp.bitwise_and(over, N_SLICE - 1) * (N_ALONG * N_ACROSS)
    wrapped = wrapped + xp.bitwise_and(along, N_ALONG - 1) * N_ACROSS
    return wrapped + xp.bitwise_and(across, N_ACROSS - 1)


def look_up(xp: Any, scatterers: Scatterers, index: Array, shift: int = 0) -> tuple[Array, Array]:
    """Return real and imaginary part of the field at cells (..., sample, line).

    `shift` turns the period on by so many cells: another piece of the field, independent of the first.
    """
    if shift:
        index = xp.bitwise_and(index + shift, N_CELLS - 1)
    flat = xp.reshape(index + scatterers.level_start, (-1,))
    found = xp.reshape(xp.take(scatterers.field, flat), index.shape)  # both parts at once: half the cache misses
    return xp.real(found), xp.imag(found)


def texture_at(
    xp: Any, scatterers: Scatterers, place_mm: tuple[Array, Array, Array], along: Array, across: Array, shift: int = 0
) -> Array:
    """Return the slow texture at places along the field's axes; `along`, `across` are 1 / correlation length."""
    parts = (place_mm[0] * along, place_mm[1] * across, place_mm[2] * across)
    a, b, c = (xp.bitwise_and(xp.astype(xp.floor(part * _TEXTURE_CELLS), xp.int32), _N_TEXTURE - 1) for part in parts)
    index = (c * _N_TEXTURE + a) * _N_TEXTURE + b
    if shift:
        index = xp.bitwise_and(index + shift, _N_TEXTURE**3 - 1)
    return xp.reshape(xp.take(scatterers.texture, xp.reshape(index, (-1,))), index.shape)
