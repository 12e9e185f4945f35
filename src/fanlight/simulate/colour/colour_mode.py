"""Colour Doppler: from what moves before the probe, the probe's pose and the settings to a clip of grey and colour."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.cycle_state import CycleState
from fanlight.heart.motion import Motion
from fanlight.heart.pose import Pose
from fanlight.heart.sampled import Sampled
from fanlight.simulate.colour.colour_beams import ColourBeams
from fanlight.simulate.colour.colour_estimate import (
    THRESHOLD_DB,
    Estimate,
    correlate,
    cut_off_m_s,
    decibels,
    normalised,
    persisted,
    without_tissue,
)
from fanlight.simulate.colour.colour_former import ColourFormer, make_colour_former, packet_rows
from fanlight.simulate.colour.colour_packets import packet
from fanlight.simulate.colour.colour_setting import ColourSetting, check_box, colour_frame_rate_hz
from fanlight.simulate.machine.b_mode import render
from fanlight.simulate.machine.beam_grid import patient_points
from fanlight.simulate.machine.console import Console
from fanlight.simulate.machine.contact import FULL_CONTACT, Contact
from fanlight.simulate.machine.image_former import AnatomyView
from fanlight.simulate.machine.probe import Probe
from fanlight.simulate.machine.scene import Scene
from fanlight.simulate.machine.tissue_echo import EchoTable

Array = Any
# The machine's depth gain holds back so much at the face, nothing at the far end of the box: specks come from below
# (engineering judgement).
NEAR_DB = 4.0
_DRIFT_MS = 1.0  # over which the speed of the hand is told


class Moves(Protocol):
    """Velocity of whatever lies at points: blood flows, tissue beats. `heart.moving_body` makes one from an animal."""

    def __call__(self, time_ms: float, x: Array, y: Array, z: Array, tissue: Array | None = None) -> Motion:
        """Return the motion at points of the patient frame, mm.

        `tissue` is what the scene's moving part says of the points (OUTSIDE where it has nothing), so that it need not
        be asked for twice.
        """
        ...


def render_colour(
    scene: Scene,
    motion: Moves,
    pose: Pose | Callable[[float], Pose],
    probe: Probe,
    console: Console,
    setting: ColourSetting,
    states: Sequence[CycleState],
    rng: np.random.Generator,
    *,
    contact: Contact = FULL_CONTACT,
    table: EchoTable | None = None,
) -> ColourBeams:
    """Return the colour clip of these moments, with its grey picture.

    Parameters
    ----------
    scene : Scene
        What lies before the probe.
    motion : Moves
        How whatever lies there moves.
    pose : Pose or function of time in ms
        Where the probe stands; where it moves, everything moves before it.
    probe, console, setting
        The machine: what it sends, the grey picture, colour.
    states : sequence of CycleState
        One a frame; `colour_frame_rate_hz` says how many a second the machine can make.
    rng : Generator
        Draws scatterers, blood and noise. The same seed yields the same clip.
    contact : Contact
        How the face touches the skin.
    table : EchoTable, optional
        Other tissues, for phantoms.

    Raises
    ------
    ValueError
        If there are no states, or the box does not lie inside the picture.
    """
    check_box(probe, console, setting)
    grey = render(scene, pose, probe, console, states, rng, contact=contact, table=table)
    pose_at = pose if callable(pose) else None
    start = pose_at(states[0].time_ms) if pose_at else pose
    assert isinstance(start, Pose)
    former = make_colour_former(probe, console, setting, start, contact, rng, table)
    view = _MovingView(scene, former, motion, pose_at, start)
    shown = persisted([view.estimate(state, rng) for state in states], setting.persistence_fraction)
    rows = slice(former.box_row, None)
    depth_mm = former.geometry.depths_mm[:, None]
    near_db = np.asarray(NEAR_DB * (1 - depth_mm / setting.box.far_mm), np.float32)
    return ColourBeams(
        correlation=np.stack([item.correlation[rows] for item in shown]),
        power_db=np.stack([item.power_db[rows] - near_db for item in shown]),
        geometry=former.geometry,
        setting=setting,
        threshold_db=THRESHOLD_DB - setting.gain_db,
        grey=replace(grey, frame_rate_hz=colour_frame_rate_hz(console, setting)),
    )


class _Recorded:
    """The moving part of a scene, which remembers what it last said."""

    def __init__(self, scene: Scene) -> None:
        self._scene = scene
        self.tissue: Array = None

    def __call__(self, state: CycleState, x: Array, y: Array, z: Array) -> Sampled:
        sampled = self._scene.moving(state, x, y, z)
        self.tissue = sampled.tissue
        return sampled


class _MovingView:
    """Looks at a scene and its motion through the lines of a box."""

    def __init__(
        self,
        scene: Scene,
        former: ColourFormer,
        motion: Moves,
        pose_at: Callable[[float], Pose] | None,
        start: Pose,
    ) -> None:
        self._former, self._motion, self._pose_at, self._start = former, motion, pose_at, start
        self._recorded = _Recorded(scene)
        self._view = AnatomyView(Scene(moving=self._recorded, still=scene.still), former.grid, np)
        self._pose: Pose | None = None
        self._points: tuple[Array, Array, Array] = ()  # type: ignore[assignment]

    def estimate(self, state: CycleState, rng: np.random.Generator) -> Estimate:
        """Return what is seen at this moment, (row, line)."""
        former, setting = self._former, self._former.setting
        pose = self._pose_at(state.time_ms) if self._pose_at else self._start
        sampled = self._view.seen(state, pose)
        if pose is not self._pose:
            x, y, z = (packet_rows(former, part) for part in patient_points(np, former.grid, pose))
            self._points = (np.ascontiguousarray(x), np.ascontiguousarray(y), np.ascontiguousarray(z))
            self._pose = pose
        moves = self._motion(state.time_ms, *self._points, packet_rows(former, self._recorded.tissue))
        echo = packet(former, sampled, moves, pose, rng, self._drift(state.time_ms, pose))
        lag, power, whole = correlate(echo, setting.wall_filter_order, setting.smoothing)
        correlation, power_db = normalised(lag, power), decibels(power)
        if setting.suppresses_tissue:
            cut_off = cut_off_m_s(setting.ensemble, setting.wall_filter_order, 1.0)
            power_db = without_tissue(correlation, power_db, decibels(whole), former.muscle_db, cut_off)
        return Estimate(correlation=correlation, power_db=power_db)

    def _drift(self, time_ms: float, pose: Pose) -> NDArray[np.float32] | None:
        """Return how fast the points of the picture run through the patient, or None where the hand is still."""
        later = self._pose_at(time_ms + _DRIFT_MS) if self._pose_at else pose
        if later is pose:
            return None
        moved = [packet_rows(self._former, part) for part in patient_points(np, self._former.grid, later)]
        apart = [new - old for new, old in zip(moved, self._points, strict=True)]
        return np.asarray(np.stack(apart, axis=-1) * (1000.0 / _DRIFT_MS), np.float32)
