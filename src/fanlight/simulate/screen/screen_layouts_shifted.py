"""The consoles of ring C: screens that nothing was tuned on. Do not look at what the finders make of them and mend it.

They differ from those of rings A and B in every respect at once: size, ground, letters, step and shape of the marks,
sides, colours, what is written and what is left out. All are our own.
"""

from __future__ import annotations

from fanlight.simulate.screen.screen_layout import (
    MARK,
    Align,
    EcgPen,
    EcgStyle,
    FocusMark,
    FocusShape,
    GreyBar,
    Ink,
    Layout,
    MarkerShape,
    MarkerStyle,
    MModeStyle,
    Rule,
    RulerStyle,
    TextBlock,
    TickShape,
    Typeface,
    area,
    letters,
)

_CREAM: Ink = (222, 212, 190)
_CLAY: Ink = (168, 146, 122)
_ICE: Ink = (186, 206, 220)
_SLATE: Ink = (118, 130, 142)
_CORAL: Ink = (232, 128, 96)
_LIME: Ink = (176, 204, 92)
_WHITE: Ink = (236, 236, 236)


def _warm() -> Layout:
    """Brown-grey ground, slanted letters above the picture, squares every two centimetres, a trace that scrolls."""
    words, quiet = letters(Typeface.SLANTED, 10, _CREAM), letters(Typeface.SLANTED, 9, _CLAY)
    names = TextBlock(
        row_px=24, col_px=24, lettering=words, step_px=20,
        lines=("{animal}, {owner}", "{case_number}   {at:%d/%m/%Y  %H:%M}", "{practice}"),
    )  # fmt: skip
    settings = TextBlock(
        row_px=24, col_px=430, lettering=quiet, step_px=20,
        lines=("depth {depth_cm:.1f} cm   {frequency_mhz:.1f} MHz",
            "gain {gain_db:.0f} dB   range {dynamic_range_db:.0f} dB",
               "{frame_rate_hz:.0f} fps   MI {mechanical_index:.1f}", "sweep {sweep_mm_s:.0f} mm/s"),
    )  # fmt: skip
    pulse = TextBlock(row_px=520, col_px=24, lines=("{heart_rate_bpm:.0f} bpm",), lettering=words)
    ruler = RulerStyle(col_px=40, shape=TickShape.SQUARE, step_mm=20.0, size_px=5, ink=_CREAM)
    return Layout(
        key="warm", rows=576, cols=720, ground=(30, 26, 22),
        picture=area(92, 478, 90, 640),
        blocks=(names, settings, pulse),
        watermark=TextBlock(
            row_px=566, col_px=700, lines=(MARK,), lettering=letters(Typeface.SLANTED, 12, _LIME), align=Align.RIGHT
        ),
        view_label=TextBlock(row_px=110, col_px=24, lines=("{view}",), lettering=quiet, step_px=18, width_px=170),
        ruler=ruler,
        marker=MarkerStyle(shape=MarkerShape.SQUARE, size_px=11, gap_px=22, ink=_LIME),
        ecg=EcgStyle(row0=486, row1=548, col0=110, col1=700, ink=_CORAL, pen=EcgPen.SCROLLS, px_per_s=95.0),
        focus=FocusMark(col_px=56, shape=FocusShape.CHEVRON, size_px=10, ink=_LIME),
        grey_bar=GreyBar(row0=110, row1=310, col0=682, col1=698, frame_ink=_CLAY),
        m_mode=MModeStyle(
            guide=area(92, 232, 240, 480), strip=area(252, 470, 92, 660), cursor_ink=_CREAM, cursor_dash_px=9,
            time_tick_s=0.5, time_ticks_below=False, tick_ink=_CREAM, ruler=ruler,
        ),
        m_mode_blocks=(names, settings, pulse),
    )  # fmt: skip


