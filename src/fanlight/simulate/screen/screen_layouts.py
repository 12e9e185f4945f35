"""The consoles of rings A and B: five screens of our own. Places are pixels; nothing here was measured on a machine.

All of it is drawn from what a screen must carry (words, scale, time, sides), arranged so that the five differ in every
way that a reader of screens may stumble on: size, ground, letters, side and step of the ruler, place of the trace.
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

_PAPER: Ink = (206, 208, 204)
_STONE: Ink = (150, 154, 156)
_SAND: Ink = (198, 176, 140)
_MOSS: Ink = (128, 170, 138)
_TEAL: Ink = (70, 178, 184)
_ROSE: Ink = (214, 112, 122)
_AMBER: Ink = (224, 160, 60)
_VIOLET: Ink = (160, 128, 224)
_SKY: Ink = (110, 160, 220)


def _head_band() -> Layout:
    """Large screen: a band of names above, settings in a column at the left, ruler at the picture's left."""
    name, small = letters(Typeface.HEAVY, 11, _PAPER), letters(Typeface.PLAIN, 10, _STONE)
    band = Rule(row0=0, col0=0, row1=44, col1=1024, ink=(26, 29, 33), fill=True)
    ruler = RulerStyle(
        col_px=236, shape=TickShape.LINE, step_mm=10.0, size_px=7, large_every=5, large_px=13, number_every=5,
        numbers_left=True, lettering=small, ink=_STONE,
    )  # fmt: skip
    heads = (
        TextBlock(row_px=28, col_px=20, lines=("{practice}",), lettering=name),
        TextBlock(
            row_px=28, col_px=512, lines=("{animal} / {owner}    {case_number}",), lettering=name, align=Align.CENTRE
        ),
        TextBlock(row_px=28, col_px=1004, lines=("{at:%d %b %Y  %H:%M}",), lettering=small, align=Align.RIGHT),
    )
    settings = ("Frequency {frequency_mhz:.1f} MHz", "Gain {gain_db:.0f} dB", "Dynamic range {dynamic_range_db:.0f} dB",
                "Depth {depth_cm:.1f} cm", "Focus {focus_cm:.1f} cm", "Frame rate {frame_rate_hz:.0f} Hz",
                "MI {mechanical_index:.2f}")  # fmt: skip
    return Layout(
        key="head_band", rows=768, cols=1024, ground=(8, 9, 11),
        picture=area(64, 636, 262, 940),
        blocks=(
            *heads,
            TextBlock(row_px=120, col_px=20, lines=settings, lettering=small, step_px=24),
            TextBlock(row_px=646, col_px=20, lines=("HR {heart_rate_bpm:.0f} bpm",),
                lettering=letters(Typeface.PLAIN, 12, _ROSE)),
        ),
        watermark=TextBlock(row_px=84, col_px=20, lines=(MARK,), lettering=letters(Typeface.HEAVY, 12, _SAND)),
        view_label=TextBlock(
            row_px=80, col_px=970, lines=("{view}",), lettering=small, align=Align.RIGHT, step_px=20, width_px=165
        ),
        ruler=ruler,
        marker=MarkerStyle(shape=MarkerShape.RING, size_px=13, gap_px=16, ink=_SAND),
        ecg=EcgStyle(row0=656, row1=752, col0=180, col1=1004, ink=_ROSE, pen=EcgPen.WIPES, px_per_s=170.0,
            gap_px=18),
        focus=FocusMark(col_px=216, shape=FocusShape.CHEVRON, size_px=12, ink=_SAND),
        grey_bar=GreyBar(row0=70, row1=270, col0=986, col1=1002),
        rules=(band,),
        m_mode=MModeStyle(
            guide=area(60, 290, 360, 800), strip=area(320, 640, 180, 1004), cursor_ink=_SAND, cursor_dash_px=6,
            time_tick_s=0.2, time_ticks_below=True, tick_ink=_STONE,
            ruler=RulerStyle(
                col_px=160, shape=TickShape.LINE, step_mm=10.0, size_px=7, large_every=5, large_px=13, number_every=5,
                numbers_left=True, lettering=small, ink=_STONE,
            ),
        ),
        m_mode_blocks=(
            *heads,
            TextBlock(row_px=120, col_px=20, lines=(*settings, "Sweep {sweep_mm_s:.0f} mm/s"), lettering=small,
                step_px=24),
            TextBlock(row_px=646, col_px=20, lines=("HR {heart_rate_bpm:.0f} bpm",),
                lettering=letters(Typeface.PLAIN, 12, _ROSE)),
        ),
        m_mode_rules=(band,),
    )  # fmt: skip


