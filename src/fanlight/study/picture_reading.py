"""What the picture network says of a clip: proposals, each with how sure it is. Nothing here is decided."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.study.geometry import Point
from fanlight.study.landmark import Landmark
from fanlight.study.structure import ColourOnMuscle, StructureSeen


@dataclass(frozen=True, slots=True, kw_only=True)
class ViewShare:
    """How likely a clip is one standard view. `view` "": none of the standard views."""

    view: str
    probability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundLandmark:
    """Where a landmark was found on one frame."""

    landmark: str  # name of a Landmark
    frame: int  # counted from 0
    point: Point  # (row, col) in pixels of the stored frame
    spread_px: float  # one standard deviation, pixels of the stored frame
    probability: float  # that it lies in this plane and inside the picture

    def __post_init__(self) -> None:
        if self.landmark not in Landmark.__members__:
            raise ValueError(f"landmark {self.landmark!r} is not known")


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundLine:
    """A caliper that was laid on the masks of one frame."""

    what: str  # key of a quantity, or of a part of one: "lvidd", "left_atrium"
    frame: int  # counted from 0
    ends: tuple[Point, Point]  # (row, col) in pixels of the stored frame
    spread_px: float  # of each end: one standard deviation, pixels of the stored frame
    said: str = ""  # the published convention that it follows, where there are two


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureReading:
    """What the picture network says of one clip; `reason` says why it says nothing."""

    frames: tuple[int, ...] = ()  # that it was shown, counted from 0
    views: tuple[ViewShare, ...] = ()  # the likeliest first, as many as say something
    mirrored: float = 0.0  # probability that the marker is at the left of the screen
    landmarks: tuple[FoundLandmark, ...] = ()  # on the frames that stand for the beat
    lines: tuple[FoundLine, ...] = ()  # calipers laid on its masks
    structures: tuple[StructureSeen, ...] = ()  # what is kept of its masks
    unsure_share: float = 0.0  # of the picture, where it is sure of no structure
    colour: ColourOnMuscle | None = None  # None: the clip shows no colour, or none was looked at
    network: str = ""  # hash of the weights
    reason: str = ""
