"""Scale of colour Doppler against what flows: wrapped round at its ends, or so high that flow hardly colours it."""

from __future__ import annotations

import numpy as np

from fanlight.critique.accumulator import ClipContext, Family, judged, not_assessable
from fanlight.critique.applies import none_assessable
from fanlight.critique.doppler.colour_frames import (
    LARGEST_SPECK_SHARE,
    UNMEASURED,
    colour_frames,
    is_colour,
    scale_cm_s,
    small_parts,
    why_not_colour,
)
from fanlight.frames.doppler.colour_velocity import wrapped_borders
from fanlight.study import ClipTime, Finding, PictureChunk, Verdict

WRAP, USE = "colour_wrap", "colour_scale_use"
FAST_PERCENTILE, BUSY_PERCENTILE = 98.0, 90.0
FEWEST_PX = 80  # of colour in a frame, for a speed to be told from noise


class _ColourScale:
    def __init__(self, context: ClipContext) -> None:
        self._context = context
        self._reason = why_not_colour(context)
        self._frames = colour_frames(context)
        self._asked = is_colour(context)
        self._wraps: list[float] = []
        self._fast: list[float] = []

    def add(self, chunk: PictureChunk) -> None:
        if self._reason:
            return
        read = self._frames.read(chunk)
        if read.shares is None:
            return
        largest = LARGEST_SPECK_SHARE * read.coloured[0].size
        for shares, painted in zip(read.shares, read.coloured, strict=True):
            coloured = painted & ~small_parts(painted, largest)  # specks of noise have every speed
            values = np.abs(shares[coloured])
            values = values[np.isfinite(values)]
            if len(values) < FEWEST_PX:
                self._wraps.append(0.0)
                continue
            wrapped = wrapped_borders(np.where(coloured, shares, np.nan).astype(np.float32))
            self._wraps.append(float((wrapped & coloured).sum() / coloured.sum()))
            self._fast.append(float(np.percentile(values, FAST_PERCENTILE)))

    def finish(self, _: ClipTime) -> tuple[Finding, ...]:
        if not self._asked:
            return ()
        if self._reason:
            return none_assessable(self._context, FAMILY, self._reason)
        if self._frames.bar is None:
            reason = "no bar of velocity colours was found beside the picture, so the scale is not known"
            return none_assessable(self._context, FAMILY, reason)
        if not self._fast:
            return none_assessable(self._context, FAMILY, "there is no flow in colour in this clip")
        scale = scale_cm_s(self._context, self._frames.bar)
        if scale is None:
            reason = "the velocity at the ends of the colour bar was not read, so the scale is not known"
            return none_assessable(self._context, FAMILY, reason)
        busy = float(np.percentile(self._wraps, BUSY_PERCENTILE))
        return self._wrap(busy, scale), self._use(busy, scale)

    def _wrap(self, busy: float, scale_cm_s: float) -> Finding:
        criterion = self._context.criteria[WRAP]
        wraps = criterion.band.judge(busy)[0] is not Verdict.MET
        if wraps and scale_cm_s >= criterion.setting("usual_cm_s"):
            reason = (
                f"velocities pass a scale of {scale_cm_s:.0f} cm/s, which is a usual one: the flow is fast. "
                "Look at it with continuous wave"
            )
            return not_assessable(self._context, FAMILY, WRAP, reason)
        return judged(
            self._context, FAMILY, WRAP, busy, confidence=UNMEASURED, uncertainty=0.01,
            frames=(int(np.argmax(self._wraps)),),
            note=f"borders at which fast colours of both ends touch, in the busiest tenth of the frames; scale "
            f"{scale_cm_s:.0f} cm/s. A stream that is wrapped as a whole has no such border",
        )  # fmt: skip

    def _use(self, busy: float, scale_cm_s: float) -> Finding:
        criterion = self._context.criteria[USE]
        if self._context.criteria[WRAP].band.judge(busy)[0] is not Verdict.MET:
            return not_assessable(self._context, FAMILY, USE, "the scale is passed: velocities wrap round its ends")
        fastest = float(np.percentile(self._fast, 95))
        if criterion.band.judge(fastest)[0] is not Verdict.MET and scale_cm_s <= criterion.setting("usual_cm_s"):
            reason = f"only slow flow is seen, at a scale of {scale_cm_s:.0f} cm/s, which is a usual one"
            return not_assessable(self._context, FAMILY, USE, reason)
        return judged(
            self._context, FAMILY, USE, fastest, confidence=UNMEASURED, uncertainty=0.05,
            note=f"speed of the fastest flow over the end of the scale, {scale_cm_s:.0f} cm/s",
        )  # fmt: skip


FAMILY = Family(name="doppler_colour_scale", version=1, start=_ColourScale)
