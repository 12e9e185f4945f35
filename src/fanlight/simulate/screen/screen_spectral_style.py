"""How each invented console lays out a spectrum: beside its other places, in a value of its own.

The guide hangs above the strip where the console shows that of an M-mode. What differs from console to console beyond
that: side and unit of the velocity axis, whether it carries signs, how gate and baseline are drawn.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from fanlight.simulate.screen.screen_layout import (
    EcgPen,
    EcgStyle,
    Ink,
    Layout,
    Lettering,
    PictureArea,
    TextBlock,
    Typeface,
    area,
    letters,
)


class GateShape(StrEnum):
    """How the gate is drawn on the cursor."""

    BARS = "a short bar across the cursor at each end"
    BRACKETS = "bars with ends bent inwards"
    BOX = "a box"


class VelocityUnit(StrEnum):
    """Unit of the numbers beside the strip."""

    CM_S = "cm/s"
    M_S = "m/s"

    @property
    def cm_s(self) -> float:
        """How many cm/s it is."""
        return 100.0 if self is VelocityUnit.M_S else 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SpectralStyle:
    """Places and inks of a spectrum on one console."""

    guide: PictureArea | None  # None: the strip stands alone
    strip: PictureArea
    trace: EcgStyle  # keeps step with the strip
    unit: VelocityUnit
    axis_left: bool
    signed: bool  # numbers below the baseline carry a minus
    lettering: Lettering  # of the numbers
    tick_ink: Ink
    tick_px: int
    baseline_ink: Ink
    time_tick_s: float
    time_ticks_below: bool
    gate: GateShape
    mark_ink: Ink  # cursor, gate, angle
    cursor_dash_px: int
    words: TextBlock  # place and letters of the settings; its lines are filled in when the screen is painted
    words_a_line: int  # settings in one line


@dataclass(frozen=True, slots=True, kw_only=True)
class _Own:
    """What a console has of its own."""

    unit: VelocityUnit
    signed: bool
    gate: GateShape
    tick_px: int
    baseline_ink: Ink
    large_guide: bool = False
    words_shift_px: int = 0  # of the settings beside the guide
    alone_narrower_px: int = 0  # a strip that stands alone keeps clear of words at its left


_PALE: Ink = (150, 150, 150)
_OWN: dict[str, _Own] = {
    "head_band": _Own(unit=VelocityUnit.CM_S, signed=True, gate=GateShape.BARS, tick_px=6, baseline_ink=(198, 176, 140),
        alone_narrower_px=28),
    "foot_rows": _Own(unit=VelocityUnit.M_S, signed=True, gate=GateShape.BOX, tick_px=8, baseline_ink=(70, 178, 184),
        alone_narrower_px=44),
    "right_column": _Own(unit=VelocityUnit.CM_S, signed=False, gate=GateShape.BARS, tick_px=4, baseline_ink=_PALE,
        words_shift_px=-30),
    "left_panel": _Own(
        unit=VelocityUnit.M_S, signed=False, gate=GateShape.BRACKETS, tick_px=7, baseline_ink=(128, 170, 138),
        large_guide=True,
    ),
    "corners": _Own(unit=VelocityUnit.CM_S, signed=True, gate=GateShape.BRACKETS, tick_px=5, baseline_ink=_PALE,
        alone_narrower_px=34),
}  # fmt: skip
_UNKNOWN = _Own(unit=VelocityUnit.CM_S, signed=True, gate=GateShape.BARS, tick_px=6, baseline_ink=_PALE)
_LARGER = 0.22  # of the strip's height that a large guide takes from it (engineering judgement)
_ALONE_TOP = 0.4  # of the guide's height left above a strip that stands alone, for the words
_WORDS_GAP_PX, _WORDS_DOWN_PX = 14, 46  # of the settings, from the guide's right edge and from its top


def spectral_style(layout: Layout, *, has_guide: bool = True) -> SpectralStyle:
    """Return how a console shows spectra.

    Parameters
    ----------
    layout : Layout
        Of any ring.
    has_guide : bool
        False: the picture is not shown beside the strip, which is then taller.
    """
    own, m_mode = _OWN.get(layout.key, _UNKNOWN), layout.m_mode
    guide, strip = m_mode.guide, m_mode.strip
    if has_guide and own.large_guide:
        taken = round(_LARGER * (strip.row1 - strip.row0))
        guide = area(guide.row0, guide.row1 + taken, guide.col0, guide.col1)
        strip = area(strip.row0 + taken, strip.row1, strip.col0, strip.col1)
    if not has_guide:
        top = guide.row0 + round(_ALONE_TOP * (guide.row1 - guide.row0))
        strip = area(max(top, guide.row0 + 50), strip.row1, strip.col0 + own.alone_narrower_px, strip.col1)
        bar = layout.grey_bar
        if bar is not None and bar.row1 > strip.row0 and bar.row0 < strip.row1 and strip.col0 < bar.col0 < strip.col1:
            strip = area(strip.row0, strip.row1, strip.col0, bar.col0 - _WORDS_GAP_PX)
    lettering = m_mode.ruler.lettering or _quiet(layout)
    step = round(1.9 * lettering.height_px)
    if has_guide:
        col = guide.col1 + _WORDS_GAP_PX + own.words_shift_px
        row = guide.row0 + _WORDS_DOWN_PX
        words = TextBlock(row_px=row, col_px=col, lines=(), lettering=lettering, step_px=step)
    else:
        words = TextBlock(row_px=strip.row0 - 2 * step, col_px=strip.col0, lines=(), lettering=lettering, step_px=step)
    return SpectralStyle(
        guide=guide if has_guide else None,
        strip=strip,
        trace=_trace(layout, strip),
        unit=own.unit,
        axis_left=m_mode.ruler.col_px < strip.col0,
        signed=own.signed,
        lettering=lettering,
        tick_ink=m_mode.tick_ink,
        tick_px=own.tick_px,
        baseline_ink=own.baseline_ink,
        time_tick_s=m_mode.time_tick_s,
        time_ticks_below=m_mode.time_ticks_below,
        gate=own.gate,
        mark_ink=m_mode.cursor_ink,
        cursor_dash_px=m_mode.cursor_dash_px,
        words=words,
        words_a_line=1 if has_guide else 3,
    )


def _quiet(layout: Layout) -> Lettering:
    """Letters of the smaller words of a console whose ruler has no numbers; none of them heavy."""
    blocks = [block.lettering for block in layout.m_mode_blocks if block.lettering.typeface is not Typeface.HEAVY]
    small = min(blocks, key=lambda item: item.height_px)
    return letters(small.typeface, small.height_px, small.ink)


def _trace(layout: Layout, strip: PictureArea) -> EcgStyle:
    """One time axis for strip and trace: what stands above each other happened together."""
    ecg = layout.ecg
    row0, row1 = layout.m_mode.trace_rows or (ecg.row0, ecg.row1)
    return EcgStyle(
        row0=row0, row1=row1, col0=strip.col0, col1=strip.col1, ink=ecg.ink, pen=EcgPen.SCROLLS,
        sweep_mm_s=ecg.sweep_mm_s, line_px=ecg.line_px, ground=ecg.ground,
    )  # fmt: skip
