"""What a Doppler beam meets at one moment: how loud each of its places answers, and how fast what lies there moves."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import IntEnum
from typing import Any, Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.cycle_state import CycleState
from fanlight.heart.motion import Motion
from fanlight.heart.pose import Pose
from fanlight.heart.tissue import Tissue
from fanlight.simulate.machine.receive import TGC_DB_CM_MHZ
from fanlight.simulate.machine.scene import Scene
from fanlight.simulate.machine.tissue_echo import ECHOES, EchoTable, echo_table
from fanlight.simulate.spectral.spectral_beam import GATE_PLACES, BeamPlaces
from fanlight.simulate.spectral.spectral_hold import IS_LEAFLET, HeldBeam, Sliced, body_of
from fanlight.simulate.spectral.spectral_setting import SpectralSetting

Floats = NDArray[np.floating[Any]]


class MotionAt(Protocol):
    """How what lies at points moves."""

    def __call__(self, time_ms: float, x: Any, y: Any, z: Any, tissue: Any | None = None) -> Motion:
        """Return the motion at points of the patient frame (mm); `tissue` is what the moving scene says lies there."""


@runtime_checkable
class ManyBreaths(Protocol):
    """A scene's still part that can be asked for many moments of the breath at once."""

    def labels(self, breaths: Sequence[float], x: Any, y: Any, z: Any) -> NDArray[np.uint8]:
        """Return the tissue (moment, point) at points (point,)."""


# Blood of the tissue table, against heart muscle: a gate full of it has power 1.
BLOOD_DB = ECHOES[Tissue.LV_CAVITY].scatter_db
# A leaflet is a sheet that mirrors: it outshines muscle where the beam meets it (engineering judgement).
LEAFLET_DB = 12.0
NEAR_MM = 7.0  # from the gate: more than the way of a fast leaflet, 0.5 m/s, between two moments
AIR_DB = 60.0  # two-way loss at the pleura: nothing behind it is heard
# Places further apart in velocity belong to different flows (engineering judgement).
WIDEST_GAP_MM_S, WIDEST_GAP_SHARE = 30.0, 0.06
SOLID_ONE_OF = 3  # of the places on a line that lie in walls are heard, each as loud as so many (numerical)
# Blood on a line slower than this share of the wall filter's cut-off is left out: an octave below, it is 36 dB down.
LEFT_OUT = 0.5
# So are walls two octaves below, 72 dB down: each is some 31 dB louder than blood (a test tells what it costs).
WALLS_LEFT_OUT = 0.25
_BEYOND_MM_S = 1e9  # faster than anything: sorted last
MET_AT_ONCE = 32  # moments that are put together, so that what is worked out stays in a cache (numerical)
STILL_BREATH = 0.02  # of a full breath: the chest is asked for at steps of so much (engineering judgement)


TOWARDS, UNSTEADY, TRANSITS, LOUD = range(4)  # rows of `Met.courses`


class Matter(IntEnum):
    """Kinds of matter whose echoes behave differently in time."""

    SILENT = 0
    SOLID = 1
    FLUID = 2
    LEAFLET = 3


# arrays are compared with a member ten times as slowly
_SOLID, _FLUID, _LEAFLET = (np.uint8(kind) for kind in (Matter.SOLID, Matter.FLUID, Matter.LEAFLET))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Met:
    """What the places of a beam meet at one moment; all arrays are (place,)."""

    courses: Floats  # (4, place): rows TOWARDS, UNSTEADY, TRANSITS and LOUD, which the properties tell
    edges_hz: Floats  # how often in a second the border of what lies there could come all the way into a gate; 0: none
    matter: NDArray[np.uint8]
    leaflet_mm_s: float  # mean velocity of leaflets in the beam, away from the probe positive; nan: none
    leaflet_in_gate: bool
    leaflet_off_mm: float  # depth of leaflets near the gate, from its middle; nan: none, or there is no gate

    @property
    def towards_mm_s(self) -> Floats:
        """Velocity along the beam, positive towards the probe."""
        return np.asarray(self.courses[TOWARDS])

    @property
    def unsteady_mm_s(self) -> Floats:
        """Standard deviation about it."""
        return np.asarray(self.courses[UNSTEADY])

    @property
    def transits_hz(self) -> Floats:
        """How many scatterers pass one after the other in a second."""
        return np.asarray(self.courses[TRANSITS])

    @property
    def amplitude(self) -> Floats:
        """Of the echo; all places full of blood at the reference depth: powers add up to about 1."""
        return np.asarray(self.courses[LOUD])


