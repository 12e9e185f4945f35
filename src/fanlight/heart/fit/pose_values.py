"""What the fit says: for each clip a posterior over movements of the hand, never a point; and the heart it came with.

Amounts say how the probe stood, seen from the standard plane of the view on this heart, in the order and with the
signs of the house (`heart/movements.py`). The correction is the same movement the other way.
"""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.heart.movements import Movement
from fanlight.heart.windows import Window

METHOD = "pose_fit/1"  # name and version, stored with the result


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A number with its central 90 % of the posterior."""

    mean: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Offset:
    """One movement by which the probe stood off the standard plane. Unit: mm, spaces or degrees, as `unit` says."""

    movement: Movement
    unit: str  # "mm", "spaces", "deg"
    amount: Estimate
    limit: float  # below which nobody would correct it, same unit
    plus_probability: float  # that the amount is above the limit
    minus_probability: float  # that it is below minus the limit

    @property
    def sense(self) -> int:
        """Return the likelier sense, 1 or -1."""
        return 1 if self.plus_probability >= self.minus_probability else -1

    @property
    def probability(self) -> float:
        """Return how likely the offset has the likelier sense and is beyond its limit."""
        return max(self.plus_probability, self.minus_probability)


@dataclass(frozen=True, slots=True, kw_only=True)
class EitherOr:
    """Two movements that these landmarks cannot tell apart: one of them, or both, is off in the sense given."""

    first: Movement  # the likelier
    first_sense: int  # 1 or -1
    first_probability: float
    second: Movement
    second_sense: int
    second_probability: float
    probability: float  # that at least one of the two is off in its sense
    correlation: float  # of the two amounts given the landmarks, -1 to 1


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipPose:
    """Where the probe stood in one clip."""

    view: str
    offsets: tuple[Offset, ...]  # every movement of the order of the house
    pairs: tuple[EitherOr, ...]  # none of whose two is sure alone, the likeliest first
    none_probability: float  # that nothing is off by more than a hand scatters
    plane_offset_mm: Estimate  # by which the plane misses the point to aim at; + when it passes on the viewer's side
    image_shift_mm: Estimate  # of that point in the picture; + towards the marker
    long_axis_off_deg: Estimate  # of the left ventricle's long axis out of the plane: 0 along it, 90 square to it
    misfit_ratio: float  # root mean square of what the fit leaves, over what was expected; near 1 when all is well
    n_landmarks: int

    def offset(self, movement: Movement) -> Offset:
        """Return the offset of a movement; KeyError for one that is not fitted."""
        for one in self.offsets:
            if one.movement is movement:
                return one
        raise KeyError(f"{movement.value} is not fitted; known: {', '.join(o.movement.value for o in self.offsets)}")

    def named(self, least_probability: float) -> tuple[Offset, ...]:
        """Return the offsets whose sense is at least so likely, the likeliest first."""
        sure = [one for one in self.offsets if one.probability >= least_probability]
        return tuple(sorted(sure, key=lambda one: -one.probability))


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedHeart:
    """The heart that the landmarks ask for, with its priors. It serves the fit; it measures and diagnoses nothing."""

    unit_mm: Estimate  # inner diameter that the healthy left ventricle of this animal would have
    lv_diameter_mm: Estimate
    la_ao_ratio: Estimate
    free_wall_mm: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowPose:
    """The joint fit of all clips of one window."""

    window: Window
    clips: tuple[ClipPose, ...]  # in the order they were given
    place: tuple[Offset, ...]  # slide and step over ribs, were they the same in all clips; () for a single clip
    heart: FittedHeart
    has_settled: bool  # False: the search was cut off, and all is less sure than it says
    method: str = METHOD
