"""Spectra: how high the signal stands in its scale, whether it wraps, where the baseline lies, the sweep, the noise."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext, Family, judged, not_assessable
from fanlight.critique.applies import none_assessable
from fanlight.critique.doppler.colour_frames import UNMEASURED
from fanlight.frames.doppler.spectrum import SpectralAxes, SpectralReach, find_axes, has_guide, read_reach
from fanlight.study import ClipTime, Evidence, Finding, Mode, PictureChunk, Polyline

HEIGHT, WRAP, ROOM, SWEEP, NOISE, GAP, GUIDE = (
    "spectrum_height", "spectrum_wrap", "spectrum_baseline", "spectrum_sweep", "spectrum_noise",
    "spectrum_filter_gap", "spectrum_guide",
)  # fmt: skip
# The height of a signal is that which its highest columns reach; single columns are clicks of valves.
TOP_PERCENTILE = 94.0
LEAST_REACH_SHARE = 0.04  # of the height of the strip: less is the wall filter's rim, no signal
FEWEST_COLUMNS = 20
EDGE_SHARE = 0.03  # of the height of the strip: nearer to its end than this a signal is cut off
# A click of a valve fills its columns from end to end, but for no longer than this; signal that wraps often does.
FILLED_SHARE, LONGEST_CLICK_MS = 0.85, 40.0
MOST_CUT_SHARE = 0.01  # of the columns: with more the height is not known
FULL_SHARE, EMPTY_SHARE = 0.9, 0.35  # of the room on one side, for the other to have been worth moving the baseline
# Noise is counted where no signal can be: in the outer part of each side, in columns whose signal ends well before.
OUTER_SHARE, CLEAR_SHARE = 0.7, 0.6
NOISE_LEVELS, GROUND_PERCENTILE = 18.0, 2.0  # above the ground of the strip
GAP_PERCENTILE = (
    40.0  # of the feet: where flow is fast the foot lies on the signal's own lower edge, not on the filter's
)


class _SpectrumUse:
    def __init__(self, context: ClipContext) -> None:
        self._context = context
        self._asked = context.mode.is_spectrum
        found = find_axes(context.layout) if self._asked else ""
        self._axes = found if isinstance(found, SpectralAxes) else None
        self._reason = found if isinstance(found, str) else ""
        self._last: NDArray[np.uint8] | None = None

    def add(self, chunk: PictureChunk) -> None:
        if self._axes is not None:
            self._last = chunk.grey[-1].copy()  # the last picture of a running strip shows all of it

    def finish(self, time: ClipTime) -> tuple[Finding, ...]:
        if not self._asked:
            return ()
        if self._axes is None or self._last is None:
            return none_assessable(self._context, FAMILY, self._reason or "there is no frame")
        reach = without_clicks(read_reach(self._last, self._axes), self._axes)
        seen = _Seen.of(reach, self._axes)
        found = [self._guide(), self._sweep(time)]
        is_cut = bool(cut_off_columns(reach, self._axes).mean() > MOST_CUT_SHARE)
        found.append(
            self._none(NOISE, "signal that is cut off or wraps is not told from noise")
            if is_cut
            else self._noise(reach)
        )
        if seen is None:
            keys = (HEIGHT, WRAP, ROOM, GAP)
            return (*found, *(self._none(key, "no signal stands out from the noise") for key in keys))
        height = self._none(HEIGHT, "the scale is passed: the peak is not seen") if is_cut else self._height(seen)
        return (*found, height, self._wrap(reach), self._room(seen, is_cut), self._gap(reach))

    def _none(self, key: str, reason: str) -> Finding:
        return not_assessable(self._context, FAMILY, key, reason)

    def _guide(self) -> Finding:
        there = has_guide(self._context.layout)
        if there is None:
            return self._none(GUIDE, "the file does not say what stands on the screen")
        return judged(self._context, FAMILY, GUIDE, float(there), confidence=0.9)

    def _sweep(self, time: ClipTime) -> Finding:
        assert self._axes is not None
        if time.beat_period_ms is None:
            return self._none(SWEEP, "the heart rate is not known")
        width_ms = self._axes.box.width_px * self._axes.ms_per_px
        return judged(
            self._context, FAMILY, SWEEP, time.beat_period_ms / self._axes.ms_per_px, confidence=UNMEASURED,
            note=f"{width_ms / 1000:.1f} s on the strip at {60_000 / time.beat_period_ms:.0f} beats a minute",
        )  # fmt: skip

    def _noise(self, reach: SpectralReach) -> Finding:
        assert self._axes is not None
        assert self._last is not None
        share = noise_share(self._last, self._axes, reach)
        if share is None:
            return self._none(NOISE, "signal fills the strip from end to end, so noise is not told from it")
        return judged(self._context, FAMILY, NOISE, share, confidence=UNMEASURED, uncertainty=0.02)

    def _height(self, seen: _Seen) -> Finding:
        assert self._axes is not None
        sign = -1 if seen.is_up else 1
        row = self._axes.baseline_row_px + sign * seen.top_px
        to_m_s = self._axes.cm_s_per_px / 100
        line = Polyline(points=((row, self._axes.box.col0), (row, self._axes.box.col1 - 1)))
        return judged(
            self._context, FAMILY, HEIGHT, min(seen.top_px / max(seen.room_px, 1.0), 1.0), confidence=UNMEASURED,
            uncertainty=0.04, evidence=(Evidence(shape=line, label="height of the signal"),),
            note=f"about {seen.top_px * to_m_s:.1f} of {seen.room_px * to_m_s:.1f} m/s",
        )  # fmt: skip

    def _wrap(self, reach: SpectralReach) -> Finding:
        assert self._axes is not None
        if self._context.mode.mode is not Mode.PULSED_WAVE:  # where the kind is not known, an end is an end
            cut = cut_off_columns(reach, self._axes)
            return judged(
                self._context, FAMILY, WRAP, float(cut.mean()), confidence=UNMEASURED,
                note="the signal ends at the end of the scale",
            )  # fmt: skip
        wrapped = wrapped_columns(reach, self._axes)
        return judged(
            self._context, FAMILY, WRAP, float(wrapped.mean()), confidence=UNMEASURED,
            note="the signal leaves the strip at one end and comes in at the other",
        )  # fmt: skip

    def _room(self, seen: _Seen, is_cut: bool) -> Finding:
        """Share of the strip's height that stands empty on one side while signal is cut off on the other."""
        full = is_cut and seen.top_px >= FULL_SHARE * seen.room_px
        empty = seen.other_px <= EMPTY_SHARE * seen.other_room_px
        assert self._axes is not None
        wasted = (seen.other_room_px - seen.other_px) / self._axes.box.height_px if full and empty else 0.0
        return judged(self._context, FAMILY, ROOM, wasted, confidence=UNMEASURED)

    def _gap(self, reach: SpectralReach) -> Finding:
        assert self._axes is not None
        if self._context.mode.mode is None:
            return self._none(GAP, "pulsed or continuous wave is not known, and their wall filters differ")
        if self._context.mode.mode is not Mode.PULSED_WAVE:
            return self._none(GAP, "asked of pulsed wave only: a fast jet needs a high wall filter, tissue has none")
        feet = np.concatenate([reach.foot_up_px, reach.foot_down_px])
        feet = feet[np.isfinite(feet)]
        if len(feet) < FEWEST_COLUMNS:
            return self._none(GAP, "too little signal reaches the baseline")
        gap = float(np.percentile(feet, GAP_PERCENTILE)) * self._axes.cm_s_per_px
        return judged(self._context, FAMILY, GAP, gap, confidence=UNMEASURED, uncertainty=2 * self._axes.cm_s_per_px)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """The side on which most signal stands, and the other one."""

    is_up: bool
    top_px: float
    room_px: float
    other_px: float
    other_room_px: float

    @classmethod
    def of(cls, reach: SpectralReach, axes: SpectralAxes) -> _Seen | None:
        up, down = _top(reach.up_px, axes), _top(reach.down_px, axes)
        if up == 0.0 and down == 0.0:
            return None
        sides = ((up, axes.above_px), (down, axes.below_px))
        main, other = sides if up >= down else sides[::-1]
        return cls(is_up=up >= down, top_px=main[0], room_px=main[1], other_px=other[0], other_room_px=other[1])