class SpectralBody:
    """A scene and its motion, asked for at the places of a beam.

    Parameters
    ----------
    scene, motion
        Tissue at points, and how fast what lies there moves (patient frame).
    places : BeamPlaces
        Of the beam.
    setting : SpectralSetting
        Its frequency settles what is lost on the way; the depth of its gate, what the machine adds for it.
    state_at, pose_at
        The heart and the probe at any time in ms.
    span_ms : pair of floats, optional
        Nothing is asked for before or after, and the probe keeps still in it. If it is given, an animal's shape is
        held for some moments.
    """

    def __init__(
        self, scene: Scene, motion: MotionAt, places: BeamPlaces, setting: SpectralSetting,
        state_at: Callable[[float], CycleState], pose_at: Callable[[float], Pose], table: EchoTable | None = None,
        span_ms: tuple[float, float] | None = None,
    ) -> None:  # fmt: skip
        self._scene, self._motion, self._places, self._setting = scene, motion, places, setting
        self._state_at, self._pose_at = state_at, pose_at
        self._table = table or echo_table(np)
        self._matter = _matter_of(self._table)
        # of passages and borders
        self._per_mm2 = tuple((1 / mm.T**2).astype(np.float32) for mm in (places.transit_mm, places.edge_mm))
        self._loudness = (np.asarray(self._table.solid) + np.asarray(self._table.fluid)).astype(np.float32)
        self._pose: Pose | None = None
        self._points: tuple[Floats, Floats, Floats] | None = None
        self._still: dict[int, NDArray[np.uint8]] = {}
        self._held = self._hold(span_ms) if span_ms is not None else None

    def _hold(self, span_ms: tuple[float, float]) -> HeldBeam | None:
        """Return the beam with the animal's shape held, if it is an animal."""
        whose, pose = body_of(self._motion), self._pose_at(span_ms[0])
        if whose is None:
            return None
        return HeldBeam(
            *whose, self._points_at(pose), len(self._places.points_mm),
            lambda time_ms: self._sliced(self._state_at(time_ms), pose), lambda breaths: self._stills_at(breaths, pose),
            *span_ms,
        )  # fmt: skip

    def at(self, time_ms: float) -> Met:
        """Return what the beam meets at a time."""
        return self.at_all([time_ms])[0]

    def at_all(self, times_ms: Sequence[float]) -> list[Met]:
        """Return what the beam meets at some times, in their order: many together cost little more than a few."""
        n, pose = len(self._places.points_mm), self._pose_at(times_ms[0])
        if self._held is not None:
            found = self._held.at_all(times_ms)
            out = []
            for k in range(0, len(found), MET_AT_ONCE):
                some = found[k : k + MET_AT_ONCE]
                out += self._met(np.stack([sliced.seen for sliced, _ in some]), [motion for _, motion in some], pose)
            return out
        out = []
        for time_ms in times_ms:
            pose = self._pose_at(time_ms)
            sliced = self._sliced(self._state_at(time_ms), pose)
            x, y, z = (part[:n] for part in self._points_at(pose))
            motion = self._motion(time_ms, x, y, z, sliced.moving[:n])
            out += self._met(sliced.seen[None], [motion], pose)
        return out

    def _met(self, seen: NDArray[np.uint8], motions: Sequence[Motion], pose: Pose) -> list[Met]:
        """Return what the beam meets at moments from labels (moment, point) and the motion at its places."""
        places, n = self._places, len(self._places.points_mm)
        own, way = seen[:, :n], seen[:, n:]
        velocity = np.stack([np.stack(m.velocity_mm_s) for m in motions], axis=1).astype(np.float32, copy=False)
        # across, through the slice, away from the probe: (3, moment, place)
        axes = (places.axes @ pose.axes.T).astype(np.float32)
        along = (axes @ velocity.reshape(3, -1)).reshape(velocity.shape)
        away, squares = along[2], along**2
        unsteady = np.stack([m.unsteady_mm_s for m in motions]).astype(np.float32, copy=False)
        stirred, (passages, borders) = unsteady**2, self._per_mm2
        rate = np.sqrt(sum((squares[i] + stirred) * passages[i] for i in range(3)))
        # along a whole line a leaflet stays heard wherever it goes
        edges = np.sqrt(sum(squares[i] * borders[i] for i in range(3))) if self._setting.is_gated else 0 * rate
        matter = self._matter[own]
        fluid, leaflet = matter == _FLUID, matter == _LEAFLET
        unsteady = np.sqrt(stirred + _between_places(-away, fluid) ** 2)  # `np.hypot` takes several times as long
        loudness = self._loudness[own]
        if not self._setting.is_gated:
            loudness = loudness * _of_solid(matter)
            of_cut_off = (np.abs(away) + 4 * unsteady) / (10 * self._setting.wall_filter_cm_s)
            slow = (fluid & (of_cut_off < LEFT_OUT)) | ((matter == _SOLID) & (of_cut_off < WALLS_LEFT_OUT))
            loudness = np.where(slow, np.float32(0), loudness)
        loudness = np.where(leaflet, loudness * np.float32(10 ** (LEAFLET_DB / 20)), loudness)
        loss = (10 ** ((-BLOOD_DB - self._way_db(way)) / 20)).astype(np.float32)
        amplitude = loudness * np.sqrt(places.power).astype(np.float32) * loss[:, places.way_row]
        shown, courses = leaflet.any(axis=1), np.stack([-away, unsteady, rate, amplitude], axis=1).astype(np.float64)
        in_gate = leaflet[:, :GATE_PLACES].any(axis=1) & self._setting.is_gated
        off_mm = self._leaflets_off_mm(way)
        return [
            Met(
                courses=courses[k],
                edges_hz=edges[k],
                matter=matter[k],
                leaflet_mm_s=float(away[k, leaflet[k]].mean()) if shown[k] else math.nan,
                leaflet_in_gate=bool(in_gate[k]),
                leaflet_off_mm=off_mm[k],
            )
            for k in range(len(seen))
        ]

    def _leaflets_off_mm(self, way: NDArray[np.uint8]) -> list[float]:
        """Return how far below the gate leaflets lie on the cursor (moment, point), in the mean of those near it."""
        setting = self._setting
        if not setting.is_gated:
            return [math.nan] * len(way)
        off = (np.arange(way.shape[1]) + 0.5) * self._places.way_step_mm - setting.gate_depth_mm
        there = (self._matter[way] == _LEAFLET) & (np.abs(off) < setting.gate_mm / 2 + NEAR_MM)
        shown = there.any(axis=1).tolist()
        return [float(off[row].mean()) if any_of_it else math.nan for row, any_of_it in zip(there, shown, strict=True)]

    def _points_at(self, pose: Pose) -> tuple[Floats, Floats, Floats]:
        """Return places and way in the patient frame."""
        if pose is not self._pose or self._points is None:
            at = pose.to_patient(np.concatenate([self._places.points_mm, self._places.way_mm])).astype(np.float32)
            self._points, self._pose, self._still = (at[:, 0].copy(), at[:, 1].copy(), at[:, 2].copy()), pose, {}
        return self._points

    def _sliced(self, state: CycleState, pose: Pose) -> Sliced:
        """Return what lies at places and way."""
        moving, still = self._scene.moving(state, *self._points_at(pose)), self._stills_at([state.breath], pose)
        tissue = np.asarray(moving.tissue)
        seen = tissue if still is None else np.where(tissue != 0, tissue, still[0])
        return Sliced(moving=tissue, seen=seen, edge_mm=np.asarray(moving.edge_mm))

    def _stills_at(self, breaths: Sequence[float], pose: Pose) -> NDArray[np.uint8] | None:
        """Return the chest (moment, point): it is remembered for each step of the breath, which comes and goes."""
        points, still = self._points_at(pose), self._scene.still
        if still is None:
            return None
        steps = [round(breath / STILL_BREATH) for breath in breaths]
        new = [step for step in dict.fromkeys(steps) if step not in self._still]
        asked = [step * STILL_BREATH for step in new]
        if isinstance(still, ManyBreaths) and len(new) > 1:
            self._still.update(zip(new, still.labels(asked, *points), strict=True))
        else:
            self._still.update(zip(new, (np.asarray(still(breath, *points).tissue) for breath in asked), strict=True))
        return np.stack([self._still[step] for step in steps])

    def _way_db(self, label: NDArray[np.uint8]) -> Floats:
        """Return what is lost on the way (moment, point) down and back to each point, less what the machine adds."""
        mhz = self._setting.frequency_mhz
        loss = 2 * np.asarray(self._table.attenuation)[label] * mhz * self._places.way_step_mm / 10
        air = np.cumsum(label == int(Tissue.LUNG), axis=-1) > 0
        added = 2 * TGC_DB_CM_MHZ * mhz * self._setting.gate_depth_mm / 10
        return np.asarray(np.cumsum(loss, axis=-1) - 0.5 * loss + AIR_DB * air - added)


