"""Paint a colour Doppler clip onto the screen of an invented console, and say what is true of it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.simulate.colour.colour_beams import ColourBeams
from fanlight.simulate.colour.colour_estimate import cut_off_m_s
from fanlight.simulate.colour.colour_map import colour_table
from fanlight.simulate.colour.colour_picture import Coloured, outline_px, paint_colours
from fanlight.simulate.colour.colour_setting import ColourSetting
from fanlight.simulate.machine.scan_convert import scan_convert
from fanlight.simulate.screen.ecg_strip import EcgStrip
from fanlight.simulate.screen.export import exported
from fanlight.simulate.screen.screen import paint
from fanlight.simulate.screen.screen_colour_layouts import COLOUR_STYLES, ColourStyle, Ends, SpeedUnit
from fanlight.simulate.screen.screen_colour_regions import bar_region, colour_region, lying_under
from fanlight.simulate.screen.screen_facts import ScreenFacts
from fanlight.simulate.screen.screen_layout import Align, Layout
from fanlight.simulate.screen.screen_place import place_sector
from fanlight.simulate.screen.screen_truth import Placed, Screen, TextTruth
from fanlight.simulate.screen.screen_words import draw_words
from fanlight.study import Box

Frames = NDArray[np.uint8]

_GAP_PX = 6  # between bar and numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourTruth:
    """What is true of the colour on a screen. Points are (row, col) in pixels of the whole screen."""

    corners_px: tuple[tuple[float, float], ...]  # of the box: near left, near right, far right, far left
    outline_px: tuple[tuple[float, float], ...]  # the same with its arcs
    box: Box  # upright, round the outline
    bar: Box  # of the colours, without numbers
    zero_row_px: float  # of the bar, where nothing moves
    range_m_s: tuple[float, float]  # at the lower and upper end of the bar
    setting: ColourSetting
    shown_fraction: float  # of the box's pixels that are coloured, mean over the frames


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ColourScreen:
    """A painted screen and everything that is true of its colour."""

    screen: Screen
    colour: ColourTruth


def paint_colour(
    layout: Layout,
    beams: ColourBeams,
    facts: ScreenFacts,
    *,
    ecg: EcgStrip | None = None,
    labelled: bool = False,
    marker_at_left: bool = False,
    scale_ratio: float = 1.0,
) -> ColourScreen:
    """Return the whole screen of a colour still or clip, RGB.

    Parameters
    ----------
    layout : Layout
        The console's screen; its key has a `ColourStyle`.
    beams : ColourBeams
        Grey and colour; flip them with `colour_beams.mirrored` first where the picture was.
    facts : ScreenFacts
        As for `screen.paint`; its frame rate is that of the colour picture.
    ecg, labelled, marker_at_left
        As for `screen.paint`.
    scale_ratio : float
        Size of the export over that of the screen.

    Returns
    -------
    ColourScreen
        Outside the box every pixel of the picture is that of the grey picture.
    """
    lines, style = beams.grey.geometry, COLOUR_STYLES[layout.key]
    placed = place_sector(
        layout, left_deg=lines.left_deg, right_deg=lines.right_deg, face_radius_mm=lines.apex_mm,
        depth_mm=lines.depth_mm,
    )  # fmt: skip
    sector = placed.sector_in_box
    grey = scan_convert(beams.grey, sector, rows=placed.box.height_px, cols=placed.box.width_px)
    screen = paint(
        layout, grey, placed, facts, times_ms=beams.times_ms, ecg=ecg, labelled=labelled, marker_at_left=marker_at_left
    )
    coloured = paint_colours(beams, sector, grey, placed.mm_per_px)
    outline = tuple(outline_px(beams, placed.sector, placed.mm_per_px))
    still = screen.frames[0].copy()  # what stands still is drawn once
    texts, bar = _draw_bar(still, style, beams.setting)
    texts += _draw_words(still, style, beams.setting)
    _lay(screen.frames, still, [bar, *(text.box for text in texts)], style)
    _lay_colour(screen.frames, coloured, placed, outline, style)
    truth = _truth(beams, coloured, outline, bar)
    regions = (
        *(lying_under(region) for region in screen.regions),
        colour_region(placed, truth.box, beams.setting),
        bar_region(bar, beams.setting),
    )
    painted = replace(screen, regions=regions, texts=(*screen.texts, *texts))
    return _exported(ColourScreen(screen=painted, colour=truth), scale_ratio)


def _lay(frames: Frames, still: Frames, boxes: list[Box], style: ColourStyle) -> None:
    """Copy what was drawn once, with a rim for frame and zero mark, onto every frame."""
    rim = _GAP_PX if style.zero_mark or style.frame_ink is not None else 0
    for box in boxes:
        rows = slice(max(box.row0 - rim, 0), box.row1 + rim)
        cols = slice(max(box.col0 - rim, 0), box.col1 + rim)
        frames[:, rows, cols] = still[rows, cols]


def _lay_colour(
    frames: Frames, coloured: Coloured, placed: Placed, outline: tuple[tuple[float, float], ...], style: ColourStyle
) -> None:
    box = coloured.box
    rows = slice(placed.box.row0 + box.row0, placed.box.row0 + box.row1)
    cols = slice(placed.box.col0 + box.col0, placed.box.col0 + box.col1)
    points = np.array([[round(col), round(row)] for row, col in outline], np.int32)
    for frame, rgb, mask in zip(frames, coloured.rgb, coloured.mask, strict=True):
        cv2.copyTo(rgb, mask, frame[rows, cols])
        cv2.polylines(frame, [points], True, style.outline_ink, 1)


def _draw_bar(canvas: Frames, style: ColourStyle, setting: ColourSetting) -> tuple[list[TextTruth], Box]:
    bar = Box(row0=style.bar_row0, row1=style.bar_row1, col0=style.bar_col0, col1=style.bar_col1)
    table = colour_table(setting.map_key, setting.baseline_shift_fraction, setting.is_inverted)
    # upwards towards the probe; variance grows to the right
    picture = cv2.resize(
        np.ascontiguousarray(table.transpose(1, 0, 2)[::-1]), (bar.width_px, bar.height_px),
        interpolation=cv2.INTER_LINEAR,
    )  # fmt: skip
    canvas[bar.row0 : bar.row1, bar.col0 : bar.col1] = picture
    if style.frame_ink is not None:
        cv2.rectangle(canvas, (bar.col0 - 1, bar.row0 - 1), (bar.col1, bar.row1), style.frame_ink, 1)
    if style.zero_mark:
        row = round(_zero_row(bar, setting))
        cv2.line(canvas, (bar.col0 - 4, row), (bar.col0 - 2, row), style.lettering.ink, 1)
    return _draw_ends(canvas, style, setting, bar), bar


def _draw_ends(canvas: Frames, style: ColourStyle, setting: ColourSetting, bar: Box) -> list[TextTruth]:
    low, high = setting.range_m_s
    middle, cap = (bar.col0 + bar.col1) // 2, style.lettering.height_px
    if style.ends is Ends.ABOVE_AND_BELOW:
        places = [
            (_speed(high, style.unit), bar.row0 - _GAP_PX, middle, Align.CENTRE),
            (_speed(low, style.unit), bar.row1 + _GAP_PX + cap, middle, Align.CENTRE),
            (style.unit.value, bar.row1 + 2 * (_GAP_PX + cap), middle, Align.CENTRE),
        ]
    else:
        is_right = style.ends is Ends.RIGHT
        col, align = (bar.col1 + _GAP_PX, Align.LEFT) if is_right else (bar.col0 - _GAP_PX - 2, Align.RIGHT)
        places = [
            (f"{_speed(high, style.unit)} {style.unit}", bar.row0 + cap, col, align),
            (f"{_speed(low, style.unit)} {style.unit}", bar.row1, col, align),
        ]
    return [
        TextTruth(text=text, box=draw_words(canvas, text, row, col, style.lettering, align), identity=False)
        for text, row, col, align in places
    ]


def _speed(value_m_s: float, unit: SpeedUnit) -> str:
    return f"{value_m_s * 100:+.0f}" if unit is SpeedUnit.CM_S else f"{value_m_s:+.2f}"


def _draw_words(canvas: Frames, style: ColourStyle, setting: ColourSetting) -> list[TextTruth]:
    cut = cut_off_m_s(setting.ensemble, setting.wall_filter_order, setting.scale_m_s)
    filtered = f"{cut * 100:.0f} cm/s" if style.unit is SpeedUnit.CM_S else f"{cut:.2f} m/s"
    names = ("C", "CG", "PRF", "WF") if style.is_short else ("Colour", "Colour gain", "PRF", "Wall filter")
    values = (f"{setting.frequency_mhz:.1f} MHz", f"{setting.gain_db:.0f} dB", f"{setting.prf_hz / 1000:.1f} kHz",
              filtered)  # fmt: skip
    out = []
    for index, (name, value) in enumerate(zip(names, values, strict=True)):
        text = f"{name} {value}"
        row = style.words_row_px + index * style.words_step_px
        box = draw_words(canvas, text, row, style.words_col_px, style.lettering)
        out.append(TextTruth(text=text, box=box, identity=False))
    return out


def _zero_row(bar: Box, setting: ColourSetting) -> float:
    low, high = setting.range_m_s
    return bar.row0 + high / (high - low) * bar.height_px - 0.5


def _truth(beams: ColourBeams, coloured: Coloured, outline: tuple[tuple[float, float], ...], bar: Box) -> ColourTruth:
    n = len(outline) // 2
    rows, cols = [row for row, _ in outline], [col for _, col in outline]
    setting = beams.setting
    area = np.array([[col - min(cols), row - min(rows)] for row, col in outline], np.float32)
    shown = float(np.count_nonzero(coloured.mask)) / len(coloured.mask) / max(float(cv2.contourArea(area)), 1.0)
    return ColourTruth(
        corners_px=(outline[0], outline[n - 1], outline[n], outline[-1]),
        outline_px=outline,
        box=Box(
            row0=math.floor(min(rows)), col0=math.floor(min(cols)), row1=math.ceil(max(rows)) + 1,
            col1=math.ceil(max(cols)) + 1,
        ),
        bar=bar,
        zero_row_px=_zero_row(bar, setting),
        range_m_s=setting.range_m_s,
        setting=setting,
        shown_fraction=shown,
    )  # fmt: skip


def _exported(whole: ColourScreen, ratio: float) -> ColourScreen:
    """Return the screen at another size; everything that is true of it follows."""
    if ratio == 1.0:
        return whole
    screen, old = exported(whole.screen, ratio), whole.colour
    rows, cols = screen.frames.shape[1:3]

    def box(was: Box) -> Box:
        return Box(
            row0=round(was.row0 * ratio), col0=round(was.col0 * ratio), row1=min(round(was.row1 * ratio), rows),
            col1=min(round(was.col1 * ratio), cols),
        )  # fmt: skip

    def points(was: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        # pixel centres are at whole numbers, edges half a pixel off
        return tuple(((row + 0.5) * ratio - 0.5, (col + 0.5) * ratio - 0.5) for row, col in was)

    colour = replace(
        old, corners_px=points(old.corners_px), outline_px=points(old.outline_px), box=box(old.box), bar=box(old.bar),
        zero_row_px=(old.zero_row_px + 0.5) * ratio - 0.5,
    )  # fmt: skip
    return ColourScreen(screen=screen, colour=colour)
