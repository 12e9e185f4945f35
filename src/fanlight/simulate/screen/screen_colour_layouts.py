"""Where each invented console puts what colour Doppler adds: the bar with the scale's ends, a few words.

Three arrangements of our own: numbers above and below the bar with the unit under them, beside its ends at the right,
beside its ends at the left. Nothing lies on the fan; a test holds that for every console.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from fanlight.simulate.screen.screen_layout import Ink, Lettering, Typeface, letters

_PAPER: Ink = (206, 208, 204)
_STONE: Ink = (150, 154, 156)
_FRAME: Ink = (70, 72, 78)
_CREAM: Ink = (222, 212, 190)
_ICE: Ink = (186, 206, 220)
_WHITE: Ink = (236, 236, 236)


class Ends(StrEnum):
    """Where the numbers of a colour bar stand."""

    ABOVE_AND_BELOW = "above and below it"
    RIGHT = "at the right of its ends"
    LEFT = "at the left of its ends"


class SpeedUnit(StrEnum):
    """In what the scale is written."""

    CM_S = "cm/s"
    M_S = "m/s"


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourStyle:
    """One console's additions. Places are pixels; the last row and column of the bar are outside."""

    bar_row0: int
    bar_row1: int
    bar_col0: int
    bar_col1: int
    ends: Ends
    unit: SpeedUnit
    lettering: Lettering
    words_row_px: int  # baseline of the first line of words
    words_col_px: int
    words_step_px: int
    is_short: bool  # abbreviations instead of words
    outline_ink: Ink  # of the colour box
    frame_ink: Ink | None = None  # round the bar
    zero_mark: bool = False  # a short line beside the bar where nothing moves


def _style(
    bar: tuple[int, int, int, int], ends: Ends, unit: SpeedUnit, lettering: Lettering, words: tuple[int, int, int],
    outline: Ink, *, is_short: bool = False, frame_ink: Ink | None = None, zero_mark: bool = False,
) -> ColourStyle:  # fmt: skip
    return ColourStyle(
        bar_row0=bar[0], bar_row1=bar[1], bar_col0=bar[2], bar_col1=bar[3], ends=ends, unit=unit, lettering=lettering,
        words_row_px=words[0], words_col_px=words[1], words_step_px=words[2], is_short=is_short, outline_ink=outline,
        frame_ink=frame_ink, zero_mark=zero_mark,
    )  # fmt: skip


# By the key of the console's layout, rings A and B first, then ring C.
COLOUR_STYLES: dict[str, ColourStyle] = {
    "head_band": _style(
        (340, 520, 976, 996), Ends.ABOVE_AND_BELOW, SpeedUnit.CM_S, letters(Typeface.PLAIN, 10, _STONE),
        (330, 20, 24), (198, 176, 140),
    ),
    "foot_rows": _style(
        (206, 380, 64, 80), Ends.ABOVE_AND_BELOW, SpeedUnit.CM_S, letters(Typeface.ROUND, 9, _STONE),
        (126, 16, 17), (206, 208, 204), is_short=True, zero_mark=True,
    ),
    "right_column": _style(
        (332, 408, 552, 564), Ends.RIGHT, SpeedUnit.M_S, letters(Typeface.PLAIN, 8, _PAPER),
        (26, 46, 16), (224, 160, 60), is_short=True,
    ),
    "left_panel": _style(
        (150, 330, 926, 944), Ends.LEFT, SpeedUnit.M_S, letters(Typeface.ROUND, 10, _STONE),
        (160, 246, 22), (128, 170, 138), frame_ink=_FRAME, zero_mark=True,
    ),
    "corners": _style(
        (250, 380, 30, 42), Ends.RIGHT, SpeedUnit.CM_S, letters(Typeface.PLAIN, 9, _STONE),
        (178, 16, 18), (150, 154, 156), is_short=True, zero_mark=True,
    ),
    "warm": _style(
        (340, 446, 680, 696), Ends.ABOVE_AND_BELOW, SpeedUnit.CM_S, letters(Typeface.SLANTED, 9, _CREAM),
        (112, 540, 18), (176, 204, 92), frame_ink=_FRAME,
    ),
    "wide": _style(
        (60, 240, 1146, 1164), Ends.LEFT, SpeedUnit.M_S, letters(Typeface.PIXELS, 8, _ICE),
        (380, 28, 18), (186, 206, 220), zero_mark=True,
    ),
    "framed": _style(
        (116, 296, 902, 918), Ends.LEFT, SpeedUnit.CM_S, letters(Typeface.NARROW, 10, _WHITE),
        (120, 100, 22), (236, 236, 236),
    ),
}  # fmt: skip
