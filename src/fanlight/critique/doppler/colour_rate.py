"""How often colour is worked out anew: pictures a second and a beat, as the colour itself changes."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext, Family, judged, not_assessable
from fanlight.critique.applies import none_assessable
from fanlight.critique.doppler.colour_frames import colour_frames
from fanlight.critique.doppler.confidence import UNMEASURED
from fanlight.study import ClipTime, Finding, PictureChunk

RATE, A_BEAT = "colour_rate", "colour_frames_a_beat"
# Frames need colour to show whether it is new: of so many pixels, in so many pairs of neighbours.
FEWEST_PX, FEWEST_PAIRS = 80, 4
# In a picture that shows the last colour again, no more than this share of the coloured pixels differs by more than so
# many levels of grey: compression.
SAME_SHARE, SAME_LEVELS = 0.02, 6


class _ColourRate:
    def __init__(self, context: ClipContext) -> None:
        self._context = context
        self._frames = colour_frames(context)
        self._last: tuple[NDArray[np.bool_], NDArray[np.uint8]] | None = None  # where it is coloured, and the grey
        self._new: list[bool] = []  # of each pair of neighbours with colour, whether the later one's is another

    def add(self, chunk: PictureChunk) -> None:
        if self._frames.why_not:
            return
        read = self._frames.read(chunk)
        for coloured, grey in zip(read.coloured, read.grey, strict=True):
            if self._last is not None:
                was_coloured, was = self._last
                either = was_coloured | coloured
                size = int(np.count_nonzero(either))
                if size >= FEWEST_PX:
                    changed = (was_coloured ^ coloured) | (either & (cv2.absdiff(grey, was) > SAME_LEVELS))
                    self._new.append(bool(np.count_nonzero(changed) > SAME_SHARE * size))
            self._last = coloured, grey
        self._last = read.coloured[-1].copy(), read.grey[-1].copy()  # the chunk's own arrays may not be kept

    def finish(self, time: ClipTime) -> tuple[Finding, ...]:
        if not self._frames.is_asked:
            return ()
        if self._frames.why_not:
            return none_assessable(self._context, FAMILY, self._frames.why_not)
        if len(self._new) < FEWEST_PAIRS:
            return none_assessable(self._context, FAMILY, "too few frames hold colour to see how often it is new")
        share = sum(self._new) / len(self._new)
        return self._rate(time, share), self._a_beat(time, share)

    def _rate(self, time: ClipTime, share: float) -> Finding:
        rate_hz = None if time.times.doubts else time.times.rate_hz
        if rate_hz is None:
            return not_assessable(self._context, FAMILY, RATE, "the frame rate is not known for certain")
        note = time.times.source.value
        if share < 1.0:
            note += f"; colour is new in {100 * share:.0f} % of the frames"
        return judged(self._context, FAMILY, RATE, rate_hz * share, confidence=UNMEASURED, note=note)

    def _a_beat(self, time: ClipTime, share: float) -> Finding:
        if time.beat_period_frames is None:
            return not_assessable(self._context, FAMILY, A_BEAT, "the beats were not found")
        note = f"beats from {time.beat_source.value}"
        value = time.beat_period_frames * share
        return judged(self._context, FAMILY, A_BEAT, value, confidence=UNMEASURED, note=note)


FAMILY = Family(name="doppler_colour_rate", version=1, start=_ColourRate)