def _wide() -> Layout:
    """Wide screen, letters of whole pixels at the left, half centimetres as dots, a short trace under the words."""
    words, quiet = letters(Typeface.PIXELS, 8, _ICE), letters(Typeface.PIXELS, 8, _SLATE)
    settings = TextBlock(
        row_px=120, col_px=28, lettering=quiet, step_px=18,
        lines=("Freq  {frequency_mhz:.1f} MHz", "Gain  {gain_db:.0f} dB", "DynR  {dynamic_range_db:.0f} dB",
            "Depth  {depth_cm:.1f} cm",
               "Focus  {focus_cm:.1f} cm", "Rate  {frame_rate_hz:.0f} Hz", "MI  {mechanical_index:.2f}",
                   "Sweep  {sweep_mm_s:.0f} mm/s"),
    )  # fmt: skip
    names = TextBlock(
        row_px=34, col_px=28, lettering=words, step_px=16,
        lines=("{animal} ({case_number})", "{owner}", "{practice}", "{at:%d-%b-%Y %H:%M:%S}"),
    )  # fmt: skip
    pulse = TextBlock(row_px=480, col_px=28, lines=("Heart {heart_rate_bpm:.0f} bpm",), lettering=words)
    dots = RulerStyle(
        col_px=1210, shape=TickShape.DOT, step_mm=5.0, size_px=3, large_every=10, large_px=7, number_every=10,
        lettering=quiet, ink=_ICE,
    )  # fmt: skip
    return Layout(
        key="wide", rows=720, cols=1280, ground=(6, 10, 14),
        picture=area(24, 700, 420, 1180),
        blocks=(settings, names, pulse),
        watermark=TextBlock(row_px=700, col_px=28, lines=(MARK,), lettering=letters(Typeface.PLAIN, 14, _ICE)),
        view_label=TextBlock(row_px=300, col_px=28, lines=("{view}",), lettering=words, step_px=16, width_px=300),
        ruler=dots,
        marker=MarkerStyle(shape=MarkerShape.RING, size_px=17, gap_px=24, ink=_ICE),
        ecg=EcgStyle(
            row0=500, row1=650, col0=28, col1=400, ink=_LIME, pen=EcgPen.WIPES, px_per_s=90.0, gap_px=8, line_px=2,
            ground=(12, 18, 24),
        ),
        focus=FocusMark(col_px=1194, shape=FocusShape.DIAMOND, size_px=10, ink=_LIME),
        m_mode=MModeStyle(
            guide=area(24, 250, 620, 980), strip=area(280, 590, 420, 1180), trace_rows=(610, 690),
                cursor_ink=_LIME, cursor_dash_px=3,
            time_tick_s=0.25, time_ticks_below=True, tick_ink=_SLATE, ruler=dots,
        ),
        m_mode_blocks=(settings, names),
    )  # fmt: skip


def _framed() -> Layout:
    """Thin frames; no depth in words, only plain marks at the left; grey bar lying below; trace at the top."""
    words, quiet = letters(Typeface.NARROW, 11, _WHITE), letters(Typeface.NARROW, 10, _SLATE)
    frames = tuple(
        Rule(row0=r0, col0=c0, row1=r1, col1=c1, ink=(62, 66, 72))
        for r0, c0, r1, c1 in ((88, 10, 88, 949), (640, 10, 640, 949), (88, 10, 640, 10), (88, 949, 640, 949))
    )
    names = TextBlock(
        row_px=668, col_px=24, lettering=words, step_px=22, lines=("{animal} {owner}", "{case_number}", "{practice}")
    )
    settings = TextBlock(
        row_px=668, col_px=936, lettering=quiet, step_px=22, align=Align.RIGHT,
        lines=("{at:%d.%m.%y %H:%M}", "{frequency_mhz:.1f} MHz  {gain_db:.0f} dB",
            "{frame_rate_hz:.0f} Hz  {heart_rate_bpm:.0f} bpm"),
    )  # fmt: skip
    marks = RulerStyle(col_px=40, shape=TickShape.LINE, step_mm=10.0, size_px=12, ink=_SLATE, axis=True)
    return Layout(
        key="framed", rows=720, cols=960, ground=(20, 20, 24),
        picture=area(96, 632, 90, 930),
        blocks=(names, settings),
        watermark=TextBlock(
            row_px=624, col_px=930, lines=(MARK,), lettering=letters(Typeface.NARROW, 13, _CORAL), align=Align.RIGHT
        ),
        view_label=TextBlock(row_px=668, col_px=330, lines=("{view}",), lettering=quiet, step_px=22, width_px=320),
        ruler=marks,
        marker=MarkerStyle(shape=MarkerShape.CROSS, size_px=15, gap_px=20, ink=_CORAL),
        ecg=EcgStyle(row0=10, row1=82, col0=24, col1=936, ink=_WHITE, pen=EcgPen.WIPES, px_per_s=200.0, gap_px=30),
        grey_bar=GreyBar(row0=700, row1=710, col0=330, col1=630, across=True),
        rules=frames,
        m_mode=MModeStyle(
            guide=area(96, 300, 300, 660), strip=area(330, 600, 70, 930), cursor_ink=_CORAL, cursor_dash_px=7,
            time_tick_s=0.1, time_ticks_below=True, tick_ink=_WHITE, ruler=marks,
        ),
        m_mode_blocks=(names, settings),
        m_mode_rules=frames,
    )  # fmt: skip


SHIFTED_LAYOUTS: dict[str, Layout] = {layout.key: layout for layout in (_warm(), _wide(), _framed())}