def _top(reach_px: NDArray[np.float64], axes: SpectralAxes) -> float:
    """Return the height that the signal's high columns reach; 0 where there is none."""
    there = reach_px[reach_px > LEAST_REACH_SHARE * axes.box.height_px]
    return float(np.percentile(there, TOP_PERCENTILE)) if len(there) >= FEWEST_COLUMNS else 0.0


def cut_off_columns(reach: SpectralReach, axes: SpectralAxes) -> NDArray[np.bool_]:
    """Return the columns in which the signal runs into an end of the strip."""
    margin = EDGE_SHARE * axes.box.height_px
    up = (axes.above_px > margin) & (reach.up_px >= axes.above_px - margin)
    down = (axes.below_px > margin) & (reach.down_px >= axes.below_px - margin)
    return np.asarray(up | down)


def wrapped_columns(reach: SpectralReach, axes: SpectralAxes) -> NDArray[np.bool_]:
    """Return the columns in which the signal runs out at one end of the strip and comes in at the other."""
    margin = max(round(EDGE_SHARE * axes.box.height_px), 2)
    signal = reach.signal
    at_top, at_bottom = signal[:margin].any(axis=0), signal[-margin:].any(axis=0)
    return np.asarray(at_top & at_bottom & cut_off_columns(reach, axes))