def _foot_rows() -> Layout:
    """Middle size on black: settings in two rows at the foot, ruler with numbers at the right."""
    words, quiet = letters(Typeface.ROUND, 10, _PAPER), letters(Typeface.ROUND, 9, _STONE)
    foot = (
        "Depth {depth_cm:.1f} cm",
        "{frequency_mhz:.1f} MHz {harmonic_word}",
        "Gain {gain_db:.0f} dB",
        "{frame_rate_hz:.0f} Hz",
    )
    second = (
        "Range {dynamic_range_db:.0f} dB",
        "MI {mechanical_index:.1f}",
        "HR {heart_rate_bpm:.0f} bpm",
        "Sweep {sweep_mm_s:.0f} mm/s",
    )
    names = TextBlock(
        row_px=22,
        col_px=16,
        lines=("{animal}", "{owner}", "{case_number}", "{at:%Y-%m-%d}", "{at:%H:%M:%S}"),
        lettering=words,
        step_px=19,
    )
    blocks = (
        names,
        TextBlock(row_px=22, col_px=784, lines=("{practice}",), lettering=quiet, align=Align.RIGHT),
        TextBlock(row_px=562, col_px=60, lines=foot, lettering=words, across_px=185),
        TextBlock(row_px=586, col_px=60, lines=second, lettering=words, across_px=185),
    )
    line = Rule(row0=540, col0=16, row1=540, col1=784, ink=(46, 48, 52))
    return Layout(
        key="foot_rows", rows=600, cols=800, ground=(0, 0, 0),
        picture=area(34, 450, 120, 720),
        blocks=blocks,
        watermark=TextBlock(row_px=22, col_px=230, lines=(MARK,), lettering=letters(Typeface.ROUND, 11, _SKY)),
        view_label=TextBlock(row_px=42, col_px=784, lines=("{view}",), lettering=quiet, align=Align.RIGHT),
        ruler=RulerStyle(
            col_px=752, shape=TickShape.LINE, step_mm=10.0, size_px=9, number_every=2, lettering=quiet, ink=_PAPER,
            axis=False,
        ),
        marker=MarkerStyle(shape=MarkerShape.DISC, size_px=10, gap_px=14, ink=_SKY),
        ecg=EcgStyle(row0=462, row1=532, col0=60, col1=784, ink=_TEAL, pen=EcgPen.WIPES, px_per_s=150.0),
        focus=FocusMark(col_px=738, shape=FocusShape.DIAMOND, size_px=8, ink=_SKY),
        grey_bar=GreyBar(row0=200, row1=380, col0=20, col1=32),
        rules=(line,),
        m_mode=MModeStyle(
            guide=area(34, 200, 260, 560), strip=area(226, 450, 60, 720), cursor_ink=_SKY, cursor_dash_px=5,
            time_tick_s=0.1, time_ticks_below=False, tick_ink=_STONE,
            ruler=RulerStyle(
                col_px=740, shape=TickShape.LINE, step_mm=10.0, size_px=9, number_every=2, lettering=quiet, ink=_PAPER,
            ),
        ),
        m_mode_blocks=blocks,
        m_mode_rules=(line,),
    )  # fmt: skip


