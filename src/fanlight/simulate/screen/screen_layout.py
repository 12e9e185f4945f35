"""How one invented console lays out its screen: every place, size and style as one frozen value."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

Ink = tuple[int, int, int]  # red, green, blue, 0 to 255
MARK = "SIMULATED"  # stands beside every picture


class Typeface(StrEnum):
    """Letters that need no file: those that Pillow and OpenCV carry inside."""

    ROUND = "Pillow's built-in letters"
    PIXELS = "Pillow's built-in letters of whole pixels"  # one height only
    PLAIN = "OpenCV's built-in letters"
    HEAVY = "OpenCV's built-in letters, bold"
    SLANTED = "OpenCV's built-in letters, slanted"
    NARROW = "OpenCV's built-in letters for all scripts"


@dataclass(frozen=True, slots=True, kw_only=True)
class Lettering:
    """One kind of letters on the screen."""

    typeface: Typeface
    height_px: int  # of a capital letter
    ink: Ink


def letters(typeface: Typeface, height_px: int, ink: Ink) -> Lettering:
    """Return letters of a height and colour."""
    return Lettering(typeface=typeface, height_px=height_px, ink=ink)


class Align(StrEnum):
    """On which side of its point a line of words stands."""

    LEFT = "left"
    CENTRE = "centre"
    RIGHT = "right"


@dataclass(frozen=True, slots=True, kw_only=True)
class TextBlock:
    """Lines of words, one below the other, or one beside the other when `across_px` is given.

    A line may hold fields of `ScreenFacts` in braces, with a format: ``"Depth {depth_cm:.0f} cm"``. A line that asks
    for a fact which is not known is left out, and the next moves up.
    """

    row_px: int  # baseline of the first line
    col_px: int
    lines: tuple[str, ...]
    lettering: Lettering
    align: Align = Align.LEFT
    step_px: int = 0  # from line to line
    across_px: int = 0  # from line to line of words beside each other; 0: one below the other
    width_px: int = 0  # longer lines go on in the next; 0: as long as they are


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureArea:
    """Where a picture may lie: the sector is drawn as large as this allows. The last row and column are outside."""

    row0: int
    row1: int
    col0: int
    col1: int


def area(row0: int, row1: int, col0: int, col1: int) -> PictureArea:
    """Return the room between these rows and columns."""
    return PictureArea(row0=row0, row1=row1, col0=col0, col1=col1)


class TickShape(StrEnum):
    """How the ruler marks its depths."""

    LINE = "line"
    DOT = "dot"
    SQUARE = "square"
    WEDGE = "wedge"


@dataclass(frozen=True, slots=True, kw_only=True)
class RulerStyle:
    """The depth ruler beside the picture; its marks stand at whole steps below the face of the probe."""

    col_px: int  # of the marks' middle
    shape: TickShape
    step_mm: float
    size_px: int  # width of a small mark (a dot: its diameter)
    large_every: int = 0  # every n-th mark is larger; 0: all alike
    large_px: int = 0
    number_every: int = 0  # every n-th mark has its depth in cm beside it; 0: no numbers
    number_gap_px: int = 6
    numbers_left: bool = False
    lettering: Lettering | None = None  # of the numbers
    ink: Ink = (190, 190, 190)
    axis: bool = False  # a thin line through the marks


@dataclass(frozen=True, slots=True, kw_only=True)
class GreyBar:
    """Wedge of all grey levels."""

    row0: int
    row1: int
    col0: int
    col1: int
    across: bool = False  # bright at the right end instead of at the top
    frame_ink: Ink | None = None


class FocusShape(StrEnum):
    """How the depth of the focus is marked beside the ruler."""

    TRIANGLE = "triangle"
    CHEVRON = "chevron"
    BAR = "bar"
    DIAMOND = "diamond"


@dataclass(frozen=True, slots=True, kw_only=True)
class FocusMark:
    """Mark at the depth of the focus."""

    col_px: int
    shape: FocusShape
    size_px: int
    ink: Ink


class MarkerShape(StrEnum):
    """How the side of the probe's marker is shown."""

    RING = "ring"
    DISC = "disc"
    SQUARE = "square"
    CROSS = "cross"


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkerStyle:
    """The sign at the right side of the picture's face: the probe's marker points to screen right."""

    shape: MarkerShape
    size_px: int
    gap_px: int  # from the right end of the face
    ink: Ink


class EcgPen(StrEnum):
    """How the trace comes onto the screen."""

    WIPES = "runs from left to right and wipes what it drew before"
    SCROLLS = "the newest sample stands at the right end, everything moves left"


@dataclass(frozen=True, slots=True, kw_only=True)
class EcgStyle:
    """Where the ECG runs, and how."""

    row0: int  # the last row and column are outside
    row1: int
    col0: int
    col1: int
    ink: Ink
    pen: EcgPen
    sweep_mm_s: float = 50.0  # as written on screen; the trace is px_per_s wide whatever the screen measures
    px_per_s: float = 120.0
    gap_px: int = 12  # blank columns before a pen that wipes
    line_px: int = 1
    ground: Ink | None = None  # a darker or lighter panel under the trace
    marks_r_waves: bool = False  # a tick under the trace at each R wave


@dataclass(frozen=True, slots=True, kw_only=True)
class MModeStyle:
    """Guide picture with its cursor, strip with its marks of time and depth; the trace keeps step with the strip."""

    guide: PictureArea
    strip: PictureArea
    cursor_ink: Ink
    cursor_dash_px: int
    time_tick_s: float
    time_ticks_below: bool
    tick_ink: Ink
    ruler: RulerStyle  # of the strip
    trace_rows: tuple[int, int] | None = None  # of the ECG; None: those beside the 2-D picture


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A thin straight line that parts two fields of the screen, or a panel where `fill` is true."""

    row0: int
    col0: int
    row1: int
    col1: int
    ink: Ink
    fill: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """One invented screen. Colours are RGB; a grey export shows their luma."""

    key: str
    rows: int
    cols: int
    ground: Ink  # of the empty screen
    picture: PictureArea
    blocks: tuple[TextBlock, ...]
    watermark: TextBlock
    view_label: TextBlock  # drawn only for labelled studies
    ruler: RulerStyle
    marker: MarkerStyle
    ecg: EcgStyle
    m_mode: MModeStyle
    m_mode_blocks: tuple[TextBlock, ...]
    grey_bar: GreyBar | None = None
    focus: FocusMark | None = None
    rules: tuple[Rule, ...] = ()
    m_mode_rules: tuple[Rule, ...] = ()
