"""Paint a spectrum onto the screen of an invented console, and say what is true of that screen."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.simulate.screen.ecg_strip import EcgStrip
from fanlight.simulate.screen.screen_ecg import EcgPainter
from fanlight.simulate.screen.screen_facts import ScreenFacts
from fanlight.simulate.screen.screen_furniture import draw_block, draw_grey_bar, draw_marker, draw_rules
from fanlight.simulate.screen.screen_gate import cursor_ends, draw_cursor, gate_middle
from fanlight.simulate.screen.screen_layout import Align, EcgStyle, Layout
from fanlight.simulate.screen.screen_place import area_box, fan_mask, place_sector
from fanlight.simulate.screen.screen_regions import ecg_region
from fanlight.simulate.screen.screen_spectral_style import SpectralStyle, VelocityUnit
from fanlight.simulate.screen.screen_truth import Placed, TextTruth
from fanlight.simulate.screen.screen_words import draw_words
from fanlight.simulate.screen.spectral_regions import guide_region, spectral_region
from fanlight.simulate.spectral.spectral_setting import SpectralSetting
from fanlight.simulate.spectral.spectral_strip import SpectralStrip
from fanlight.study import Box, Mode, Region

Frames = NDArray[np.uint8]
_TICKS_AT_LEAST = 4  # numbers beside the strip; steps are 1, 2 or 5 times a power of ten
_LETTERS = {Mode.PULSED_WAVE: "PW", Mode.CONTINUOUS_WAVE: "CW", Mode.TISSUE_DOPPLER: "TDI"}


@dataclass(frozen=True, slots=True, kw_only=True)
class VelocityTick:
    """One mark of the velocity axis."""

    row_px: int
    cm_s: float  # as the axis says: upwards positive, or the size only where the console writes no signs


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpectralScreen:
    """What the console shows, and where everything truly is."""

    frames: Frames  # (frame, row, col) or (frame, row, col, 3) RGB
    regions: tuple[Region, ...]  # as the file shall state them
    placed: Placed | None  # the guide; None where there is none
    texts: tuple[TextTruth, ...]
    ticks: tuple[VelocityTick, ...]
    strip_box: Box
    baseline_row_px: int  # on the screen
    ecg_box: Box | None = None
    cursor_px: tuple[int, int, int, int] | None = None  # row0, col0, row1, col1 on the guide
    gate_px: tuple[int, int] | None = None  # middle of the gate on the guide (row, col)


def spectral_box(style: SpectralStyle) -> Box:
    """Return where the strip lies: what is rendered must be as large as this."""
    return area_box(style.strip)


def place_spectral_guide(
    layout: Layout, style: SpectralStyle, *, left_deg: float, right_deg: float, face_radius_mm: float, depth_mm: float
) -> Placed:
    """Return where the guide lies; parameters as for `place_sector`.

    Raises
    ------
    ValueError
        If this arrangement has no guide.
    """
    if style.guide is None:
        raise ValueError(f"screen {layout.key!r}: the strip stands alone here, there is no room for a guide")
    there = replace(layout, m_mode=replace(layout.m_mode, guide=style.guide))
    return place_sector(
        there, left_deg=left_deg, right_deg=right_deg, face_radius_mm=face_radius_mm, depth_mm=depth_mm, as_guide=True
    )


def setting_words(setting: SpectralSetting) -> tuple[str, ...]:
    """Return what the screen says of a spectrum."""
    gate = f"Gate {setting.gate_mm:.1f} mm at {setting.gate_depth_mm / 10:.1f} cm"
    return (
        f"{_LETTERS[setting.mode]} {setting.frequency_mhz:.1f} MHz",
        *((f"PRF {setting.sample_hz / 1000:.2f} kHz",) if setting.is_gated else ()),
        gate if setting.is_gated else f"Cross {setting.gate_depth_mm / 10:.1f} cm",
        "Low pass" if setting.has_low_pass else f"Filter {setting.wall_filter_cm_s:.0f} cm/s",
        f"Gain {setting.gain_db:.0f} dB",
        *((f"Angle {setting.corrected_deg:.0f}°",) if setting.corrected_deg else ()),
        *(("Inverted",) if setting.is_inverted else ()),
    )


def paint_spectrum(
    layout: Layout,
    style: SpectralStyle,
    strip: SpectralStrip,
    facts: ScreenFacts,
    *,
    guide: Frames | None = None,
    placed: Placed | None = None,
    ecg: EcgStrip | None = None,
    colour: bool = True,
    labelled: bool = False,
    marker_at_left: bool = False,
) -> SpectralScreen:
    """Return the screen of a spectrum: a still, or a frozen strip beside a guide that runs.

    Parameters
    ----------
    layout, style : Layout, SpectralStyle
        The console's screen, and its arrangement from `spectral_style`.
    strip : SpectralStrip
        As large as `spectral_box`.
    facts : ScreenFacts
        What the screen says of picture and animal; the spectrum's own settings come from the strip.
    guide : ndarray of shape (frame, row, col), optional
        Grey levels as large as ``placed.box``; one frame makes a still. None where the strip stands alone.
    placed : Placed, optional
        From `place_spectral_guide`.
    ecg : EcgStrip or None
        In the times of the strip; None: no leads are on.
    colour, labelled, marker_at_left
        As for `screen.paint`; with the marker at the left the cursor is mirrored too.

    Raises
    ------
    ValueError
        If strip, guide and fields do not fit each other.
    """
    box = spectral_box(style)
    _check(style, box, strip, guide, placed)
    trace = replace(style.trace, px_per_s=1000.0 / strip.ms_per_px)
    base = _ground(layout, None if ecg is None else trace)
    texts = _words(base, layout, style, strip.setting, facts, labelled)
    patch = base[box.row0 : box.row1, box.col0 : box.col1]
    patch[:] = cv2.cvtColor(np.ascontiguousarray(strip.levels), cv2.COLOR_GRAY2RGB)
    ticks, numbers = _draw_axis(base, style, box, strip)
    _draw_time_ticks(base, style, box, strip.ms_per_px)
    cv2.line(
        base, (box.col0, box.row0 + strip.baseline_px), (box.col1 - 1, box.row0 + strip.baseline_px),
        style.baseline_ink, 1,
    )  # fmt: skip
    setting = strip.setting
    # a flipped guide turns the cursor and the mark of correction about the middle
    shown = (
        replace(setting, cursor_deg=-setting.cursor_deg, corrected_deg=-setting.corrected_deg)
        if marker_at_left else setting
    )  # fmt: skip
    regions = [replace(spectral_region(box, strip), steering_deg=shown.cursor_deg)]
    cursor = gate = None
    if placed is not None:
        draw_marker(base, layout.marker, placed.sector, marker_at_left)
        cursor, gate = cursor_ends(placed, shown.cursor_deg), gate_middle(placed, shown)
        regions.insert(0, guide_region(placed, facts.frequency_mhz, cursor, gate if setting.is_gated else None))
    if ecg is not None:
        EcgPainter(trace, ecg).draw(base, strip.times_ms[-1])
        regions.append(ecg_region(trace))
    frames = np.repeat(base[None], 1 if guide is None else len(guide), axis=0)
    if guide is not None and placed is not None:
        for frame, picture in zip(frames, guide, strict=True):
            there = frame[placed.box.row0 : placed.box.row1, placed.box.col0 : placed.box.col1]
            cv2.copyTo(cv2.cvtColor(np.ascontiguousarray(picture), cv2.COLOR_GRAY2RGB), fan_mask(placed), there)
            draw_cursor(frame, style, placed, shown)
    if not colour:
        frames = np.stack([cv2.cvtColor(frame, cv2.COLOR_RGB2GRAY) for frame in frames])
    return SpectralScreen(
        frames=frames,
        regions=tuple(regions),
        placed=placed,
        texts=(*texts, *numbers),
        ticks=ticks,
        strip_box=box,
        baseline_row_px=box.row0 + strip.baseline_px,
        ecg_box=None if ecg is None else Box(row0=trace.row0, col0=trace.col0, row1=trace.row1, col1=trace.col1),
        cursor_px=cursor,
        gate_px=gate,
    )


def _check(
    style: SpectralStyle, box: Box, strip: SpectralStrip, guide: Frames | None, placed: Placed | None
) -> None:  # fmt: skip
    if strip.levels.shape != (box.height_px, box.width_px):
        raise ValueError(
            f"expected a strip of {box.height_px} × {box.width_px} pixels (row, col), got {strip.levels.shape}"
        )
    if (guide is None) != (placed is None) or (guide is None) != (style.guide is None):
        raise ValueError("a guide needs its place and an arrangement with room for it, and the other way round")
    if guide is not None and placed is not None:
        size = (placed.box.height_px, placed.box.width_px)
        if guide.ndim != 3 or guide.dtype != np.uint8 or guide.shape[1:] != size or not len(guide):
            raise ValueError(
                f"expected 8-bit guide pictures of {size[0]} × {size[1]} pixels (row, col), got an array of shape "
                f"{guide.shape} and type {guide.dtype}"
            )


def _ground(layout: Layout, trace: EcgStyle | None) -> Frames:
    base = np.empty((layout.rows, layout.cols, 3), np.uint8)
    base[:] = layout.ground
    draw_rules(base, layout.m_mode_rules)
    if trace is not None and trace.ground is not None:
        base[trace.row0 : trace.row1, trace.col0 : trace.col1] = trace.ground
    if layout.grey_bar is not None:
        draw_grey_bar(base, layout.grey_bar)
    return base


def _words(
    base: Frames, layout: Layout, style: SpectralStyle, setting: SpectralSetting, facts: ScreenFacts, labelled: bool
) -> list[TextTruth]:
    blocks = (*layout.m_mode_blocks, layout.watermark, *((layout.view_label,) if labelled else ()))
    own = replace(style.words, lines=_lines(style, setting))
    return [item for block in (*blocks, own) for item in draw_block(base, block, facts)]


def _lines(style: SpectralStyle, setting: SpectralSetting) -> tuple[str, ...]:
    words, n = setting_words(setting), style.words_a_line
    return tuple("   ".join(words[k : k + n]) for k in range(0, len(words), n))


def tick_step_cm_s(span_cm_s: float, unit: VelocityUnit) -> float:
    """Return the step of the numbers: 1, 2 or 5 times a power of ten, so that some four or more fit the span."""
    most = span_cm_s / unit.cm_s / _TICKS_AT_LEAST
    power = 10.0 ** math.floor(math.log10(most))
    return unit.cm_s * max(part * power for part in (1, 2, 5) if part * power <= most)


def _draw_axis(
    base: Frames, style: SpectralStyle, box: Box, strip: SpectralStrip
) -> tuple[tuple[VelocityTick, ...], list[TextTruth]]:
    """Draw marks and numbers beside the strip; numbers keep clear of each other's rows and of the strip's ends."""
    step = tick_step_cm_s(box.height_px * strip.cm_s_per_px, style.unit)
    above = math.floor(strip.baseline_px * strip.cm_s_per_px / step)
    below = math.floor((box.height_px - 1 - strip.baseline_px) * strip.cm_s_per_px / step)
    edge = box.col0 - 2 if style.axis_left else box.col1 + 1
    out, texts = [], []
    way = -1 if style.axis_left else 1
    align = Align.RIGHT if style.axis_left else Align.LEFT
    for k in range(-below, above + 1):
        row = box.row0 + strip.baseline_px - round(k * step / strip.cm_s_per_px)
        cv2.line(base, (edge, row), (edge + way * (style.tick_px - 1), row), style.tick_ink, 1)
        value = k * step if style.signed else abs(k * step)
        out.append(VelocityTick(row_px=row, cm_s=value))
        place = (row + style.lettering.height_px // 2, edge + way * (style.tick_px + 4))
        text = f"{value / style.unit.cm_s:.10g}"
        drawn = draw_words(base, text, *place, style.lettering, align)
        texts.append(TextTruth(text=text, box=drawn, identity=False))
    unit_row = box.row0 - 6 if style.time_ticks_below else box.row1 + style.lettering.height_px + 6
    drawn = draw_words(base, style.unit.value, unit_row, edge + way * 2, style.lettering, align)
    texts.append(TextTruth(text=style.unit.value, box=drawn, identity=False))
    return tuple(out), texts


def _draw_time_ticks(base: Frames, style: SpectralStyle, box: Box, ms_per_px: float) -> None:
    step_px = 1000.0 * style.time_tick_s / ms_per_px
    for index in range(math.floor((box.width_px - 1) / step_px) + 1):
        col = box.col0 + round(index * step_px)
        rows = (box.row1 + 1, box.row1 + 5) if style.time_ticks_below else (box.row0 - 6, box.row0 - 2)
        cv2.line(base, (col, rows[0]), (col, rows[1]), style.tick_ink, 1)
