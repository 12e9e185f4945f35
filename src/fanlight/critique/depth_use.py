"""How much of the displayed depth the heart fills."""

from __future__ import annotations

import numpy as np

from fanlight.critique.accumulator import ClipContext, Family, judged
from fanlight.critique.applies import none_assessable, why_not_picture
from fanlight.critique.beam_moments import BLACK_LEVEL
from fanlight.critique.beating_map import BeatingMap, quantile_place
from fanlight.study import ClipTime, Evidence, Finding, PictureChunk, Polyline

KEY = "depth_use"
# The heart ends where this share of all beating lies above: the last twentieth is the lung moved by it.
HEART_ENDS_AT = 0.95
# Beating cells that must be found before the heart's end is told (of 64 x 32).
FEWEST_CELLS = 20
# In a still the echo ends at the deepest row whose brighter part reaches this share of the usual tissue.
ECHO_RATIO = 0.3


class _DepthUse:
    def __init__(self, context: ClipContext) -> None:
        self._context = context
        self._reason = why_not_picture(context)
        self._map = BeatingMap()

    def add(self, chunk: PictureChunk) -> None:
        if not self._reason:
            self._map.add(chunk)

    def finish(self, time: ClipTime) -> tuple[Finding, ...]:
        del time
        if self._reason:
            return none_assessable(self._context, FAMILY, self._reason)
        if self._map.n_frames == 0 or float(self._map.mean.max()) < BLACK_LEVEL:
            return none_assessable(self._context, FAMILY, "there is no echo in the picture")
        energy = self._map.energy
        if np.count_nonzero(energy) < FEWEST_CELLS:
            return self._without_motion()
        end = quantile_place(energy.sum(axis=1), HEART_ENDS_AT)
        depth_mm = self._context.layout.depth_mm
        note = "the deepest part that beats"
        if depth_mm is not None:
            note += f" lies at {end * depth_mm:.0f} of {depth_mm:.0f} mm"
        return (
            judged(
                self._context, FAMILY, KEY, end, confidence=0.8, uncertainty=0.03, evidence=self._line(end), note=note
            ),
        )

    def _without_motion(self) -> tuple[Finding, ...]:
        mean = self._map.mean
        rows = np.percentile(mean, 80, axis=1)
        lit = np.flatnonzero(rows > max(BLACK_LEVEL, ECHO_RATIO * float(np.percentile(rows, 75))))
        end = (int(lit[-1]) + 1) / len(rows) if len(lit) else 0.0
        band = self._context.criteria[KEY].band
        if band.met_low is not None and end >= band.met_low:
            return none_assessable(
                self._context, FAMILY, "nothing moves in this picture, so where the heart ends cannot be told"
            )
        note = "nothing moves in this picture; this is the deepest part that carries any echo"
        return (judged(self._context, FAMILY, KEY, end, confidence=0.4, evidence=self._line(end), note=note),)

    def _line(self, end: float) -> tuple[Evidence, ...]:
        picture = self._context.layout.picture
        assert picture is not None
        arc = tuple(picture.point(min(1.0, end), float(b)) for b in np.linspace(0, 1, 13))
        return (Evidence(shape=Polyline(points=arc), label="below this nothing beats"),)


FAMILY = Family(name="depth_use", version=1, start=_DepthUse)
