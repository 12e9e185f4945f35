"""Spectra: how high the signal stands in its scale, whether it wraps, where the baseline lies, the sweep, the noise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext, Family, judged, not_assessable
from fanlight.critique.applies import none_assessable
from fanlight.critique.doppler.confidence import UNMEASURED
from fanlight.critique.doppler.guide import guide_of
from fanlight.critique.doppler.spectrum_columns import (
    FEWEST_COLUMNS,
    top_px,
)
from fanlight.critique.doppler.spectrum_frames import spectrum_frames
from fanlight.critique.doppler.spectrum_passed import Passed, passed
from fanlight.critique.doppler.told import told
from fanlight.frames.doppler.spectrum import SpectralAxes, SpectralReach, has_guide
from fanlight.study import ClipTime, Evidence, Finding, Mode, PictureChunk, Polyline

HEIGHT, WRAP, ROOM, SWEEP, NOISE, GAP, GUIDE = (
    "spectrum_height", "spectrum_wrap", "spectrum_baseline", "spectrum_sweep", "spectrum_noise",
    "spectrum_filter_gap", "spectrum_guide",
)  # fmt: skip
BY_RIM = (HEIGHT, WRAP, ROOM, NOISE)
NO_RIM = "no file says where the scale ends, and the picture does not show it"
FULL_SHARE = 0.85  # of the room on one side
# Noise is counted where no signal can be: in the outer part of each side, in columns whose signal ends well before.
OUTER_SHARE, CLEAR_SHARE = 0.7, 0.6
NOISE_LEVELS, GROUND_PERCENTILE = 30.0, 2.0  # above the ground of the strip
# The band of this share was set on good and bloomed clips of ring A: good ones stay below it, and a ground that is grey
# all over still passes; so met says no more than that noise does not hide the spectrum.
GAP_PERCENTILE = (
    40.0  # of the feet: where flow is fast the foot lies on the signal's own lower edge, not on the filter's
)


class _SpectrumUse:
    def __init__(self, context: ClipContext) -> None:
        self._context = context
        self._frames = spectrum_frames(context)

    def add(self, chunk: PictureChunk) -> None:
        self._frames.add(chunk)

    @property
    def _axes(self) -> SpectralAxes:
        assert self._frames.axes is not None
        return self._frames.axes

    def finish(self, time: ClipTime) -> tuple[Finding, ...]:
        if not self._frames.is_asked:
            return ()
        if self._frames.why_not:
            return none_assessable(self._context, FAMILY, self._frames.why_not)
        found = self._judged(time)
        if not self._frames.has_open_end:
            return found
        return tuple(self._none(item.criterion, NO_RIM) if item.criterion in BY_RIM else item for item in found)

    def _judged(self, time: ClipTime) -> tuple[Finding, ...]:
        reach, axes = self._frames.reach, self._axes
        seen = _Seen.of(reach, axes)
        found = [self._guide(), self._sweep(time)]
        over = passed(self._frames, self._context.mode.mode, told(self._context).valve, time)
        is_cut = over.is_passed or bool(over.unsure)
        found.append(
            self._none(NOISE, "signal that is cut off or wraps is not told from noise")
            if is_cut
            else self._noise(reach)
        )
        if seen is None:
            keys = (HEIGHT, WRAP, ROOM, GAP)
            return (*found, *(self._none(key, "no signal stands out from the noise") for key in keys))
        height = self._none(HEIGHT, "the scale is passed: the peak is not seen") if is_cut else self._height(seen)
        return (*found, height, self._wrap(over), self._room(reach, over), self._gap(reach))

    def _none(self, key: str, reason: str) -> Finding:
        return not_assessable(self._context, FAMILY, key, reason)

    def _guide(self) -> Finding:
        there = has_guide(self._context.layout)
        if there is None:
            return self._none(GUIDE, "the file does not say what stands on the screen")
        if not there and not isinstance(guide_of(self._context, self._frames), str):
            return self._none(GUIDE, "the file names no picture, yet something like one stands beside the strip")
        return judged(self._context, FAMILY, GUIDE, float(there), confidence=0.9)

    def _sweep(self, time: ClipTime) -> Finding:
        beat_ms = self._frames.beat_ms(time)
        if beat_ms is None:
            return self._none(SWEEP, "the heart rate is not known")
        width_ms = self._axes.box.width_px * self._axes.ms_per_px
        return judged(
            self._context, FAMILY, SWEEP, beat_ms / self._axes.ms_per_px, confidence=UNMEASURED,
            note=f"{width_ms / 1000:.1f} s on the strip at {60_000 / beat_ms:.0f} beats a minute",
        )  # fmt: skip

    def _noise(self, reach: SpectralReach) -> Finding:
        share = noise_share(self._frames.grey, self._axes, reach)
        if share is None:
            return self._none(NOISE, "signal fills the strip from end to end, so noise is not told from it")
        return judged(self._context, FAMILY, NOISE, share, confidence=UNMEASURED, uncertainty=0.02)

    def _height(self, seen: _Seen) -> Finding:
        sign = -1 if seen.is_up else 1
        row = self._axes.baseline_row_px + sign * seen.top_px
        to_m_s = self._axes.cm_s_per_px / 100
        line = Polyline(points=((row, self._axes.box.col0), (row, self._axes.box.col1 - 1)))
        return judged(
            self._context, FAMILY, HEIGHT, min(seen.top_px / max(seen.room_px, 1.0), 1.0), confidence=UNMEASURED,
            uncertainty=0.04, evidence=(Evidence(shape=line, label="height of the signal"),),
            note=f"about {seen.top_px * to_m_s:.1f} of {seen.room_px * to_m_s:.1f} m/s",
        )  # fmt: skip

    def _wrap(self, over: Passed) -> Finding:
        if over.unsure:
            return self._none(WRAP, over.unsure)
        how = (
            "the signal leaves the strip at one end and comes in at the other" if over.wraps
            else "the signal ends at the end of the scale"
        )  # fmt: skip
        return judged(
            self._context, FAMILY, WRAP, over.share, confidence=UNMEASURED, uncertainty=0.5 / over.n_beats,
            note=f"in {round(over.share * over.n_beats)} of {over.n_beats} beats {how}",
        )  # fmt: skip

    def _room(self, reach: SpectralReach, over: Passed) -> Finding:
        """Share of the strip's height that stands empty on one side while signal passes the end of the other."""
        if over.unsure:
            return self._none(ROOM, over.unsure)
        axes = self._axes
        up, down = top_px(reach.up_px, axes), top_px(reach.down_px, axes)
        fills = [up >= FULL_SHARE * axes.above_px, down >= FULL_SHARE * axes.below_px]
        empty_px = max(0.0, axes.below_px - down if fills[0] else 0.0, axes.above_px - up if fills[1] else 0.0)
        wasted = empty_px / axes.box.height_px if over.is_passed else 0.0
        return judged(self._context, FAMILY, ROOM, wasted, confidence=UNMEASURED, uncertainty=0.04)

    def _gap(self, reach: SpectralReach) -> Finding:
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
        up, down = top_px(reach.up_px, axes), top_px(reach.down_px, axes)
        if up == 0.0 and down == 0.0:
            return None
        sides = ((up, axes.above_px), (down, axes.below_px))
        main, other = sides if up >= down else sides[::-1]
        return cls(is_up=up >= down, top_px=main[0], room_px=main[1], other_px=other[0], other_room_px=other[1])


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


FAMILY = Family(name="doppler_spectrum", version=6, start=_SpectrumUse)
