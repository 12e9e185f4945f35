"""A probe that does not keep still while Doppler is recorded: jerked along its beam, or carried off by the breath.

A drift of the whole clip is part of its setting (`clip_setting.Drift`); these are quick, and only Doppler shows them.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from fanlight.heart.animal import Animal
from fanlight.heart.movements import Movement, moved, turned
from fanlight.heart.pose import Pose
from fanlight.simulate.clip.film import Film

# Of a full turn: below this step the pose counts as the same, and need not be looked through anew (numerical).
_TURN_STEPS = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Jerks:
    """Short pushes along the central beam and back, again and again: a jerk of the hand, a cough, a shiver.

    Raises
    ------
    ValueError
        If a push does not last, or the next one comes before it is over.
    """

    push_mm: float  # how far towards the animal
    lasts_ms: float  # there and back
    first_ms: float  # from the first frame
    every_ms: float  # from one to the next

    def __post_init__(self) -> None:
        if not 0 < self.lasts_ms <= self.every_ms:
            raise ValueError(
                f"a jerk must last, and be over before the next: got {self.lasts_ms:g} ms every {self.every_ms:g} ms"
            )

    def pushed_mm(self, time_ms: float) -> float:
        """Return how far the probe is pushed in at a time from the first frame: a cosine there and back."""
        into = (time_ms - self.first_ms) % self.every_ms if time_ms >= self.first_ms else self.lasts_ms
        if into >= self.lasts_ms:
            return 0.0
        return self.push_mm * 0.5 * (1.0 - math.cos(2.0 * math.pi * into / self.lasts_ms))

    @property
    def fastest_mm_s(self) -> float:
        """Highest speed of the push."""
        return math.pi * self.push_mm / (self.lasts_ms / 1000.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Swing:
    """The beam swings with the breath: the probe rides on the chest, and the hand does not follow it back."""

    about_x_deg: float  # out of the image plane, at the height of the animal's breath
    about_y_deg: float  # in the image plane


Unsteady = Jerks | Swing


def unsteady_film(animal: Animal, film: Film, unsteady: Unsteady | None) -> Film:
    """Return the film with a probe that does not keep still; the film itself where it does.

    Parameters
    ----------
    animal : Animal
        Whose breath carries the probe.
    film : Film
        Its own movement of the probe goes on below.
    unsteady : Jerks or Swing, optional
        What the probe does.
    """
    if unsteady is None:
        return film
    at = _jerked(animal, film, unsteady) if isinstance(unsteady, Jerks) else _swung(animal, film, unsteady)
    return replace(film, pose_at=at, moves=True)


def _jerked(animal: Animal, film: Film, jerks: Jerks) -> Callable[[float], Pose]:
    def at(time_ms: float) -> Pose:
        pose, push_mm = film.pose_at(time_ms), jerks.pushed_mm(time_ms)
        return moved(animal, pose, Movement.PRESS, push_mm) if push_mm else pose

    return at


def _swung(animal: Animal, film: Film, swing: Swing) -> Callable[[float], Pose]:
    kept: dict[int, tuple[Pose, Pose]] = {}  # by step of the turn: where from, where to

    def at(time_ms: float) -> Pose:
        pose = film.pose_at(time_ms)
        step = round(_TURN_STEPS * breath_share(animal, film, time_ms))
        if step not in kept or kept[step][0] is not pose:
            kept[step] = pose, swung(pose, swing, step / _TURN_STEPS)
        return kept[step][1]

    return at


def breath_share(animal: Animal, film: Film, time_ms: float) -> float:
    """Return how far the animal has breathed in, as a share of its own breath, at a time from the first frame."""
    depth = animal.rhythm.breath_depth_fraction
    return film.state_at(time_ms).breath / depth if depth > 0 else 0.0


def swung(pose: Pose, swing: Swing, share: float = 1.0) -> Pose:
    """Return the pose at a share of the swing."""
    return turned(pose, share * np.asarray([swing.about_x_deg, swing.about_y_deg, 0.0]))
