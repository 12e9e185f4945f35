"""The machine put together for one clip: what is fixed is made once, then anatomy goes in and amplitudes come out.

The same seed, probe, console and pose give the same scatterers, so a 2-D picture and an M-mode of the same place show
the same speckle.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from fanlight.heart.cycle_state import CycleState
from fanlight.heart.pose import Pose
from fanlight.heart.sampled import Sampled
from fanlight.simulate.machine.beam_grid import BeamGrid, make_grid, over_still, patient_points
from fanlight.simulate.machine.beams import LineGeometry
from fanlight.simulate.machine.console import Console
from fanlight.simulate.machine.contact import Contact
from fanlight.simulate.machine.convolve import along_blocks, blur_across, blur_along
from fanlight.simulate.machine.echo_field import MIRROR_MM, STRAIGHT, Look, Medium, box_matrix, echoes
from fanlight.simulate.machine.lung import Reverberation
from fanlight.simulate.machine.point_spread import PointSpread, echo_mhz, point_spread
from fanlight.simulate.machine.probe import ArrayKind, Probe
from fanlight.simulate.machine.receive import Receiver, make_receiver, receive
from fanlight.simulate.machine.scatterers import N_CELLS, make_scatterers
from fanlight.simulate.machine.scene import Scene
from fanlight.simulate.machine.tissue_echo import EchoTable, echo_table

Array = Any

STILL_BREATH = 0.02  # the chest is sampled anew when the breath has changed by so much: a tenth of a millimetre or two
# Between neighbouring looks: a shadow of something near the face moves aside by about this (engineering judgement).
LOOK_STEP_DEG = 3.0
_LEAST_APERTURE = 0.2  # of a phased array that still makes a line, however much of the face has lifted


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ImageFormer:
    """All fixed arrays of one clip."""

    xp: Any
    grid: BeamGrid
    medium: Medium
    blocks: Any  # see convolve.along_blocks
    lateral: Array  # (zone, line, line)
    receiver: Receiver
    looks: tuple[Look, ...]


def make_former(
    xp: Any, probe: Probe, console: Console, lines: LineGeometry, pose: Pose, contact: Contact,
    rng: np.random.Generator, table: EchoTable | None,
) -> ImageFormer:  # fmt: skip
    """Make what is fixed for a clip; `pose` says how the grain of the scatterers lies."""
    spread = point_spread(_touching(probe, contact), console, lines)
    grid = make_grid(xp, lines, spread.slice_mm)
    return ImageFormer(
        xp=xp,
        grid=grid,
        medium=_medium(xp, grid, spread, console, pose, rng, table or echo_table(xp), lines),
        blocks=along_blocks(xp, spread),
        lateral=xp.asarray(spread.lateral),
        receiver=make_receiver(xp, probe, console, lines, spread, contact, rng),
        looks=_looks(xp, lines, console.n_looks, rng),
    )


def amplitudes(former: ImageFormer, seen: Sequence[Sampled], rng: np.random.Generator) -> list[Array]:
    """Return the detected amplitude (sample, line) of each sampled moment; looks are averaged."""
    xp, looks = former.xp, former.looks
    parts: list[Array] = []
    for sampled in seen:
        blood = int(rng.integers(1, N_CELLS))
        for look in looks:
            parts.extend(echoes(xp, former.medium, sampled, blood, look))
    blurred = blur_across(xp, former.lateral, blur_along(xp, former.blocks, xp.stack(parts, axis=0)))
    rows = former.receiver.noise.shape[1] - blurred.shape[1]
    out: list[Array] = []
    for k in range(len(seen)):
        heard: list[Array] = []
        for which in range(len(looks)):
            at = 2 * (k * len(looks) + which)
            noise_at = (int(rng.integers(0, rows)), int(rng.integers(0, blurred.shape[2])))
            heard.append(receive(xp, former.receiver, blurred[at : at + 2, ...], noise_at))
        out.append(sum(heard[1:], heard[0]) / len(looks))
    return out


class AnatomyView:
    """Samples a scene at the points of a grid, and keeps the chest while probe and breath keep still."""

    def __init__(self, scene: Scene, grid: BeamGrid, xp: Any) -> None:
        self._scene, self._grid, self._xp = scene, grid, xp
        self._pose: Pose | None = None
        self._breath = 0.0
        self._points: tuple[Array, Array, Array] | None = None
        self._still: Sampled | None = None

    def seen(self, state: CycleState, pose: Pose) -> Sampled:
        """Return the tissue at the grid's points at this moment."""
        moved = self._pose is not pose
        if moved or self._points is None:
            self._points = patient_points(self._xp, self._grid, pose)
        if self._scene.still is not None and (moved or abs(state.breath - self._breath) > STILL_BREATH):
            self._still = self._scene.still(state.breath, *self._points)
            self._breath = state.breath
        self._pose = pose
        return over_still(self._xp, self._scene.moving(state, *self._points), self._still)


def _looks(xp: Any, lines: LineGeometry, n: int, rng: np.random.Generator) -> tuple[Look, ...]:
    """Return the directions of compounding, fanned about the straight one."""
    if n == 1:
        return (STRAIGHT,)
    out = []
    for k in range(n):
        aside = round(math.radians(LOOK_STEP_DEG * (k - (n - 1) / 2)) / lines.line_rad)
        way = np.clip(np.arange(lines.n_lines) + aside, 0, lines.n_lines - 1).astype(np.int32)
        out.append(Look(shift=int(rng.integers(1, N_CELLS)), lines=xp.asarray(way)))
    return tuple(out)


def _touching(probe: Probe, contact: Contact) -> Probe:
    """Return the probe with the part of its aperture that works: a phased array fires with all of it for each line."""
    if probe.kind is ArrayKind.CURVED or contact.lifted_fraction == 0:
        return probe
    return replace(probe, aperture_mm=probe.aperture_mm * max(1 - contact.lifted_fraction, _LEAST_APERTURE))


def _medium(
    xp: Any, grid: BeamGrid, spread: PointSpread, console: Console, pose: Pose, rng: np.random.Generator,
    table: EchoTable, lines: LineGeometry,
) -> Medium:  # fmt: skip
    span = max(1, round(MIRROR_MM / lines.sample_mm))
    mirror = 1 / (spread.flat_gain * spread.layer_gain(span))
    gain = xp.asarray(mirror[:, None].astype(np.float32))
    fine = ((np.arange(lines.n_samples) + 0.5) * lines.sample_mm)[:, None].astype(np.float32)
    return Medium(
        grid=grid,
        table=table,
        scatterers=make_scatterers(xp, spread, pose, rng),
        loss_db_per_unit=2 * echo_mhz(console) * grid.coarse_mm / 10,
        mirror_span=span,
        mirror_gain=gain,
        smooth_down=xp.asarray(box_matrix(grid.n_depths, 3)),
        smooth_over=xp.asarray(box_matrix(grid.n_lines, 2)),
        reverberation=Reverberation(
            depth_coarse_mm=grid.coarse_depth_mm,
            depth_fine_mm=xp.asarray(fine),
            sample_mm=lines.sample_mm,
            coarse_mm=grid.coarse_mm,
            frequency_mhz=echo_mhz(console),
            mirror_span=span,
            mirror_gain=gain,
        ),
    )
