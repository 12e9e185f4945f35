"""Which pixels of a teaching copy go: text that may say who it is, in every frame."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fanlight.study import Box, FrameChunk, ScreenText

# Engineering judgement: letters reach a little beyond the box that was found, and codecs smear them further.
_LEAST_MARGIN_PX: Final = 3
_MARGIN_SHARE: Final = 0.25  # of the thickness of the line
# Engineering judgement: boxes of the text finder reach this far beyond the letters; more is never given up.
_MOST_GIVEN_UP: Final = 0.12
_BLANK: Final = 0  # black: a fill taken from the neighbourhood could carry a rest of the text


@dataclass(frozen=True, slots=True)
class PixelPlan:
    """What is blanked in every frame of a clip, and what is left for a person to look at."""

    blanked: tuple[Box, ...]
    flagged: tuple[Box, ...] = ()  # on the picture, may be identity, left as it is
    blank_mask: NDArray[np.bool_] | None = None  # (row, col): goes as a whole, because nobody could read it
    notes: tuple[str, ...] = ()

    @property
    def is_clean(self) -> bool:
        """Whether nothing is left that a reader of text took for possible identity."""
        return not self.flagged


def plan_pixels(texts: Iterable[ScreenText], rows: int, cols: int, *, blank_inside: bool = False) -> PixelPlan:
    """Return what to blank, given what was read on the screen.

    Parameters
    ----------
    texts : iterable of ScreenText
        Everything read on any overlay of the clip, also what could not be read.
    rows, cols : int
        Size of the frames in pixels.
    blank_inside : bool
        Blank text on the ultrasound picture too, instead of leaving it and flagging it.

    Notes
    -----
    Outside the picture everything that is not technical goes. Where the margin around it would reach into a
    technical text on the next line or beside it, it ends half-way between the two; where the two truly lie over
    one another the technical text goes as well.
    """
    known = list(texts)
    technical = [item.box for item in known if item.is_technical]
    blanked: list[Box] = []
    flagged: list[Box] = []
    for item in known:
        if item.is_technical:
            continue
        box = _widened(item.box, technical).clipped_to(rows, cols)
        if box is None:
            continue
        (flagged if item.inside_picture and not blank_inside else blanked).append(box)
    return PixelPlan(tuple(dict.fromkeys(blanked)), tuple(dict.fromkeys(flagged)))


def _widened(box: Box, technical: Iterable[Box]) -> Box:
    """A box with its margin, kept off technical text on other lines and beside it."""
    thickness_px = min(box.height_px, box.width_px)  # upright text is wide where it is thick
    margin = max(_LEAST_MARGIN_PX, round(_MARGIN_SHARE * thickness_px))
    give = round(_MOST_GIVEN_UP * box.height_px)
    row0, row1, col0, col1 = box.row0 - margin, box.row1 + margin, box.col0 - margin, box.col1 + margin
    for other in technical:
        if other.row1 <= row0 or other.row0 >= row1 or other.col1 <= col0 or other.col0 >= col1:
            continue
        if 2 * (min(box.row1, other.row1) - max(box.row0, other.row0)) <= min(box.height_px, other.height_px):
            if other.row0 > box.row0:
                row1 = min(row1, max(box.row1 - give, (box.row1 + other.row0) // 2))
            else:
                row0 = max(row0, min(box.row0 + give, (box.row0 + other.row1 + 1) // 2))
        elif other.col0 > box.col0:
            col1 = min(col1, max(box.col1 - give, (box.col1 + other.col0) // 2))
        else:
            col0 = max(col0, min(box.col0 + give, (box.col0 + other.col1 + 1) // 2))
    return Box(row0=row0, col0=col0, row1=row1, col1=col1)


def plan_without_reading(outside: NDArray[np.bool_]) -> PixelPlan:
    """Return a plan that blanks everything outside the picture, for when text cannot be read.

    Parameters
    ----------
    outside : ndarray of bool of shape (row, col)
        What lies outside the picture; everything, where no picture was found.
    """
    return PixelPlan(
        (),
        blank_mask=outside,
        notes=(
            "Text could not be read here, so everything outside the picture was blanked, scales and settings too; "
            "text on the picture was not looked for.",
        ),
    )


def blank(chunks: Iterable[FrameChunk], plan: PixelPlan) -> Iterator[NDArray[np.uint8]]:
    """Yield the frames of a clip, one chunk at a time, with the planned pixels black. The chunks are not changed.

    Yields
    ------
    ndarray of shape (frame, row, col) or (frame, row, col, 3)
    """
    for chunk in chunks:
        pixels = np.array(chunk.pixels)
        for box in plan.blanked:
            pixels[:, box.row0 : box.row1, box.col0 : box.col1] = _BLANK
        if plan.blank_mask is not None:
            pixels[:, plan.blank_mask] = _BLANK
        yield pixels
