"""What the masks of the picture network say of each structure, so short that a reading can keep it: no pixels."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Structure(StrEnum):
    """Structures that the network's masks part; names as its file has them, in capitals."""

    OTHER = "other"
    LV_CAVITY = "left ventricle"
    PAPILLARY = "papillary muscle"
    SEPTUM = "septum"
    LV_FREE_WALL = "free wall of the left ventricle"
    LEFT_ATRIUM = "left atrium"
    AORTA = "aorta"
    RV_CAVITY = "right ventricle"
    RV_WALL = "wall of the right ventricle"
    RIGHT_ATRIUM = "right atrium"
    PULMONARY_ARTERY = "pulmonary artery"
    MITRAL_LEAFLET = "mitral leaflet"
    TRICUSPID_LEAFLET = "tricuspid leaflet"
    EFFUSION = "effusion"
    HIDDEN = "lung or bone"
    OTHER_WALL = "wall of an atrium or a great vessel"
    LIVER = "liver"


# The heart with its great vessels and what fluid lies round it, as far as masks tell it; valves lie within.
HEART = (
    Structure.LV_CAVITY, Structure.PAPILLARY, Structure.SEPTUM, Structure.LV_FREE_WALL, Structure.LEFT_ATRIUM,
    Structure.AORTA, Structure.RV_CAVITY, Structure.RV_WALL, Structure.RIGHT_ATRIUM, Structure.PULMONARY_ARTERY,
    Structure.OTHER_WALL, Structure.EFFUSION,
)  # fmt: skip


# What contracts and is always grey in a right picture of colour; walls of atria and vessels are too thin for the masks.
MUSCLE = (Structure.PAPILLARY, Structure.SEPTUM, Structure.LV_FREE_WALL, Structure.RV_WALL)


class Border(StrEnum):
    """What ends a structure that does not end by itself."""

    LEFT = "left edge"
    RIGHT = "right edge"
    NEAR = "near end"
    FAR = "far end"
    HIDDEN = "lung or bone"  # that begins nearer to the probe, beside it


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """How much of a structure's outline lies on a border, and where: shares of depth and width in one frame."""

    border: Border
    share: float  # of the outline, mean over the frames that show the structure
    frame: int  # counted from 0: where most of it lies on the border
    from_depth: float  # of what lies on the border there
    to_depth: float
    from_beam: float
    to_beam: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourOnMuscle:
    """How much of the heart's muscle within reach of the colour is painted, over the frames of a beat."""

    frames: int  # that show enough muscle there for the share to be taken; 0: none does
    share: float = 0.0  # of that muscle, median over these frames
    frame: int = 0  # counted from 0: one whose share is about that
    from_depth: float = 0.0  # of the painted muscle in that frame: shares of depth and width
    to_depth: float = 0.0
    from_beam: float = 0.0
    to_beam: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class StructureSeen:
    """One structure over the frames of a beat, where the network is sure of it."""

    structure: str  # name of a Structure
    frames_share: float  # of the frames that show it
    area_share: float  # of the picture, mean over these frames
    sure_share: float  # of the pixels in which it is the likeliest, those where the network is sure
    nearest: float  # share of the depth from which it begins, in the frame where it comes nearest
    farthest: float  # share of the depth that it reaches, in the frame where it reaches farthest
    farthest_frame: int  # counted from 0
    cuts: tuple[Cut, ...] = ()

    def __post_init__(self) -> None:
        if self.structure not in Structure.__members__:
            raise ValueError(f"structure {self.structure!r} is not known")
