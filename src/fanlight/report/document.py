"""What a page says, before anyone decides how it looks. HTML and PDF are both made from this."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from fanlight.report.passage import Passage


class Voice(StrEnum):
    """Who speaks; each has its own look."""

    PLAIN = "plain"
    ENGINE = "engine"  # a proposal of the engine
    GIVEN = "given"  # words that came with the study, as given
    CAUTION = "caution"
    QUIET = "quiet"  # provenance, small print
    CLOSING = "closing"  # last words and signature, set apart from what stands above


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """A heading inside the page."""

    text: str
    level: int = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Paragraph:
    """Some sentences."""

    text: str
    voice: Voice = Voice.PLAIN
    lead: str = ""  # a few words in front, set apart


@dataclass(frozen=True, slots=True, kw_only=True)
class Items:
    """A list."""

    entries: tuple[str, ...]
    voice: Voice = Voice.PLAIN


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A picture with its words."""

    png: bytes
    caption: str
    alt: str
    width_fraction: float = 0.45  # of the text width


@dataclass(frozen=True, slots=True, kw_only=True)
class Excerpt:
    """A moving picture with the still that stands for it. Plays in HTML only."""

    key: str  # of its own within the page
    title: str
    still: bytes  # WebP
    moving: bytes  # animated WebP
    caption: str
    still_alt: str
    moving_alt: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Excerpts:
    """Moving pictures in a row, each named by its title. A passage is one that is not cut out yet."""

    items: tuple[Passage | Excerpt, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A small line drawing inside a table cell or a row; `alt` says the same in words."""

    svg: str
    alt: str
    height_mm: float = 4.0


Cell = str | Drawing


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """A table."""

    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    widths: tuple[float, ...]  # shares of the text width
    voice: Voice = Voice.PLAIN


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """One numbered point of a letter, with the picture that shows it."""

    number: int
    title: str
    where: str
    means: str
    cause: str
    correction: str
    withheld: str
    figure: Figure | None
    value: str = ""  # the worst clip's value, in words
    band: Drawing | None = None  # the same, drawn in its band
    moving: Passage | Excerpt | None = None  # an excerpt takes the figure's place in HTML


@dataclass(frozen=True, slots=True, kw_only=True)
class FanRow:
    """The examination path as a row of fans, each with its name below."""

    fans: tuple[tuple[Drawing, str], ...]
    key: str  # what solid, hatched, dotted and hollow mean


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Pairs of a name and what is known."""

    pairs: tuple[tuple[str, str], ...]
    columns: int = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """A picture with facts to its right."""

    figure: Figure | None
    facts: Facts


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """A movement that is asked for, with the probe drawn on the chest and the view before and after it."""

    words: str
    drawings: tuple[tuple[Drawing, str], ...]  # with what stands below each
    pictures: tuple[Figure, ...]  # simulated, before and after
    note: str  # what the pictures are and what to look for, or why there are none
    voice: Voice = Voice.PLAIN


Block = Heading | Paragraph | Items | Figure | Grid | Advice | Beside | FanRow | Facts | Excerpts | Moved


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """One letter, summary or sheet."""

    key: str  # "letter", "summary", "study-sheet": becomes the file name
    title: str
    subtitle: str
    status: str  # "Draft, not signed"
    blocks: tuple[Block, ...]
    caution: str
    footer: str
    landscape: bool = False
    small: bool = False
    language: str = field(default="en")
