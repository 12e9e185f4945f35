"""Colour that is no flow of blood: noise all over the box, and slow movement that the wall filter lets through."""

from __future__ import annotations

import numpy as np

from fanlight.critique.accumulator import ClipContext, Family, judged, not_assessable
from fanlight.critique.applies import none_assessable
from fanlight.critique.doppler.colour_frames import colour_frames
from fanlight.critique.doppler.confidence import UNMEASURED
from fanlight.study import ClipTime, Evidence, Finding, PictureChunk, Polyline

NOISE, SLOW = "colour_noise", "colour_slow_movement"
# A speed below this share of the scale is slow: a wall filter of a tenth of the pulses' range takes it away.
SLOW_SHARE = 0.15
FEWEST_PX = 2000  # of colour in the clip, for its speeds to be told


class _ColourNoise:
    def __init__(self, context: ClipContext) -> None:
        self._context = context
        self._frames = colour_frames(context)
        self._n = self._n_slow = self._n_coloured = 0

    def add(self, chunk: PictureChunk) -> None:
        if self._frames.why_not:
            return
        read = self._frames.read(chunk)
        self._n += len(chunk.grey)
        if read.shares is not None:
            speeds = np.abs(read.shares[read.coloured])
            self._n_slow += int(np.count_nonzero(speeds < SLOW_SHARE))
            self._n_coloured += int(np.count_nonzero(np.isfinite(speeds)))

    def finish(self, _: ClipTime) -> tuple[Finding, ...]:
        if not self._frames.is_asked:
            return ()
        if self._frames.why_not:
            return none_assessable(self._context, FAMILY, self._frames.why_not)
        if self._frames.bar is None:
            reason = "no bar of velocity colours was found beside the picture, so speeds are not known"
            return none_assessable(self._context, FAMILY, reason)
        return self._noise(), self._slow()

    def _noise(self) -> Finding:
        share, outline, picture = self._frames.noise_share(), self._frames.outline(), self._context.layout.picture
        if share is None:
            return self._none(NOISE, f"{self._n} frames are too few to see the box without flow")
        if outline is None or picture is None:
            return self._none(NOISE, "there is no colour in this picture")
        shape = Polyline(points=outline.points(picture), closed=True)
        return judged(
            self._context, FAMILY, NOISE, share, confidence=UNMEASURED, uncertainty=0.01,
            evidence=(Evidence(shape=shape, label="colour box"),),
            note="share of the box where fast colours of both ends meet, in the calmest fifth of the frames",
        )  # fmt: skip

    def _slow(self) -> Finding:
        if self._n_coloured < FEWEST_PX:
            return self._none(SLOW, "there is too little colour in this picture")
        share = self._n_slow / self._n_coloured
        return judged(
            self._context, FAMILY, SLOW, share, confidence=UNMEASURED, uncertainty=0.03,
            note=f"share of all colour that is slower than {100 * SLOW_SHARE:.0f} % of the scale",
        )  # fmt: skip

    def _none(self, key: str, reason: str) -> Finding:
        return not_assessable(self._context, FAMILY, key, reason)


FAMILY = Family(name="doppler_colour_noise", version=1, start=_ColourNoise)
