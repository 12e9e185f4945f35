"""What stands where on the screen of one clip, and how large a pixel is."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from fanlight.study.clip import Region
from fanlight.study.geometry import Box
from fanlight.study.sector import Picture


class ScaleSource(StrEnum):
    """Which witness gave the size of a pixel, most trusted first."""

    REGION = "ultrasound region of the file"
    RULER = "depth ruler on the screen"
    TEXT = "depth written on the screen"
    MARKED = "two points marked by the user"


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleWitness:
    """One opinion about the size of a pixel."""

    source: ScaleSource
    mm_per_px: float
    uncertainty_mm_per_px: float
    words: str  # "region 1: 0.308 mm a pixel", "11 ticks, 1 cm apart"


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """Millimetres a pixel that may be measured with, and every witness that was heard."""

    mm_per_row_px: float
    mm_per_col_px: float
    source: ScaleSource
    uncertainty_fraction: float  # one standard deviation, share of the value
    witnesses: tuple[ScaleWitness, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RegionReading:
    """A region of the file and whether the pixels bear it out."""

    region: Region
    trusted: bool
    reason: str  # why it is believed, or what contradicts it


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A number with a unit that was read on the screen, e.g. 15 cm, -59.3 cm/s, 18 Hz, 75 bpm."""

    value: float
    unit: str  # "cm", "mm", "Hz", "kHz", "MHz", "cm/s", "m/s", "dB", "bpm", "%", "mm/s", "W/cm2"


@dataclass(frozen=True, slots=True, kw_only=True)
class ScreenText:
    """One piece of text on the screen."""

    text: str
    box: Box
    confidence: float  # 0 to 1, of the reader
    quantities: tuple[Quantity, ...] = ()
    is_technical: bool = False  # units, settings and words of the allow-list only: may stay in a teaching copy
    inside_picture: bool = False  # lies on the ultrasound picture: flagged, not blanked, in a teaching copy


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruler:
    """Equally spaced depth marks beside the picture."""

    col_px: float
    first_row_px: float
    spacing_px: float  # between neighbouring major marks
    n_marks: int
    mm_per_mark: float | None  # None: marks found, their step is not known
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Everything that was found on the screen of one clip."""

    rows: int
    cols: int
    picture: Picture | None
    picture_confidence: float  # 0 to 1
    picture_reason: str
    scale: Scale | None
    scale_reason: str  # how it was settled, or why there is none
    regions: tuple[RegionReading, ...] = ()
    texts: tuple[ScreenText, ...] = ()
    ruler: Ruler | None = None
    ecg_box: Box | None = None
    colour_box: Box | None = None
    notes: tuple[str, ...] = ()

    @property
    def depth_mm(self) -> float | None:
        """Displayed depth from the face to the deepest row, or None without a scale."""
        if self.picture is None or self.scale is None:
            return None
        return self.picture.depth_px * self.scale.mm_per_row_px
