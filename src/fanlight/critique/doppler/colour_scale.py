"""Scale of colour Doppler against what flows: wrapped round at its ends, or so high that flow hardly colours it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext, Family, judged, not_assessable
from fanlight.critique.applies import none_assessable
from fanlight.critique.doppler.colour_frames import (
    LARGEST_SPECK_SHARE,
    colour_frames,
    small_parts,
)
from fanlight.critique.doppler.colour_settings import Attainable, Known, attainable, read_scale
from fanlight.critique.doppler.confidence import UNMEASURED
from fanlight.frames.doppler.colour_bar import FAST_SHARE
from fanlight.frames.doppler.colour_velocity import UNKNOWN, mosaic_share, wrapped_borders
from fanlight.study import ClipTime, Finding, PictureChunk, Verdict

WRAP, USE, ROOM, MOSAIC = "colour_wrap", "colour_scale_use", "colour_scale_room", "colour_mosaic"
# The fastest tenth of the colour, in the tenth of the frames where that is fastest: fewer pixels and frames are specks
# of noise, clicks of valves and colours mixed at a border, which made a high scale look used.
FAST_PERCENTILE, BUSY_PERCENTILE = 90.0, 90.0
FEWEST_PX = 80  # of colour in a frame, for a speed to be told from noise
SCATTERED = 0.5  # of the way across the bar, from which a colour says that flow is turbulent


class _ColourScale:
    def __init__(self, context: ClipContext) -> None:
        self._context = context
        self._frames = colour_frames(context)
        self._wraps: list[float] = []
        self._mosaics: list[float] = []
        self._scatters: list[float] = []
        self._fastest: list[float] = []

    def add(self, chunk: PictureChunk) -> None:
        if self._frames.why_not:
            return
        read = self._frames.read(chunk)
        if read.shares is None:
            return
        largest = LARGEST_SPECK_SHARE * read.coloured[0].size
        for k, (shares, painted) in enumerate(zip(read.shares, read.coloured, strict=True)):
            specks = small_parts(painted, largest)  # of noise: they have every speed
            is_specked = bool(specks.any())
            coloured = painted & ~specks if is_specked else painted
            values = np.abs(shares[coloured & ~np.isnan(shares)])
            if len(values) < FEWEST_PX:
                self._wraps.append(0.0)
                self._mosaics.append(0.0)
                self._scatters.append(0.0)
                continue
            wrapped = wrapped_borders(np.where(specks, UNKNOWN, shares) if is_specked else shares) & coloured
            n_coloured = int(np.count_nonzero(coloured))
            self._wraps.append(int(np.count_nonzero(wrapped)) / n_coloured)
            self._mosaics.append(mosaic_share(shares, coloured, wrapped, coloured.size))
            tinted = 0
            if read.scatter is not None:
                # Slow flow looks turbulent by what the wall filter leaves of it; at a wrap compression mixes both ends.
                asked = coloured & ~wrapped & (np.abs(shares) >= FAST_SHARE)
                tinted = int(np.count_nonzero(read.scatter[k][asked] >= SCATTERED))
            self._scatters.append(tinted / n_coloured)
            self._fastest.append(percentile(values, FAST_PERCENTILE))

    def finish(self, _: ClipTime) -> tuple[Finding, ...]:
        if not self._frames.is_asked:
            return ()
        if self._frames.why_not:
            return none_assessable(self._context, FAMILY, self._frames.why_not)
        if self._frames.bar is None:
            reason = "no bar of velocity colours was found beside the picture, so the scale is not known"
            return none_assessable(self._context, FAMILY, reason)
        if not self._fastest:
            return none_assessable(self._context, FAMILY, "there is no flow in colour in this clip")
        if self._frames.is_noise():
            return none_assessable(self._context, FAMILY, "noise covers the box at all times: it has every speed")
        scale = read_scale(self._context, self._frames.bar)
        if scale is None:
            reason = "the velocity at the ends of the colour bar was not read, so the scale is not known"
            return none_assessable(self._context, FAMILY, reason)
        busy = float(np.percentile(self._wraps, BUSY_PERCENTILE))
        seen = _Scale(busy=busy, scale=scale, most=attainable(self._context, self._frames.outline()))
        return self._wrap(seen), self._use(seen), self._room(seen), self._mosaic(seen)

    def _is_met(self, key: str, value: float) -> bool:
        return self._context.criteria[key].band.judge(value)[0] is Verdict.MET

    def _wrap(self, seen: _Scale) -> Finding:
        """Judge wraps that a higher scale would take away; where none was to be had, say so and keep the number."""
        said = f"{seen.scale.value:.0f} cm/s"
        if not self._is_met(WRAP, seen.busy):
            if seen.scale.value >= self._context.criteria[WRAP].setting("usual_cm_s"):
                return self._fast(seen, f"velocities pass a scale of {said}, which is a usual one: the flow is fast")
            is_open = seen.scale.value >= self._context.criteria[WRAP].setting("surely_low_cm_s")
            if isinstance(seen.most, str) and is_open:
                why = f"velocities pass a scale of {said}; whether more was to be had is not known: {seen.most}"
                return self._fast(seen, why)
            if isinstance(seen.most, Attainable) and not seen.most.is_floor and self._is_met(ROOM, seen.share):
                return self._fast(
                    seen, f"velocities pass a scale of {said}, and no more was to be had: {seen.most.words}"
                )
        return judged(
            self._context, FAMILY, WRAP, seen.busy, confidence=UNMEASURED, uncertainty=0.01,
            frames=(int(np.argmax(self._wraps)),),
            note=f"borders at which fast colours of both ends touch, in the busiest tenth of the frames; scale {said} "
            f"({seen.scale.said_by}). A stream that is wrapped as a whole has no such border",
        )  # fmt: skip

    def _fast(self, seen: _Scale, why: str) -> Finding:
        found = not_assessable(self._context, FAMILY, WRAP, f"{why}. Look at it with continuous wave")
        limit = self._context.criteria[WRAP].band.met_high
        frames = tuple(k for k, share in enumerate(self._wraps) if limit is not None and share > limit)
        return replace(found, value=seen.busy, frames=frames)

    def _mosaic(self, seen: _Scale) -> Finding:
        """Count the frames with a mosaic, in pieces or by the machine's tint. At a right scale it tells of a jet."""
        criterion = self._context.criteria[MOSAIC]
        pieces = np.asarray(self._mosaics) >= criterion.setting("from_share")
        tinted = np.asarray(self._scatters) >= criterion.setting("scattered_from_share")
        frames = tuple(np.flatnonzero(pieces | tinted).tolist())
        if self._is_met(MOSAIC, len(frames)):
            return judged(self._context, FAMILY, MOSAIC, len(frames), confidence=UNMEASURED)
        usual = seen.scale.value >= self._context.criteria[WRAP].setting("usual_cm_s")
        is_limit = isinstance(seen.most, Attainable) and not seen.most.is_floor
        kinds = (("a mosaic of colours", pieces), ("the tint of turbulence (variance)", tinted))
        what = " or ".join(words for words, seen_in in kinds if seen_in.any())
        said = f"{what} is seen in {len(frames)} frames at a scale of {seen.scale.value:.0f} cm/s"
        if usual or (is_limit and self._is_met(ROOM, seen.share)):
            reason = f"{said}: fast or turbulent flow, no fault of the picture. Follow it with continuous wave"
            return replace(
                not_assessable(self._context, FAMILY, MOSAIC, reason), value=float(len(frames)), frames=frames
            )
        reason = f"{said}, which is low: raise it, and see whether it stays"
        return not_assessable(self._context, FAMILY, MOSAIC, reason)

    def _use(self, seen: _Scale) -> Finding:
        criterion = self._context.criteria[USE]
        if not self._is_met(WRAP, seen.busy):
            return not_assessable(self._context, FAMILY, USE, "the scale is passed: velocities wrap round its ends")
        fastest = float(np.percentile(self._fastest, BUSY_PERCENTILE))
        if not self._is_met(USE, fastest) and seen.scale.value <= criterion.setting("usual_cm_s"):
            reason = f"only slow flow is seen, at a scale of {seen.scale.value:.0f} cm/s, which is a usual one"
            return not_assessable(self._context, FAMILY, USE, reason)
        return judged(
            self._context, FAMILY, USE, fastest, confidence=UNMEASURED, uncertainty=0.05,
            note=f"speed of the fastest tenth of the flow over the end of the scale, {seen.scale.value:.0f} cm/s",
        )  # fmt: skip

    def _room(self, seen: _Scale) -> Finding:
        """Judge how much of the scale that the depth leaves was used, where velocities wrap for want of it."""
        if self._is_met(WRAP, seen.busy):
            reason = "velocities stay within the scale: a higher one is not needed"
            return not_assessable(self._context, FAMILY, ROOM, reason)
        if isinstance(seen.most, str):
            return not_assessable(self._context, FAMILY, ROOM, seen.most)
        if seen.scale.value >= self._context.criteria[WRAP].setting("usual_cm_s"):
            reason = f"{seen.scale.value:.0f} cm/s is a usual scale: what wraps is fast flow; {seen.most.words}"
            return not_assessable(self._context, FAMILY, ROOM, reason)
        if seen.most.is_floor and (seen.share > 1.0 or self._is_met(ROOM, seen.share)):
            reason = f"{seen.scale.value:.0f} cm/s are set; {seen.most.words}"
            return not_assessable(self._context, FAMILY, ROOM, reason)
        return judged(
            self._context, FAMILY, ROOM, min(seen.share, 1.0), confidence=UNMEASURED, uncertainty=0.05,
            note=f"scale of {seen.scale.value:.0f} cm/s ({seen.scale.said_by}); {seen.most.words}",
        )  # fmt: skip


def percentile(values: NDArray[np.float32], percent: float) -> float:
    """Return a percentile of some numbers, interpolated as `numpy.percentile` does, in a quarter of its time.

    To part the values at one place and look for the least of those behind it is faster than to part them at four.
    """
    place = (len(values) - 1) * (percent / 100)
    below = int(place)
    if below + 1 >= len(values):
        return float(values.max())
    parted = np.partition(values, below)
    low, high, gone = parted[below], parted[below + 1 :].min(), place - below
    return float(low + (high - low) * gone if gone < 0.5 else high - (high - low) * (1 - gone))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scale:
    """What is known of the scale of one clip."""

    busy: float  # share of the colour that is a wrapped border, in the busiest frames
    scale: Known
    most: Attainable | str

    @property
    def share(self) -> float:
        """The scale over the highest that was to be had; 0 where that is not known."""
        return self.scale.value / self.most.cm_s if isinstance(self.most, Attainable) else 0.0


FAMILY = Family(name="doppler_colour_scale", version=5, start=_ColourScale)
