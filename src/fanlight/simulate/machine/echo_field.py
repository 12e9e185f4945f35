"""What comes back from each sample before it is blurred: scattered and mirrored echoes, dimmed on their way.

Array-API code: arrays are (depth, line) or (sample, line) of one frame.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from fanlight.heart.sampled import Sampled
from fanlight.heart.tissue import Tissue
from fanlight.simulate.machine.beam_grid import MIDDLE_WEIGHT, SIDE_WEIGHT, BeamGrid
from fanlight.simulate.machine.lung import AtAir, Reverberation, behind_pleura
from fanlight.simulate.machine.scatterers import N_CELLS, Scatterers, along_axes, cell_index, look_up, texture_at
from fanlight.simulate.machine.tissue_echo import EchoTable

Array = Any

# A smooth interface mirrors: its echo over the speckle of heart muscle is this times the reflection coefficient.
# Engineering judgement, by eye: the border of muscle and blood (0.03) comes out some 10 dB brighter than the muscle.
MIRROR_GAIN = 160.0
# Borders undulate within the width of the beam: their echo is this thick before the pulse adds its length (engineering
# judgement).
MIRROR_MM = 0.45
# The phase of a border's echo wanders over some millimetres, so that it adds up within a beam's width but not over all
# side lobes: standard deviation over the length of `gaps` (engineering judgement).
MIRROR_PHASE_RAD = 1.6
_NO_SLOPE = 0.02  # of the squared slope, which is 1 along the normal
_DB = math.log(10) / 20  # exp(_DB · x) is the amplitude of x dB


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Medium:
    """What stays the same from frame to frame in forming the echoes."""

    grid: BeamGrid
    table: EchoTable
    scatterers: Scatterers
    loss_db_per_unit: float  # two-way loss, dB a coarse sample for 1 dB/cm/MHz
    mirror_span: int  # samples over which a border is spread
    mirror_gain: Array  # (sample, 1): so that a flat interface across the beam keeps its strength through the blur
    smooth_down: Array  # (depth, depth) matrices that average the direction of walls
    smooth_over: Array  # (line, line)
    reverberation: Reverberation


def box_matrix(n: int, half: int) -> np.ndarray[Any, np.dtype[np.float32]]:
    """Return the matrix that averages over 2·half + 1 neighbours."""
    apart = np.abs(np.arange(n)[:, None] - np.arange(n)[None, :])
    box = (apart <= half).astype(np.float32)
    return np.asarray(box / box.sum(axis=1, keepdims=True), np.float32)


def _take(xp: Any, table: Array, label: Array) -> Array:
    """Look up a table by label, any shape."""
    return xp.reshape(xp.take(table, xp.reshape(label, (-1,))), label.shape)


def _rows(xp: Any, grid: BeamGrid, coarse: Array) -> tuple[Array, Array]:
    """Return the coarse values above and below each fine sample."""
    return xp.take(coarse, grid.lower, axis=0), xp.take(coarse, grid.upper, axis=0)


def _between(xp: Any, grid: BeamGrid, coarse: Array) -> Array:
    """Carry coarse values to the fine samples, linearly along the lines."""
    above, below = _rows(xp, grid, coarse)
    return above + grid.share * (below - above)


def fine_labels(xp: Any, grid: BeamGrid, label: Array, edge_mm: Array) -> Array:
    """Return the tissue of each fine sample: borders lie where the distances of the two neighbours say."""
    above, below = _rows(xp, grid, label)
    edge_above, edge_below = _rows(xp, grid, edge_mm)
    return xp.where(grid.share * (edge_above + edge_below) < edge_above, above, below)


def _over_slice(xp: Any, grid: BeamGrid, label: Array, edge_mm: Array, side_label: Array, side_edge_mm: Array) -> Array:
    """Return the slope of the distance to the border from the image plane to a side plane."""

    def beside(values: Array) -> Array:
        return xp.take(xp.take(values, grid.side_row, axis=0), grid.side_col, axis=1)

    other = beside(side_edge_mm)
    apart = xp.where(beside(side_label) == label, other - edge_mm, other + edge_mm)
    return apart / grid.side_mm


def wall_across(
    xp: Any, medium: Medium, planes: tuple[Array, tuple[Array, Array]], edges_mm: tuple[Array, tuple[Array, Array]]
) -> tuple[Array, Array]:
    """Return cos² of the angle between beam and wall normal, in the image plane and in space; 0: wall along the beam.

    The distance to the border grows along the normal. Squares of its slopes are averaged over some samples, so that the
    two halves of a wall, whose slopes are opposite, agree.
    """
    grid = medium.grid
    label, sides = planes
    edge_mm, side_edges = edges_mm
    down = xp.where(label[1:, :] == label[:-1, :], edge_mm[1:, :] - edge_mm[:-1, :], 0.0) / grid.coarse_mm
    over = xp.where(label[:, 1:] == label[:, :-1], edge_mm[:, 1:] - edge_mm[:, :-1], 0.0) / grid.line_mm
    down = xp.concat([down, down[-1:, :]], axis=0) ** 2
    over = xp.concat([over, over[:, -1:]], axis=1) ** 2
    first, second = (
        _over_slice(xp, grid, label, edge_mm, side, edge) for side, edge in zip(sides, side_edges, strict=True)
    )
    through = 0.5 * xp.clip(first**2 + second**2, 0.0, 4.0)
    smooth = xp.matmul(xp.matmul(medium.smooth_down, xp.stack([down, over, through], axis=0)), medium.smooth_over)
    # no slope known nearby: as if across the beam, which changes nothing
    along = smooth[0, ...] + _NO_SLOPE
    in_plane = along + smooth[1, ...]
    return along / in_plane, along / (in_plane + smooth[2, ...])


def way_db(xp: Any, medium: Medium, label: Array, coarse_ratio: float = 1.0) -> Array:
    """Return the two-way loss down to the middle of each coarse sample, dB."""
    loss = _take(xp, medium.table.attenuation, label) * (medium.loss_db_per_unit * coarse_ratio)
    return xp.cumulative_sum(loss, axis=0) - 0.5 * loss


def _facing_part(xp: Any, medium: Medium, label: Array, facing: Array) -> Array:
    """Return the share of a border's amplitude that comes back from its slope; the rougher side of a border decides."""
    power = _take(xp, medium.table.mirror_power, label)
    power = xp.minimum(power, xp.concat([power[1:, :], power[-1:, :]], axis=0))
    return facing ** (0.5 * power)