def _of_solid(matter: NDArray[np.uint8]) -> Floats:
    """Return by how much the amplitude of each place of a line counts: walls need fewer places than narrow jets."""
    every = np.arange(matter.shape[-1]) % SOLID_ONE_OF == 0
    of_solid = np.where(every, np.float32(math.sqrt(SOLID_ONE_OF)), np.float32(0))
    return np.where(matter == _SOLID, of_solid, np.float32(1))


def _between_places(towards_mm_s: Floats, fluid: NDArray[np.bool_]) -> Floats:
    """Return the spread that stands for blood between the places: half of the gap to the next faster and slower ones.

    Places are few and keep still, so that sheared flow would fall into lines. The fastest and the slowest place spread
    nothing: the envelope stays where it is.
    """
    out = np.zeros_like(towards_mm_s)
    order = np.argsort(np.where(fluid, towards_mm_s, np.float32(_BEYOND_MM_S)), axis=1)  # blood first
    n = fluid.sum(axis=1)
    widest = max(int(n.max(initial=0)), 2)
    at = order[:, :widest]
    sorted_mm_s = np.take_along_axis(towards_mm_s, at, axis=1)
    apart = (sorted_mm_s[:, 2:] - sorted_mm_s[:, :-2]) / 2
    spread = np.minimum(0.5 * apart, np.maximum(WIDEST_GAP_MM_S, WIDEST_GAP_SHARE * np.abs(sorted_mm_s[:, 1:-1])))
    spread[np.arange(1, widest - 1) >= n[:, None] - 1] = 0
    np.put_along_axis(out, at[:, 1:-1], spread, axis=1)
    return out


def _matter_of(table: EchoTable) -> NDArray[np.uint8]:
    """Return the kind of matter of each label."""
    kinds = np.full(len(np.asarray(table.solid)), Matter.SILENT, np.uint8)
    kinds[np.asarray(table.solid) > 0] = Matter.SOLID
    kinds[np.asarray(table.fluid) > 0] = Matter.FLUID
    kinds[IS_LEAFLET] = Matter.LEAFLET
    return kinds
