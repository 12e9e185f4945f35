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
_MARGIN_SHARE: Final = 0.25  # of the height of the text
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
    Outside the picture everything that is not technical goes. A technical text goes with it where the two
    boxes touch.
    """
    blanked: list[Box] = []
    flagged: list[Box] = []
    for item in texts:
        if item.is_technical:
            continue
        margin = max(_LEAST_MARGIN_PX, round(_MARGIN_SHARE * item.box.height_px))
        box = Box(
            row0=item.box.row0 - margin,
            col0=item.box.col0 - margin,
            row1=item.box.row1 + margin,
            col1=item.box.col1 + margin,
        ).clipped_to(rows, cols)
        if box is None:
            continue
        (flagged if item.inside_picture and not blank_inside else blanked).append(box)
    return PixelPlan(tuple(dict.fromkeys(blanked)), tuple(dict.fromkeys(flagged)))


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
