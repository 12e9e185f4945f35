"""What the fit is given: landmarks found in the pictures of one window, and those looked for in vain."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from fanlight.heart.standard_poses import view_window
from fanlight.study import Landmark

# A plane goes through three points. Fewer say less than the priors alone; more are better, above all from one picture.
LEAST_LANDMARKS = 3


class Moment(StrEnum):
    """The two moments of the beat at which landmarks are compared."""

    END_DIASTOLE = "end-diastole"
    END_SYSTOLE = "end-systole"


class TooFewLandmarksError(ValueError):
    """A picture on which too few landmarks were found to say where the probe stood."""

    def __init__(self, view: str, found: int) -> None:
        self.view, self.found, self.needed = view, found, LEAST_LANDMARKS
        super().__init__(
            f"{view}: {found} different landmarks in the plane, at least {LEAST_LANDMARKS} are needed to fit the "
            "probe's pose; mark more places of the heart, or leave this clip out"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenLandmark:
    """One landmark in one picture. Right and down are counted from the centre of the probe's face, in the plane.

    Raises
    ------
    ValueError
        If a number is not finite, or the standard deviation is not above 0.
    """

    landmark: Landmark
    moment: Moment
    right_mm: float  # towards the marker
    down_mm: float  # along the central beam
    sd_mm: float  # one standard deviation of the place, each way

    def __post_init__(self) -> None:
        if not (math.isfinite(self.right_mm) and math.isfinite(self.down_mm)):
            raise ValueError(f"{self.landmark.name}: its place must be finite, got {self.right_mm}, {self.down_mm} mm")
        if not (math.isfinite(self.sd_mm) and self.sd_mm > 0):
            raise ValueError(f"{self.landmark.name}: sd_mm must be above 0, got {self.sd_mm}")


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipSeen:
    """What was seen in one clip. A landmark neither seen nor missed was not looked for, and says nothing.

    Raises
    ------
    ValueError
        If the view is not a standard view, the sector has no size, or a landmark is said twice at one moment.
    TooFewLandmarksError
        If fewer than `LEAST_LANDMARKS` different landmarks were seen.
    """

    view: str  # key of the standard view that was meant
    depth_mm: float  # of the sector, from the face
    half_width_deg: float
    seen: Sequence[SeenLandmark]
    missed: Sequence[tuple[Landmark, Moment]] = ()  # looked for, and not in the picture

    def __post_init__(self) -> None:
        view_window(self.view)
        if not (self.depth_mm > 0 and 0 < self.half_width_deg <= 90):
            raise ValueError(
                f"{self.view}: the sector needs a depth above 0 mm and half a width of 0 to 90 degrees, got "
                f"{self.depth_mm} mm and {self.half_width_deg} degrees"
            )
        said = [(one.landmark, one.moment) for one in self.seen] + list(self.missed)
        if len(said) != len(set(said)):
            twice = next(name for name, moment in said if said.count((name, moment)) > 1)
            raise ValueError(f"{self.view}: {twice.name} is said twice at one moment; give each landmark once")
        if (found := len({one.landmark for one in self.seen})) < LEAST_LANDMARKS:
            raise TooFewLandmarksError(self.view, found)
