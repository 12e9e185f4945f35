"""What a strip shows of being a spectrum and of which: its drawn baseline, how it is filled, scale, and the guide."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.frames.doppler.cursor import find_cursor, find_guide
from fanlight.frames.doppler.spectrum import SpectralAxes, SpectralReach, read_reach
from fanlight.study import Box, Layout, PhysicalUnit, ScreenText, SpatialFormat

Floats = NDArray[np.float64]

_LINE_LEVEL, _LINE_CLEAR, _LINE_BESIDE_PX = 35.0, 40.0, 4
_LINE_PERCENTILE = 10.0  # of a row: a drawn line is lit in all its columns, a signal in some
_TALL_SHARE = 0.35  # of the highest reach: columns that are tall enough to be looked into
_FEWEST_COLUMNS = 12
_LEAST_REACH_SHARE = 0.04
_BESIDE_STRIP_PX = 90  # from the strip to the numbers of its axis
_MARK_WORTH = 12.0  # a mark counts in full from a fit that is better by a twelfth than that of the other
# Half spans of a velocity axis, cm/s: tissue moves slower than the first, and only a continuous wave shows more than
# the last at the depths of a heart (common practice, no source).
SLOW_CM_S, FAST_CM_S = 32.0, 260.0
# Muscle and rings of valves stay below, blood at a valve does not. Of ring A (common practice names no limit): 6 to
# 16 cm/s in tissue, 29 and more in blood.
TISSUE_CM_S = 25.0
_WHOLE_SHARE = (
    0.9  # of the way to the end of the axis: what comes further may go on at the other end, as fast blood does
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SpectrumSigns:
    """Each 0 to 1; 0 also where it could not be looked at."""

    line_drawn: float = 0.0  # a line runs along the whole strip: the baseline
    filled_inside: float = 0.0  # share of tall columns that is lit between baseline and edge
    inner_light: float = 0.0  # brightness of the inner half of tall columns beside that of their outer part
    baseline_lit: float = 0.0  # share of the columns with signal that touches the baseline
    both_ways: float = 0.0  # height of the lower side beside that of the higher one
    covered: float = 0.0  # share of the columns with any signal
    smooth: float = 0.0  # neighbouring columns alike within the signal
    gate_bars: float = 0.0  # bars across the cursor of the guide
    gate_ring: float = 0.0  # a ring round it
    cursor: float = 0.0  # a cursor on the guide
    scale_told: float = 0.0  # the axis is known from a believed region or from its numbers
    slow_axis: float = 0.0  # and spans no more than tissue needs
    fast_axis: float = 0.0  # and more than a gate can show
    slow_signal: float = 0.0  # there is a signal, the axis is known, and by it nothing is faster than tissue


def look_for_spectrum(layout: Layout, frame: NDArray[np.uint8], grey: NDArray[np.uint8], box: Box) -> SpectrumSigns:
    """Look at a strip as if it were a spectrum.

    Parameters
    ----------
    layout : Layout
        Regions and texts.
    frame, grey : ndarray of shape (row, col, 3) or (row, col), and (row, col)
        The last frame, and its grey levels.
    box : Box
        Where the strip lies: by a believed region of the file, else by the pixels.
    """
    half_cm_s = axis_cm_s(layout, box)
    line, row = _drawn_line(grey[box.row0 : box.row1, box.col0 : box.col1])
    cursor, bars, ring = _on_guide(layout, frame, grey, box) if line > 0 else (0.0, 0.0, 0.0)
    inside, highest_px = _inside(grey, box, row) if line > 0 else ({}, 0.0)
    peak_cm_s = None if half_cm_s is None else highest_px * 2 * half_cm_s / box.height_px
    return SpectrumSigns(
        line_drawn=line, cursor=cursor, gate_bars=bars, gate_ring=ring, scale_told=float(half_cm_s is not None),
        slow_axis=float(half_cm_s is not None and half_cm_s <= SLOW_CM_S),
        fast_axis=float(half_cm_s is not None and half_cm_s >= FAST_CM_S),
        slow_signal=float(peak_cm_s is not None and 0.0 < peak_cm_s <= TISSUE_CM_S), **inside,
    )  # fmt: skip


def spectral_region_box(layout: Layout) -> Box | None:
    """Return where a spectrum lies as a believed region of the file states it, or None."""
    boxes = [
        item.region.box
        for item in layout.regions
        if item.trusted and item.region.spatial_format == SpatialFormat.SPECTRAL
    ]
    return max(boxes, key=lambda box: box.area_px, default=None)


def axis_cm_s(layout: Layout, box: Box) -> float | None:
    """Return half of what the axis of a spectrum spans, cm/s: from a believed region, else from the numbers beside it.

    Numbers are believed where a unit of velocity stands with them or beside the same end of the strip.
    """
    for item in layout.regions:
        region = item.region
        is_axis = region.spatial_format == SpatialFormat.SPECTRAL and region.unit_y == PhysicalUnit.CM_PER_S
        if item.trusted and is_axis and region.delta_y:
            return abs(region.delta_y) * region.box.height_px / 2
    beside = [text for text in layout.texts if _is_beside(text.box, box)]
    factor = _unit_cm_s(beside)
    values = [abs(float(text.text)) for text in beside if re.fullmatch(r"-?\d+([.,]\d+)?", text.text.strip())]
    with_unit = [
        abs(q.value) * (100.0 if q.unit == "m/s" else 1.0)
        for text in beside
        for q in text.quantities
        if q.unit in ("cm/s", "m/s")
    ]
    if factor is not None and len(values) >= 2:
        with_unit += [factor * value for value in values]
    return max(with_unit) if with_unit else None


def _is_beside(text: Box, strip: Box) -> bool:
    level = text.row1 > strip.row0 - 30 and text.row0 < strip.row1 + 30
    left = strip.col0 - _BESIDE_STRIP_PX <= text.col0 < strip.col0
    right = strip.col1 - 6 <= text.col0 <= strip.col1 + _BESIDE_STRIP_PX
    return level and (left or right)


def _unit_cm_s(texts: list[ScreenText]) -> float | None:
    words = " ".join(text.text for text in texts)
    if re.search(r"\bcm/s\b", words):
        return 1.0
    return 100.0 if re.search(r"\bm/s\b", words) else None


def _drawn_line(strip: NDArray[np.uint8]) -> tuple[float, int]:
    """Return how surely a line is drawn along the whole strip, and its row."""
    if strip.shape[0] < 4 * _LINE_BESIDE_PX or strip.shape[1] < 40:
        return 0.0, 0
    low = np.percentile(strip, _LINE_PERCENTILE, axis=1)
    pad = np.pad(low, _LINE_BESIDE_PX, mode="edge")
    beside = np.maximum(pad[: -2 * _LINE_BESIDE_PX], pad[2 * _LINE_BESIDE_PX :])
    clear = np.where(low >= _LINE_LEVEL, low - beside, 0.0)
    row = int(np.argmax(clear))
    return float(np.clip(clear[row] / _LINE_CLEAR, 0.0, 1.0)), row


def _inside(grey: NDArray[np.uint8], box: Box, row: int) -> tuple[dict[str, float], float]:
    """Look at how the signal fills the room from the baseline to its edge, and how far it reaches; inf: cut off."""
    axes = SpectralAxes(
        box=box, baseline_row_px=float(box.row0 + row), cm_s_per_px=1.0, is_inverted=False, ms_per_px=1.0
    )
    reach = read_reach(grey, axes)
    strip = grey[box.row0 : box.row1, box.col0 : box.col1].astype(np.float64)
    tops = [_top(side, box) for side in (reach.up_px, reach.down_px)]
    highest, is_up = max(tops), tops[0] >= tops[1]
    if highest == 0.0:
        return {"covered": 0.0}, 0.0
    filled, light = _columns(strip, reach, row, is_up=is_up, least_px=_TALL_SHARE * highest)
    feet = np.fmin(reach.foot_up_px, reach.foot_down_px)
    there = np.isfinite(feet)
    lit = float(np.mean(feet[there] <= max(0.02 * box.height_px, 3.0))) if there.any() else 0.0
    found = {
        "filled_inside": filled,
        "inner_light": light,
        "baseline_lit": lit * float(there.mean()),
        "both_ways": min(tops) / highest,
        "covered": float(((reach.up_px > 0) | (reach.down_px > 0)).mean()),
        "smooth": _smooth(strip, reach),
    }
    rooms = (row, box.height_px - row)
    is_whole = all(top < _WHOLE_SHARE * room for top, room in zip(tops, rooms, strict=True))
    return found, highest if is_whole else math.inf


def _top(reach_px: Floats, box: Box) -> float:
    there = reach_px[reach_px > _LEAST_REACH_SHARE * box.height_px]
    return float(np.percentile(there, 94.0)) if len(there) >= _FEWEST_COLUMNS else 0.0


def _columns(
    strip: Floats, reach: SpectralReach, row: int, *, is_up: bool, least_px: float
) -> tuple[float, float]:  # fmt: skip
    """Return the lit share of tall columns below their edge, and how bright their inner part is beside the outer."""
    far = reach.up_px if is_up else reach.down_px
    signal, levels = (part[:row][::-1] if is_up else part[row:] for part in (reach.signal, strip))
    shares, lights = [], []
    for col in np.flatnonzero(far >= max(least_px, 14.0)):
        edge = int(far[col])
        shares.append(float(signal[int(0.15 * edge) : int(0.8 * edge), col].mean()))
        outer = float(levels[int(0.65 * edge) : int(0.95 * edge), col].mean()) - reach.quiet_level
        inner = float(levels[int(0.2 * edge) : int(0.5 * edge), col].mean()) - reach.quiet_level
        lights.append(float(np.clip(inner / max(outer, 1.0), 0.0, 1.5)) / 1.5)
    if len(shares) < _FEWEST_COLUMNS:
        return 0.0, 0.0
    return float(np.median(shares)), float(np.median(lights))


def _smooth(strip: Floats, reach: SpectralReach) -> float:
    """Return how alike neighbouring columns are within the signal."""
    both = reach.signal[:, 3:] & reach.signal[:, :-3]
    if np.count_nonzero(both) < 200:
        return 0.0
    first, second = strip[:, :-3][both], strip[:, 3:][both]
    spread = float(np.std(np.concatenate([first, second])))
    return float(np.clip(1.0 - np.abs(first - second).mean() / (1.13 * max(spread, 1.0)), 0.0, 1.0))


def _on_guide(
    layout: Layout, frame: NDArray[np.uint8], grey: NDArray[np.uint8], strip: Box
) -> tuple[float, float, float]:
    """Return whether a guide picture shows a cursor, a gate on it, or a ring."""
    guide = find_guide(layout.picture, grey, strip)
    cursor = None if guide is None else find_cursor(frame, guide)
    if cursor is None:
        return 0.0, 0.0, 0.0
    bars = _MARK_WORTH * (cursor.bars_fit - cursor.ring_fit)
    return 1.0, float(np.clip(bars, 0.0, 1.0)), float(np.clip(-bars, 0.0, 1.0))
