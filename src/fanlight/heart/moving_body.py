"""How fast everything in an animal moves at a moment: blood that flows, muscle and leaflets that beat, the breath."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import array_api_compat

from fanlight.heart.animal import Animal
from fanlight.heart.blood.blood_velocity import blood_velocity
from fanlight.heart.blood.circulation import Circulation
from fanlight.heart.blood.flow_now import flow_now
from fanlight.heart.blood.flow_rates import FlowTable, flow_table
from fanlight.heart.cycle import state_at
from fanlight.heart.layout import layout
from fanlight.heart.left_ventricle import base_motion
from fanlight.heart.motion import Motion
from fanlight.heart.rhythm import Beat
from fanlight.heart.sample_heart import sample_heart
from fanlight.heart.thorax import heart_shift_mm
from fanlight.heart.tissue import BLOOD, Tissue
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
        shape = x.shape
        at = self.start_ms + time_ms
        state = state_at(self.animal.rhythm, self.beats, at)
        step_ms = STEP_MS if at + STEP_MS <= self.beats[-1].end_ms else -STEP_MS
        later_state = state_at(self.animal.rhythm, self.beats, at + step_ms)
        shift, later_shift = (heart_shift_mm(self.animal.thorax, s.breath) for s in (state, later_state))
        flat = [
            xp.reshape(xp.astype(v, xp.float32, copy=False), (-1,)) - float(shift[i]) for i, v in enumerate((x, y, z))
        ]
        label = sample_heart(self.animal.anatomy, state, *flat).tissue if tissue is None else xp.reshape(tissue, (-1,))
        if self.animal.anatomy.warp is not None:
            flat = list(undone(self.animal.anatomy.warp, *flat))
        anatomy = self.animal.anatomy
        now = layout(anatomy, state)
        a, b, c = anatomy.frame.coordinates(*flat)
        p = (now.motion.to_rest(a, xp), b, c)
        step_s = step_ms / 1000.0
        is_blood = _is_any(label, BLOOD)
        in_heart = label != int(Tissue.OUTSIDE)
        carried = carried_velocity(base_motion(anatomy, later_state), step_s, a, p[0], xp)
        if bool(xp.any(in_heart & ~is_blood)):
            wall = wall_velocity(now, layout(anatomy, later_state), step_s, p, label, xp)
        else:
            wall = tuple(xp.zeros_like(a) for _ in range(3))
        flow = flow_now(self.flows, at)
        blood, unsteady = blood_velocity(now, self.circulation, flow, p, label, xp)
        out = [xp.where(is_blood, blood[i], wall[i]) for i in range(3)]
        # Flow is what passes openings that move themselves: to its speed comes that of the base, which everything has.
        out[0] = out[0] + carried
        frame = anatomy.frame
        moved = []
        for i in range(3):
            turned = out[0] * frame.long[i] + out[1] * frame.front[i] + out[2] * frame.depth[i]
            with_breath = turned + float(later_shift[i] - shift[i]) / step_s
            moved.append(xp.reshape(xp.where(in_heart, with_breath, xp.zeros_like(turned)), shape))
        return Motion(
            velocity_mm_s=(moved[0], moved[1], moved[2]),
            unsteady_mm_s=xp.reshape(xp.where(is_blood, unsteady, xp.zeros_like(unsteady)), shape),
        )


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
