"""The simulator's image former with its dearest part shared: the random field of speckle is drawn for few clips anew.

`image_former.make_former` draws and smooths a field for each clip, a third of the work of a short clip. Here a few
fields are kept; a clip takes one of them, turned as its own pose and scaled as its own blur asks, from a place of its
own. What is lost: how the grain widens with depth is that of another clip, which to a network is one more machine.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.pose import Pose
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.machine.beam_grid import BeamGrid, make_grid
from fanlight.simulate.machine.beams import LineGeometry
from fanlight.simulate.machine.convolve import along_blocks
from fanlight.simulate.machine.echo_field import MIRROR_MM, Look, Medium, box_matrix
from fanlight.simulate.machine.image_former import ImageFormer
from fanlight.simulate.machine.lung import Reverberation
from fanlight.simulate.machine.point_spread import PointSpread, echo_mhz, point_spread
from fanlight.simulate.machine.receive import make_receiver
from fanlight.simulate.machine.scatterers import N_CELLS, N_LEVELS, Scatterers, make_scatterers
from fanlight.simulate.machine.tissue_echo import EchoTable, echo_table

KEPT_FIELDS = 6  # of one worker
CLIPS_A_FIELD = 12  # after so many clips of the worker the oldest field is drawn anew
LOWEST_QUANTILE = 0.15  # as in `make_scatterers`: the width from which the fields grow


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Field:
    scatterers: Scatterers
    turn: NDArray[np.float64]  # (3, 3), of the field's axes against the probe's
    cells_per_width: tuple[float, float, float]  # along, across, over: cells in a width of the clip it was drawn for


def _widths_mm(spread: PointSpread) -> tuple[float, float, float]:
    """Return what the cells of a field are counted in: along the beam, across the lines, across the slice."""
    return (
        spread.scatter_axial_mm,
        float(np.quantile(spread.scatter_lateral_mm, LOWEST_QUANTILE)),
        float(np.min(spread.slice_mm)),
    )


def _probe_rows(pose: Pose) -> NDArray[np.float64]:
    return np.stack([pose.z, pose.x, pose.y])


class FieldBank:
    """Fields of speckle shared by the clips of one worker."""

    def __init__(self) -> None:
        self._fields: list[_Field] = []
        self._clips = 0

    def for_clip(self, spread: PointSpread, pose: Pose, rng: np.random.Generator) -> Scatterers:
        """Return a field for this blur and pose."""
        if len(self._fields) < KEPT_FIELDS or self._clips % CLIPS_A_FIELD == 0:
            self._fields = [*self._fields[-(KEPT_FIELDS - 1) :], _drawn(spread, pose, rng)]
        self._clips += 1
        field = self._fields[int(rng.integers(len(self._fields)))]
        across = spread.scatter_lateral_mm
        low = float(np.quantile(across, LOWEST_QUANTILE))
        steps = np.geomspace(low, max(float(across.max()), low * 1.01), N_LEVELS)
        level = np.argmin(np.abs(np.log(across[:, None] / steps[None, :])), axis=1)
        along, over, slab = (
            cells / width for cells, width in zip(field.cells_per_width, _widths_mm(spread), strict=True)
        )
        return replace(
            field.scatterers,
            axes=(field.turn @ _probe_rows(pose)).astype(np.float32),
            cells_per_mm=(along, over, slab),
            level_start=(level[:, None] * N_CELLS).astype(np.int32),
        )


def _drawn(spread: PointSpread, pose: Pose, rng: np.random.Generator) -> _Field:
    scatterers = make_scatterers(np, spread, pose, rng)
    along, over, slab = (
        per_mm * width for per_mm, width in zip(scatterers.cells_per_mm, _widths_mm(spread), strict=True)
    )
    turn = np.asarray(scatterers.axes, np.float64) @ _probe_rows(pose).T
    return _Field(scatterers=scatterers, turn=turn, cells_per_width=(along, over, slab))


def light_former(
    setting: ClipSetting, lines: LineGeometry, rng: np.random.Generator, table: EchoTable | None, bank: FieldBank
) -> ImageFormer:
    """Return what is fixed for a clip, as `make_former` does, with a field of the bank; looks are fanned no further."""
    probe, console = setting.probe, setting.console
    spread = point_spread(probe, console, lines)
    grid = make_grid(np, lines, spread.slice_mm)
    scatterers = bank.for_clip(spread, setting.pose, rng)
    return ImageFormer(
        xp=np,
        grid=grid,
        medium=_medium(grid, spread, setting, scatterers, table or echo_table(np), lines),
        blocks=along_blocks(np, spread),
        lateral=np.asarray(spread.lateral),
        receiver=make_receiver(np, probe, console, lines, spread, setting.contact, rng),
        looks=tuple(Look(shift=int(rng.integers(1, N_CELLS))) for _ in range(console.n_looks)),
    )


def _medium(
    grid: BeamGrid, spread: PointSpread, setting: ClipSetting, scatterers: Scatterers, table: EchoTable,
    lines: LineGeometry,
) -> Medium:  # fmt: skip
    span = max(1, round(MIRROR_MM / lines.sample_mm))
    gain = (1 / (spread.flat_gain * spread.layer_gain(span)))[:, None].astype(np.float32)
    depth = ((np.arange(lines.n_samples) + 0.5) * lines.sample_mm)[:, None].astype(np.float32)
    mhz = echo_mhz(setting.console)
    return Medium(
        grid=grid,
        table=table,
        scatterers=scatterers,
        loss_db_per_unit=2 * mhz * grid.coarse_mm / 10,
        mirror_span=span,
        mirror_gain=gain,
        smooth_down=box_matrix(grid.n_depths, 3),
        smooth_over=box_matrix(grid.n_lines, 2),
        reverberation=Reverberation(
            depth_coarse_mm=grid.coarse_depth_mm, depth_fine_mm=depth, sample_mm=lines.sample_mm,
            coarse_mm=grid.coarse_mm, frequency_mhz=mhz, mirror_span=span, mirror_gain=gain,
        ),
    )  # fmt: skip