def _right_column() -> Layout:
    """Small screen: everything written stands in a column at the right, the ruler of dots at the left."""
    words, quiet = letters(Typeface.PLAIN, 8, _PAPER), letters(Typeface.PLAIN, 8, _STONE)
    names = TextBlock(
        row_px=24,
        col_px=516,
        lines=("{animal}", "{case_number}", "{at:%d/%m/%y %H:%M}", "{practice}"),
        lettering=words,
        step_px=17,
        width_px=116,
    )
    settings = TextBlock(
        row_px=140, col_px=516, step_px=18, lettering=quiet,
        lines=("Depth {depth_cm:.1f} cm", "Freq {frequency_mhz:.1f} MHz", "Gain {gain_db:.0f} dB",
            "DR {dynamic_range_db:.0f} dB",
               "FR {frame_rate_hz:.0f} Hz", "MI {mechanical_index:.2f}", "Sweep {sweep_mm_s:.0f} mm/s"),
    )  # fmt: skip
    pulse = TextBlock(
        row_px=440, col_px=516, lines=("HR {heart_rate_bpm:.0f} bpm",), lettering=letters(Typeface.PLAIN, 9, _AMBER)
    )
    parting = Rule(row0=8, col0=504, row1=471, col1=504, ink=(52, 50, 46))
    return Layout(
        key="right_column", rows=480, cols=640, ground=(14, 13, 12),
        picture=area(12, 392, 44, 494),
        blocks=(names, settings, pulse),
        watermark=TextBlock(row_px=470, col_px=516, lines=(MARK,), lettering=letters(Typeface.HEAVY, 9, _AMBER)),
        view_label=TextBlock(row_px=272, col_px=536, lines=("{view}",), lettering=words, step_px=16, width_px=96),
        ruler=RulerStyle(col_px=24, shape=TickShape.DOT, step_mm=10.0, size_px=4, large_every=5, large_px=8,
            ink=_PAPER),
        marker=MarkerStyle(shape=MarkerShape.CROSS, size_px=11, gap_px=12, ink=_AMBER),
        ecg=EcgStyle(row0=404, row1=470, col0=20, col1=494, ink=_AMBER, pen=EcgPen.SCROLLS, px_per_s=110.0,
            marks_r_waves=True),
        focus=FocusMark(col_px=36, shape=FocusShape.BAR, size_px=12, ink=_AMBER),
        grey_bar=GreyBar(row0=300, row1=400, col0=516, col1=526),
        rules=(parting,),
        m_mode=MModeStyle(
            guide=area(12, 150, 120, 400), strip=area(172, 386, 44, 494), cursor_ink=_AMBER, cursor_dash_px=4,
            time_tick_s=0.2, time_ticks_below=True, tick_ink=_STONE,
            ruler=RulerStyle(col_px=24, shape=TickShape.DOT, step_mm=10.0, size_px=4, large_every=5, large_px=8,
                ink=_PAPER),
        ),
        m_mode_blocks=(names, settings, pulse),
        m_mode_rules=(parting,),
    )  # fmt: skip


def _left_panel() -> Layout:
    """Large screen with a filled panel at the left; the trace runs above the picture, half centimetres on an axis."""
    words, quiet = letters(Typeface.ROUND, 11, _PAPER), letters(Typeface.ROUND, 10, _STONE)
    panel = Rule(row0=0, col0=0, row1=768, col1=214, ink=(30, 31, 36), fill=True)
    settings = TextBlock(
        row_px=150, col_px=18, step_px=27, lettering=quiet,
        lines=("Depth  {depth_cm:.1f} cm", "Frequency  {frequency_mhz:.1f} MHz", "{harmonic_word}",
            "Gain  {gain_db:.0f} dB",
               "Range  {dynamic_range_db:.0f} dB", "Frame rate  {frame_rate_hz:.0f} Hz", "MI  {mechanical_index:.1f}",
               "Sweep  {sweep_mm_s:.0f} mm/s"),
    )  # fmt: skip
    names = TextBlock(
        row_px=600, col_px=18, step_px=25, lettering=words,
        lines=("{animal}", "{owner}", "{case_number}", "{at:%d.%m.%Y}", "{at:%H:%M}", "{practice}"), width_px=182,
    )  # fmt: skip
    pulse = TextBlock(
        row_px=60, col_px=18, lines=("HR {heart_rate_bpm:.0f} bpm",), lettering=letters(Typeface.ROUND, 13, _VIOLET)
    )
    return Layout(
        key="left_panel", rows=768, cols=1024, ground=(17, 18, 21),
        picture=area(128, 752, 236, 950),
        blocks=(settings, names, pulse),
        watermark=TextBlock(row_px=104, col_px=18, lines=(MARK,), lettering=letters(Typeface.ROUND, 12, _MOSS)),
        view_label=TextBlock(row_px=420, col_px=48, lines=("{view}",), lettering=quiet, step_px=22, width_px=150),
        ruler=RulerStyle(
            col_px=978, shape=TickShape.LINE, step_mm=5.0, size_px=6, large_every=2, large_px=14, number_every=4,
            lettering=quiet, ink=_STONE, axis=True,
        ),
        marker=MarkerStyle(shape=MarkerShape.SQUARE, size_px=12, gap_px=18, ink=_MOSS),
        ecg=EcgStyle(row0=14, row1=108, col0=236, col1=1008, ink=_VIOLET, pen=EcgPen.WIPES, px_per_s=160.0,
            gap_px=22),
        focus=FocusMark(col_px=960, shape=FocusShape.TRIANGLE, size_px=12, ink=_MOSS),
        grey_bar=GreyBar(row0=400, row1=560, col0=18, col1=34, frame_ink=(70, 72, 78)),
        rules=(panel,),
        m_mode=MModeStyle(
            guide=area(128, 360, 420, 780), strip=area(390, 738, 236, 950), cursor_ink=_MOSS, cursor_dash_px=8,
            time_tick_s=0.2, time_ticks_below=True, tick_ink=_STONE,
            ruler=RulerStyle(
                col_px=978, shape=TickShape.LINE, step_mm=5.0, size_px=6, large_every=2, large_px=14, number_every=4,
                lettering=quiet, ink=_STONE, axis=True,
            ),
        ),
        m_mode_blocks=(settings, names, pulse),
        m_mode_rules=(panel,),
    )  # fmt: skip


