"""M-mode strips through the ring of the tricuspid valve of simulated animals, and how far the ring goes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal, animal_landmarks, sample
from fanlight.heart.cycle_state import CycleState
from fanlight.simulate.clip.ring import Ring
from fanlight.study import Landmark
from measure._cursor_strips import CursorStrip, draw_cursor_strip

VIEW = "left_apical_four_chamber_right_heart"
_STREAM = 31
_STEP_MS = 8.0
_BELOW_MM = (1.0, 3.0, 5.0)  # the ring's leading edge: tissue that is followed
_ROUNDS, _STEP_MM, _MOST_MM = 2, 0.01, 4.0  # of Newton; most that tissue moves in a step
_SYSTOLE_SHARE = 0.75  # of a beat: before it the ring is nearest to the apex

Vector = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class TrueBeat:
    """How far the ring comes towards the apex in one beat, along the cursor.

    Attributes
    ----------
    tissue_mm : float
        Of the tissue below the ring under the cursor, which is what the strip shows; NaN where it cannot be followed.
    hinge_mm : float
        Of the hinge of the free wall's leaflet itself: it goes towards the septum as well, under another line.
    """

    tissue_mm: float
    hinge_mm: float


def draw_ring_strip(seed: int, ring: Ring) -> CursorStrip:
    """Return the strip of a subject; ValueError if the animal cannot be scanned in this view."""
    return draw_cursor_strip(seed, ring, VIEW, _STREAM)


def true_beats(strip: CursorStrip) -> Iterator[TrueBeat]:
    """Yield what is true of each whole beat."""
    animal = strip.subject.animal
    for start, end in pairwise(strip.true_r_times_ms):
        moments = np.arange(start, start + _SYSTOLE_SHARE * (end - start), _STEP_MS) + strip.times_ms[0]
        states = [strip.film.state_at(float(moment)) for moment in moments]
        depths = np.array([_hinge_mm(strip, animal, state) for state in states])
        top = int(depths.argmin())
        gone = _gone_mm(strip, animal, states[: top + 1], depths[0] + np.array(_BELOW_MM))
        seen = gone[np.isfinite(gone)]
        yield TrueBeat(
            tissue_mm=float(np.median(seen)) if len(seen) else float("nan"), hinge_mm=float(depths[0] - depths[top])
        )


def _hinge_mm(strip: CursorStrip, animal: Animal, state: CycleState) -> float:
    hinge = np.asarray(animal_landmarks(animal, state)[Landmark.TRICUSPID_PARIETAL_HINGE])
    return float((hinge - strip.start_mm) @ strip.along)


def _gone_mm(strip: CursorStrip, animal: Animal, states: list[CycleState], depths_mm: Vector) -> Vector:
    """Return how far the tissue under the cursor comes up, moment by moment, from each depth on; NaN if lost."""
    depth = depths_mm
    for now, later in pairwise(states):
        depth = depth + _moved(animal, now, later, strip.start_mm + depth[:, None] * strip.along) @ strip.along
    return depths_mm - depth


def _moved(animal: Animal, now: CycleState, later: CycleState, here: Vector) -> Vector:
    """Return where the tissue of places goes: to what has the same place in the resting heart (Newton)."""
    wanted, moved = _material(animal, now, here), np.zeros(here.shape)
    for _ in range(_ROUNDS):
        at = (here + moved)[:, None] + np.concatenate([np.zeros((1, 3)), _STEP_MM * np.eye(3)])
        found = _material(animal, later, at.reshape(-1, 3)).reshape(at.shape)
        slope = np.swapaxes(found[:, 1:] - found[:, :1], 1, 2) / _STEP_MM
        step = np.linalg.pinv(np.nan_to_num(slope)) @ (wanted - found[:, 0])[..., None]
        moved = moved + step[..., 0]
    moved[np.linalg.norm(moved, axis=1) > _MOST_MM] = np.nan
    return moved


def _material(animal: Animal, state: CycleState, points: Vector) -> Vector:
    return np.stack([np.asarray(v, np.float64) for v in sample(animal, state, *points.T).material_mm], -1)
