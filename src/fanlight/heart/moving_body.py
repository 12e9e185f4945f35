"""How fast everything in an animal moves at a moment: blood that flows, muscle and leaflets that beat, the breath."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import array_api_compat

from fanlight.heart.anatomy import Anatomy
from fanlight.heart.animal import Animal
from fanlight.heart.blood.blood_velocity import blood_velocity
from fanlight.heart.blood.circulation import Circulation
from fanlight.heart.blood.flow_now import flow_now
from fanlight.heart.blood.flow_rates import FlowTable, flow_table
from fanlight.heart.cycle import state_at
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.layout import layout
from fanlight.heart.left_ventricle import base_motion
from fanlight.heart.motion import Motion
from fanlight.heart.rhythm import Beat
from fanlight.heart.sample_heart import sample_heart
from fanlight.heart.thorax import heart_shift_mm
from fanlight.heart.tissue import BLOOD, Tissue
from fanlight.heart.triple import Triple
from fanlight.heart.wall_motion import carried_velocity, wall_velocity
from fanlight.heart.warp import undone

Array = Any  # an array of the array API standard

STEP_MS = 2.0  # over which motion of tissue is taken


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MovingBody:
    """An animal in one recording. Call it for the motion at points; make it with `moving_body`."""

    animal: Animal
    circulation: Circulation
    beats: Sequence[Beat]
    start_ms: float  # of the recording in the animal's rhythm
    flows: FlowTable

    def __call__(self, time_ms: float, x: Array, y: Array, z: Array, tissue: Array | None = None) -> Motion:
        """Return how what lies at points moves.

        Parameters
        ----------
        time_ms : float
            From the start of the recording.
        x, y, z : array
            Points of the patient frame, mm, of one shape.
        tissue : array, optional
            What lies there (labels), if it is known already: finding out takes most of the time.

        Returns
        -------
        Motion
            The chest keeps still. A free deformation of the heart (ring C) carries the flow along and does not turn it.
        """
        xp = array_api_compat.array_namespace(x, y, z)
        moment = self.moment(time_ms)
        flat = moment.in_heart(x, y, z, xp)
        anatomy = self.animal.anatomy
        label = sample_heart(anatomy, moment.state, *flat).tissue if tissue is None else xp.reshape(tissue, (-1,))
        if anatomy.warp is not None:
            flat = list(undone(anatomy.warp, *flat))
        now = layout(anatomy, moment.state)
        a, b, c = anatomy.frame.coordinates(*flat)
        p = (now.motion.to_rest(a, xp), b, c)
        is_blood = _is_any(label, BLOOD)
        in_heart = label != int(Tissue.OUTSIDE)
        if bool(xp.any(in_heart & ~is_blood)):
            wall = wall_velocity(now, layout(anatomy, moment.later), moment.step_s, p, label, xp)
        else:
            wall = tuple(xp.zeros_like(a) for _ in range(3))
        flow = flow_now(self.flows, moment.at_ms)
        blood, unsteady = blood_velocity(now, self.circulation, flow, p, label, xp)
        own = [xp.where(is_blood, blood[i], wall[i]) for i in range(3)]
        moved = moment.in_patient(own, a, p[0], in_heart, xp)
        moved = [xp.reshape(v, x.shape) for v in moved]
        return Motion(
            velocity_mm_s=(moved[0], moved[1], moved[2]),
            unsteady_mm_s=xp.reshape(xp.where(is_blood, unsteady, xp.zeros_like(unsteady)), x.shape),
        )

    def moment(self, time_ms: float) -> Moment:
        """Return a time of the recording, with the moment after it that tells how tissue moves."""
        animal, at = self.animal, self.start_ms + time_ms
        step_ms = STEP_MS if at + STEP_MS <= self.beats[-1].end_ms else -STEP_MS
        state, later = (state_at(animal.rhythm, self.beats, t) for t in (at, at + step_ms))
        shift, later_shift = (heart_shift_mm(animal.thorax, s.breath).tolist() for s in (state, later))
        return Moment(
            anatomy=animal.anatomy, at_ms=at, step_s=step_ms / 1000.0, state=state, later=later,
            shift_mm=tuple(shift),
            breath_mm_s=tuple((later_shift[i] - shift[i]) / (step_ms / 1000.0) for i in range(3)),
        )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Moment:
    """A heart at a time, and a little later."""

    anatomy: Anatomy
    at_ms: float  # in the animal's rhythm
    step_s: float
    state: CycleState
    later: CycleState
    shift_mm: Triple  # of the heart, by the breath
    breath_mm_s: Triple

    def in_heart(self, x: Array, y: Array, z: Array, xp: Any) -> list[Array]:
        """Return points as a row, where the heart would have them without the breath."""
        return [
            xp.reshape(xp.astype(v, xp.float32, copy=False), (-1,)) - self.shift_mm[i] for i, v in enumerate((x, y, z))
        ]

    def in_patient(self, own: Any, a: Array, rest: Array, in_heart: Array, xp: Any) -> list[Array]:
        """Return velocities of the patient frame: to `own`, three arrays, come that of the base and the breath."""
        carried = carried_velocity(base_motion(self.anatomy, self.later), self.step_s, a, rest, xp)
        # Flow is what passes openings that move themselves: to its speed comes that of the base, which everything has.
        first, frame = own[0] + carried, self.anatomy.frame
        moved = []
        for i in range(3):
            turned = first * frame.long[i] + own[1] * frame.front[i] + own[2] * frame.depth[i]
            moved.append(xp.where(in_heart, turned + self.breath_mm_s[i], xp.zeros_like(turned)))
        return moved


def _is_any(label: Array, kinds: frozenset[Tissue]) -> Array:
    found = label == -1
    for kind in kinds:
        found = found | (label == int(kind))
    return found


def moving_body(
    animal: Animal, circulation: Circulation, beats: Sequence[Beat], *, start_ms: float, duration_ms: float
) -> MovingBody:
    """Return an animal ready to be asked for motion during a recording.

    Parameters
    ----------
    animal : Animal
        Who is scanned.
    circulation : Circulation
        What drives its blood.
    beats : sequence of Beat
        That cover the recording, from ``rhythm.beats``.
    start_ms, duration_ms : float
        Of the recording in the animal's rhythm.
    """
    table = flow_table(animal, circulation, beats, start_ms, start_ms + duration_ms)
    return MovingBody(animal=animal, circulation=circulation, beats=beats, start_ms=start_ms, flows=table)