def _corners() -> Layout:
    """Dark blue: short words in the corners, wedges for marks, a grey bar that lies, a panel for the trace"""
    words, quiet = letters(Typeface.PLAIN, 9, _PAPER), letters(Typeface.PLAIN, 9, _STONE)
    names = TextBlock(
        row_px=406, col_px=16, step_px=17, lettering=words, width_px=130,
        lines=("{animal} {owner}", "{case_number}", "{practice}", "{at:%d %b %Y %H:%M}"),
    )  # fmt: skip
    settings = TextBlock(
        row_px=28, col_px=16, step_px=20, lettering=quiet,
        lines=("D {depth_cm:.1f} cm", "{frequency_mhz:.1f} MHz", "G {gain_db:.0f} dB", "{frame_rate_hz:.0f} fps",
               "MI {mechanical_index:.1f}", "{heart_rate_bpm:.0f} bpm", "Sweep {sweep_mm_s:.0f} mm/s"),
    )  # fmt: skip
    panel: Ink = (14, 20, 30)
    return Layout(
        key="corners", rows=600, cols=800, ground=(5, 7, 12),
        picture=area(18, 490, 150, 720),
        blocks=(names, settings),
        watermark=TextBlock(row_px=52, col_px=724, lines=(MARK,), lettering=letters(Typeface.HEAVY, 10, _MOSS),
            align=Align.RIGHT),
        view_label=TextBlock(row_px=78, col_px=724, lines=("{view}",), lettering=quiet, align=Align.RIGHT,
            step_px=17, width_px=150),
        ruler=RulerStyle(col_px=766, shape=TickShape.WEDGE, step_mm=10.0, size_px=10, ink=_STONE),
        marker=MarkerStyle(shape=MarkerShape.DISC, size_px=9, gap_px=12, ink=_MOSS),
        ecg=EcgStyle(row0=512, row1=590, col0=16, col1=784, ink=_MOSS, pen=EcgPen.WIPES, px_per_s=140.0, ground=panel),
        focus=FocusMark(col_px=750, shape=FocusShape.TRIANGLE, size_px=8, ink=_MOSS),
        grey_bar=GreyBar(row0=20, row1=30, col0=604, col1=724, across=True),
        m_mode=MModeStyle(
            guide=area(18, 170, 250, 510), strip=area(192, 380, 110, 724), cursor_ink=_MOSS, cursor_dash_px=6,
            time_tick_s=0.2, time_ticks_below=True, tick_ink=_STONE,
            ruler=RulerStyle(col_px=766, shape=TickShape.WEDGE, step_mm=10.0, size_px=10, ink=_STONE),
        ),
        m_mode_blocks=(names, settings),
    )  # fmt: skip


LAYOUTS: dict[str, Layout] = {
    layout.key: layout for layout in (_head_band(), _foot_rows(), _right_column(), _left_panel(), _corners())
}
