"""The 2-D picture: from an animal, a probe's pose and the console's settings to grey levels along the lines.

Order of the machine: sample the anatomy, form echoes, blur them by pulse and beam, receive, compress. What is fixed for
a clip (blur, scatterers, clutter) is made once; the frames then cost some milliseconds each.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import array_api_compat.numpy
import numpy as np

from fanlight.heart.cycle_state import CycleState
from fanlight.heart.pose import Pose
from fanlight.heart.sampled import Sampled
from fanlight.simulate.beam_grid import BeamGrid, make_grid, over_still, patient_points
from fanlight.simulate.beams import Beams, line_geometry
from fanlight.simulate.console import Console
from fanlight.simulate.contact import FULL_CONTACT, Contact
from fanlight.simulate.convolve import along_blocks, blur_across, blur_along
from fanlight.simulate.echo_field import Medium, box_matrix, echoes
from fanlight.simulate.lung import CHEST_WALL_DB_CM_MHZ, Reverberation
from fanlight.simulate.point_spread import PointSpread, echo_mhz, point_spread
from fanlight.simulate.probe import ArrayKind, Probe
from fanlight.simulate.receive import levels, make_receiver, quantise, receive
from fanlight.simulate.scatterers import N_CELLS, make_scatterers
from fanlight.simulate.scene import Scene
from fanlight.simulate.tissue_echo import EchoTable, echo_table

Array = Any

FRAMES_AT_ONCE = 8  # blurred together: enough for the matrices to stay in the cache (measured)
STILL_BREATH = 0.02  # the chest is sampled anew when the breath has changed by so much: a tenth of a millimetre or two


def render(
    scene: Scene,
    pose: Pose | Callable[[float], Pose],
    probe: Probe,
    console: Console,
    states: Sequence[CycleState],
    rng: np.random.Generator,
    *,
    contact: Contact = FULL_CONTACT,
    table: EchoTable | None = None,
    xp: Any = array_api_compat.numpy,
) -> Beams:
    """Return the picture of each state.

    Parameters
    ----------
    scene : Scene
        What lies before the probe.
    pose : Pose or function of time in ms
        Where the probe stands.
    probe, console : Probe, Console
        The machine and its settings.
    states : sequence of CycleState
        One a frame; the times are theirs.
    rng : Generator
        Draws scatterers, clutter and noise. The same seed yields the same clip.
    contact : Contact
        How the face touches the skin.
    table : EchoTable, optional
        Other tissues than those of `tissue_echo`, for phantoms.
    xp : array namespace
        NumPy, or another library of the array API standard; the scene must answer in its arrays.

    Returns
    -------
    Beams
        Grey levels (frame, depth, line), uint8.

    Raises
    ------
    ValueError
        If there are no states.
    """
    if not states:
        raise ValueError("a clip needs at least one state of the heart, got none")
    pose_at = pose if callable(pose) else _fixed(pose)
    lines = line_geometry(probe, console)
    spread = point_spread(_touching(probe, contact), console)
    grid = make_grid(xp, lines, spread.slice_mm)
    medium = _medium(xp, grid, spread, console, pose_at(states[0].time_ms), rng, table or echo_table(xp), lines)
    blocks = along_blocks(xp, spread)
    lateral = xp.asarray(spread.lateral)
    receiver = make_receiver(xp, probe, console, lines, spread, contact, rng)
    looks = [0, *(int(rng.integers(N_CELLS // 8, N_CELLS)) for _ in range(console.n_looks - 1))]
    store_rows = receiver.noise.shape[1] - lines.n_samples

    out: list[Array] = []
    kept: Array | None = None
    still = _StillView(scene, grid, xp)
    for start in range(0, len(states), FRAMES_AT_ONCE):
        batch = states[start : start + FRAMES_AT_ONCE]
        parts: list[Array] = []
        for state in batch:
            sampled = still.seen(state, pose_at(state.time_ms))
            blood = int(rng.integers(1, N_CELLS))
            for look in looks:
                parts.extend(echoes(xp, medium, sampled, (blood + look) % N_CELLS, look))
        blurred = blur_across(xp, lateral, blur_along(xp, blocks, xp.stack(parts, axis=0)))
        for k in range(len(batch)):
            seen: list[Array] = []
            for look in range(len(looks)):
                at = 2 * (k * len(looks) + look)
                place = (int(rng.integers(0, store_rows)), int(rng.integers(0, lines.n_lines)))
                seen.append(receive(xp, receiver, blurred[at : at + 2, ...], place))
            grey = levels(xp, receiver, sum(seen[1:], seen[0]) / len(looks))
            if kept is not None and console.persistence_fraction:
                grey = kept * console.persistence_fraction + grey * (1 - console.persistence_fraction)
            kept = grey
            out.append(quantise(xp, grey))
    return Beams(
        levels=xp.stack(out, axis=0),
        geometry=lines,
        times_ms=tuple(state.time_ms for state in states),
        frame_rate_hz=console.frame_rate_hz,
    )


def _fixed(pose: Pose) -> Callable[[float], Pose]:
    return lambda _: pose


def _touching(probe: Probe, contact: Contact) -> Probe:
    """Return the probe with the part of its aperture that works: a phased array fires with all of it for each line."""
    if probe.kind is ArrayKind.CURVED or contact.lifted_fraction == 0:
        return probe
    return replace(probe, aperture_mm=probe.aperture_mm * max(1 - contact.lifted_fraction, 0.2))


def _medium(
    xp: Any, grid: BeamGrid, spread: PointSpread, console: Console, pose: Pose, rng: np.random.Generator,
    table: EchoTable, lines: Any,
) -> Medium:  # fmt: skip
    mirror = 1 / (spread.flat_gain * spread.line_gain)
    gain = xp.asarray(mirror[:, None].astype(np.float32))
    fine = ((np.arange(lines.n_samples) + 0.5) * lines.sample_mm)[:, None].astype(np.float32)
    return Medium(
        grid=grid,
        table=table,
        scatterers=make_scatterers(xp, spread, pose, rng),
        loss_db_per_unit=2 * echo_mhz(console) * grid.coarse_mm / 10,
        mirror_gain=gain,
        smooth_down=xp.asarray(box_matrix(grid.n_depths, 3)),
        smooth_over=xp.asarray(box_matrix(grid.n_lines, 2)),
        reverberation=Reverberation(
            depth_coarse_mm=grid.coarse_depth_mm,
            depth_fine_mm=xp.asarray(fine),
            sample_mm=lines.sample_mm,
            loss_db_per_mm=2 * CHEST_WALL_DB_CM_MHZ * echo_mhz(console) / 10,
            mirror_gain=gain,
        ),
        n_looks=console.n_looks,
        depth_fine_mm=xp.asarray(fine),
    )


class _StillView:
    """Keeps the chest as it was last sampled, while probe and breath keep still."""

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
