"""Sector width: degrees that are painted beside the beating heart and cost frames."""

from __future__ import annotations

import numpy as np

from fanlight.critique.accumulator import ClipContext, Family, judged
from fanlight.critique.applies import none_assessable, why_not_picture
from fanlight.critique.beating_map import BeatingMap, quantile_place
from fanlight.critique.depth_use import FEWEST_CELLS
from fanlight.study import ClipTime, Evidence, Finding, PictureChunk, Polyline, Sector

KEY = "sector_spare_width"
# The heart reaches from the first to the last of these shares of all beating, left to right.
FROM, TO = 0.01, 0.99


class _SectorWidth:
    def __init__(self, context: ClipContext) -> None:
        self._context = context
        self._reason = why_not_picture(context)
        if not self._reason and not isinstance(context.layout.picture, Sector):
            self._reason = "a linear array paints no sector"
        self._map = BeatingMap()

    def add(self, chunk: PictureChunk) -> None:
        if not self._reason:
            self._map.add(chunk)

    def finish(self, time: ClipTime) -> tuple[Finding, ...]:
        if self._reason:
            return none_assessable(self._context, FAMILY, self._reason)
        energy = self._map.energy
        if np.count_nonzero(energy) < FEWEST_CELLS:
            return none_assessable(
                self._context, FAMILY, "nothing moves in this picture, so the heart's width is not told"
            )
        picture = self._context.layout.picture
        assert isinstance(picture, Sector)
        # A sample's area grows with its distance from the apex: near the probe a small heart spans many beams.
        depth = (np.arange(energy.shape[0]) + 0.5) / energy.shape[0]
        columns = ((picture.near_px + depth * picture.depth_px)[:, None] * energy).sum(axis=0)
        left, right = quantile_place(columns, FROM), quantile_place(columns, TO)
        spare_deg = picture.width_deg * (1 - (right - left))
        note = (
            f"the sector is {picture.width_deg:.0f}° wide, the beating part {picture.width_deg * (right - left):.0f}°"
        )
        if time.beat_period_frames is not None:
            note += f"; {time.beat_period_frames:.0f} frames a beat"
        sides = tuple(
            Evidence(
                shape=Polyline(points=(picture.point(0.05, side), picture.point(1.0, side))), label="edge of motion"
            )
            for side in (left, right)
        )
        # one coarse cell at either side
        uncertainty = 2 * picture.width_deg / energy.shape[1] / np.sqrt(12)
        return (
            judged(
                self._context, FAMILY, KEY, spare_deg, confidence=0.7, uncertainty=float(uncertainty), evidence=sides,
                note=note,
            ),
        )  # fmt: skip


FAMILY = Family(name="sector_width", version=1, start=_SectorWidth)