def _entering_db(xp: Any, medium: Medium, label: Array, passed_db: Array) -> Array:
    """Return the two-way loss down to the upper end of each coarse sample: a border is not dimmed by what it bounds."""
    return passed_db - 0.5 * medium.loss_db_per_unit * _take(xp, medium.table.attenuation, label)


def _mirror(xp: Any, impedance: Array, span: int) -> Array:
    """Return the reflection coefficient between samples `span` apart, in the middle of them; ends have none."""
    step = (impedance[span:, :] - impedance[:-span, :]) / (impedance[span:, :] + impedance[:-span, :])
    before = xp.zeros_like(impedance[: (span + 1) // 2, :])
    after = xp.zeros_like(impedance[: span // 2, :])
    return xp.concat([before, xp.abs(step), after], axis=0)


def _side_power(xp: Any, medium: Medium, sides: tuple[Array, Array]) -> Array:
    """Return the power that both side planes scatter, on the fine grid."""
    grid, table = medium.grid, medium.table
    power = 0.0
    for label in sides:
        passed = xp.exp(way_db(xp, medium, label, grid.n_depths / grid.n_side_depths) * -_DB)
        power = power + (_take(xp, table.solid, label) * passed) ** 2
    return xp.matmul(xp.matmul(grid.side_down, power), grid.side_over)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Look:
    """One direction of compounding: another piece of the random field, and shadows that fall another way."""

    shift: int = 0  # in the random field
    lines: Array | None = None  # (line,) int32, whose way down each line takes; None: its own


STRAIGHT = Look()


def echoes(xp: Any, medium: Medium, sampled: Sampled, blood_shift: int, look: Look = STRAIGHT) -> tuple[Array, Array]:
    """Return real and imaginary part of the echoes of one frame, (sample, line).

    Parameters
    ----------
    sampled : Sampled
        Tissue at the points of the grid.
    blood_shift : int
        Piece of the random field that blood shows in this frame.
    look : Look
        Direction of compounding.
    """
    grid, table = medium.grid, medium.table
    planes, edges_mm = grid.split(xp.astype(sampled.tissue, xp.int32)), grid.split(sampled.edge_mm)
    (label, sides), (edge_mm, _) = planes, edges_mm
    x, y, z = (grid.split(part)[0] for part in sampled.material_mm)
    place = along_axes(medium.scatterers, (x, y, z))

    across, facing = wall_across(xp, medium, planes, edges_mm)
    slow = texture_at(
        xp, medium.scatterers, place, _take(xp, table.texture_along, label), _take(xp, table.texture_across, label)
    )
    passed_db = way_db(xp, medium, label)
    scatter_db = slow * _take(xp, table.texture_db, label) + (1 - across) * _take(xp, table.along_fibres_db, label)
    gaps = texture_at(xp, medium.scatterers, place, xp.full_like(across, 0.2), xp.full_like(across, 0.2), 5000)
    gaps_db = gaps * _take(xp, table.gaps_db, label)
    entering_db = _entering_db(xp, medium, label, passed_db)
    passed, entering = xp.exp(passed_db * -_DB), xp.exp(entering_db * -_DB)
    if look.lines is not None:
        passed, entering = xp.take(passed, look.lines, axis=1), xp.take(entering, look.lines, axis=1)
    scatter = _between(xp, grid, passed * xp.exp(scatter_db * _DB))
    upright = _facing_part(xp, medium, label, facing)
    shine = _between(xp, grid, entering * xp.exp(gaps_db * _DB) * upright)

    fine = fine_labels(xp, grid, label, edge_mm)
    mirror = _mirror(xp, _take(xp, table.impedance, fine), medium.mirror_span) * shine
    solid = _take(xp, table.solid, fine) * scatter
    fluid = _take(xp, table.fluid, fine) * _between(xp, grid, passed)
    solid = xp.sqrt(MIDDLE_WEIGHT * solid**2 + SIDE_WEIGHT * _side_power(xp, medium, sides))
    mirror = mirror * (MIRROR_GAIN * medium.mirror_gain)

    air = label == int(Tissue.LUNG)
    if bool(xp.any(air)):
        at_air = AtAir(air=air, edge_mm=edge_mm, unevenness=gaps, facing=facing, entering_db=entering_db)
        solid, fluid, mirror = behind_pleura(xp, medium.reverberation, at_air, (solid, fluid, mirror))

    cells = tuple(
        _between(xp, grid, part * scale) for part, scale in zip(place, medium.scatterers.cells_per_mm, strict=True)
    )
    index = cell_index(xp, cells)
    real, imag = look_up(xp, medium.scatterers, index, look.shift)
    flow_real, flow_imag = look_up(xp, medium.scatterers, index, (blood_shift + look.shift) % N_CELLS)
    phase = gaps * MIRROR_PHASE_RAD
    return (
        real * solid + flow_real * fluid + mirror * _between(xp, grid, xp.cos(phase)),
        imag * solid + flow_imag * fluid + mirror * _between(xp, grid, xp.sin(phase)),
    )