def click_columns(reach: SpectralReach, axes: SpectralAxes) -> NDArray[np.bool_]:
    """Return the columns of valve clicks: filled from end to end, for some milliseconds only."""
    filled = reach.signal.mean(axis=0) > FILLED_SHARE
    edges = np.flatnonzero(np.diff(np.concatenate([[0], filled.astype(np.int8), [0]])))
    clicks = np.zeros(len(filled), np.bool_)
    for first, stop in zip(edges[::2], edges[1::2], strict=True):
        if (stop - first) * axes.ms_per_px <= LONGEST_CLICK_MS:
            clicks[max(first - 2, 0) : stop + 2] = True  # its flanks fade over two columns
    return clicks


def without_clicks(reach: SpectralReach, axes: SpectralAxes) -> SpectralReach:
    """Return the reach with the clicks of valves taken out."""
    clicks = click_columns(reach, axes)
    return replace(
        reach,
        up_px=np.where(clicks, 0.0, reach.up_px),
        down_px=np.where(clicks, 0.0, reach.down_px),
        foot_up_px=np.where(clicks, np.nan, reach.foot_up_px),
        foot_down_px=np.where(clicks, np.nan, reach.foot_down_px),
        signal=reach.signal & ~clicks,
    )


def noise_share(grey: NDArray[np.uint8], axes: SpectralAxes, reach: SpectralReach) -> float | None:
    """Return the share of pixels brighter than black where no signal can be; None where there is no such place."""
    strip = grey[axes.box.row0 : axes.box.row1, axes.box.col0 : axes.box.col1]
    bright, total = 0, 0
    zero = round(axes.baseline_row_px - axes.box.row0)
    for room, reach_px, upwards in ((axes.above_px, reach.up_px, True), (axes.below_px, reach.down_px, False)):
        depth = int((1 - OUTER_SHARE) * room)
        clear = reach_px < CLEAR_SHARE * room
        if depth < 4 or np.count_nonzero(clear) < FEWEST_COLUMNS:
            continue
        start = max(zero - int(room), 0) if upwards else len(strip) - depth
        part = strip[start : start + depth][:, clear]
        ground = float(np.percentile(part, GROUND_PERCENTILE))  # some screens have a grey ground
        bright += int((part > ground + NOISE_LEVELS).sum())
        total += part.size
    return bright / total if total else None


FAMILY = Family(name="doppler_spectrum", version=2, start=_SpectrumUse)
