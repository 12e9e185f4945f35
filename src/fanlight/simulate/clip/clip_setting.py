"""All that settles one simulated still or clip: where the probe stands, what the console says, what is stored."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from fanlight.heart.movements import Movement
from fanlight.heart.pose import Pose
from fanlight.simulate.machine.console import Console
from fanlight.simulate.machine.contact import FULL_CONTACT, Contact
from fanlight.simulate.machine.probe import Probe
from fanlight.study import Mode


class Cover(StrEnum):
    """What can lie between the probe and the heart."""

    LUNG = "lung"
    RIB = "rib"


@dataclass(frozen=True, slots=True, kw_only=True)
class Obstacle:
    """Something over part of the picture's width, put there for this clip."""

    cover: Cover
    share_fraction: float  # of the picture's opening angle
    at_fraction: float  # middle of the covered part: 0 left edge, 1 right edge


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """A movement that runs on while the clip is stored, from minus half of the amount to plus half."""

    movement: Movement
    amount: float  # mm, degrees or spaces, as the movement takes it


@dataclass(frozen=True, slots=True, kw_only=True)
class Recording:
    """What is stored, and how."""

    beats: float = 3.2  # length of the clip in mean beats; a clip is stored at any moment, so a little over three
    is_still: bool = False
    has_ecg: bool = True
    sweep_mm_s: float = 100.0  # M-mode; the strip shows 4 pixels to a millimetre of paper
    jpeg_quality: int | None = None  # None: as the console stores it
    scale_ratio: float = 1.0  # size of the exported screen beside the console's own
    is_mirrored: bool = False  # the picture is shown with the marker at screen left

    def __post_init__(self) -> None:
        if not self.beats > 0:
            raise ValueError(f"a clip holds part of a beat at least, got {self.beats} beats")
        if not 0.3 <= self.scale_ratio <= 3.0:
            raise ValueError(f"a screen is exported at 0.3 to 3 times its size, got {self.scale_ratio}")


PX_PER_PAPER_MM = 4.0  # of the M-mode strip: 100 mm/s are 400 columns a second; engineering judgement


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipSetting:
    """One still or clip before it is made."""

    view: str  # key of the view that the hand was after
    said_view: str  # key of the view that a labelled study gives it
    pose: Pose
    probe: Probe
    console: Console
    mode: Mode = Mode.TWO_D  # or M_MODE
    cursor_deg: float = 0.0  # M-mode: beam of the cursor, from the central beam towards the marker
    drifts: tuple[Drift, ...] = ()
    contact: Contact = FULL_CONTACT
    obstacles: tuple[Obstacle, ...] = ()
    recording: Recording = field(default_factory=Recording)

    def __post_init__(self) -> None:
        if self.mode not in (Mode.TWO_D, Mode.M_MODE):
            raise ValueError(f"the simulator makes 2-D pictures and M-mode, not {self.mode}")

    @property
    def is_short_axis(self) -> bool:
        """Whether the hand was after a plane across the heart."""
        return "_short_axis" in self.view

    @property
    def is_apical(self) -> bool:
        """Whether the hand scanned from the left apex."""
        return self.view.startswith("left_apical")
