"""Where the probe stood in clips of one window, told as movements of the hand away from the standard plane.

Amounts and senses carry the signs of the house: slide + towards the back, space + towards the head, rotate + clockwise
seen from the cable end, tilt + the beam towards the viewer's side of the plane, rock + the beam towards the marker. The
correction is the same movement the other way.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class LandmarksBy(StrEnum):
    """Who named the places of the heart that a pose rests on."""

    PERSON = "marked by a person"
    NETWORK = "as the network saw it"


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeOffset:
    """One movement by which the probe stood off the standard plane, with its central 90 %."""

    movement: str  # "space", "slide", "rotate", "tilt", "rock", "press"
    unit: str  # "mm", "spaces", "deg"
    mean: float
    low: float
    high: float
    limit: float  # below which nobody would correct it, same unit
    plus_probability: float  # that the amount is above the limit
    minus_probability: float  # that it is below minus the limit

    @property
    def sense(self) -> int:
        """Return the likelier sense, 1 or -1."""
        return 1 if self.plus_probability >= self.minus_probability else -1

    @property
    def probability(self) -> float:
        """Return how likely the probe stood off in the likelier sense by more than the limit."""
        return max(self.plus_probability, self.minus_probability)


@dataclass(frozen=True, slots=True, kw_only=True)
class EitherMovement:
    """Two movements that the landmarks cannot tell apart: one of them, or both, is off in the sense given."""

    first: str  # the likelier
    first_sense: int  # 1 or -1
    first_probability: float
    second: str
    second_sense: int
    second_probability: float
    probability: float  # that at least one is off in its sense


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipStand:
    """Where the probe stood in one clip, never a point; `silent` says why it advises nothing."""

    clip: str  # Clip.key
    view: str
    given_by: LandmarksBy
    n_landmarks: int  # different ones
    offsets: tuple[ProbeOffset, ...]  # every movement, in the order of hands
    pairs: tuple[EitherMovement, ...]  # the likeliest first
    none_probability: float  # that nothing is off by more than a hand scatters
    misfit_ratio: float  # what the fit leaves over what was expected: near 1 when all is well
    silent: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StandLeftOut:
    """A clip with landmarks of which nothing is told, and why."""

    clip: str  # Clip.key
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowStand:
    """The joint fit of the clips of one window; `clips` is empty where no clip could be fitted."""

    window: str
    clips: tuple[ClipStand, ...]
    place: tuple[ProbeOffset, ...]  # step over ribs and slide, were they the same in all clips; () of a single clip
    left_out: tuple[StandLeftOut, ...]
    has_settled: bool
    method: str  # name and version
    rests_on: str  # hash of the landmarks and limits that were fitted

    @property
    def has_one_place(self) -> bool:
        """Whether `place` tells of the hand: it was drawn from all clips, and stands only while none is silent."""
        return bool(self.place) and not any(clip.silent for clip in self.clips)
