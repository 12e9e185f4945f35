"""How the valve's plane parts the colour box: a third before it, two thirds behind, where a person marked the valve.

From pixels alone nobody knows where the valve lies, so the clip's own pass only keeps the box. When marks are there the
finding is worked out from them, without reading the clip again; where there are none, `review/box_split.py` asks what
the network found.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import cv2
import numpy as np

from fanlight.critique.accumulator import ClipContext, Family, not_assessable
from fanlight.critique.applies import none_assessable
from fanlight.critique.doppler.colour_frames import colour_frames
from fanlight.critique.doppler.confidence import UNMEASURED
from fanlight.critique.doppler.valve_plane import ValvePlane, valve_plane
from fanlight.study import (
    ClipReading,
    ClipTime,
    Criterion,
    DrawnMark,
    Evidence,
    Finding,
    PictureChunk,
    Polyline,
    Sector,
)

KEY = "colour_box_split"
UNMARKED = "nobody marked the valve on this clip: mark both hinges of its leaflets, and the split of the box is told"


class _ColourSplit:
    def __init__(self, context: ClipContext) -> None:
        self._context = context
        self._frames = colour_frames(context)

    def add(self, chunk: PictureChunk) -> None:
        if not self._frames.why_not:
            self._frames.read(chunk)

    def finish(self, _: ClipTime) -> tuple[Finding, ...]:
        if not self._frames.is_asked:
            return ()
        if self._frames.why_not:
            return none_assessable(self._context, FAMILY, self._frames.why_not)
        outline, picture = self._frames.outline(), self._context.layout.picture
        if outline is None or picture is None or not outline.is_drawn:
            reason = "no drawn outline of the box was found: where it ends on each side of the valve is not known"
            return (not_assessable(self._context, FAMILY, KEY, reason),)
        shape = Polyline(points=outline.points(picture), closed=True)
        unmarked = not_assessable(self._context, FAMILY, KEY, UNMARKED)
        return (replace(unmarked, evidence=(Evidence(shape=shape, label="colour box"),)),)


def with_split(reading: ClipReading, marks: Iterable[DrawnMark], criterion: Criterion) -> ClipReading:
    """Return a reading in which the split of its colour box is told by the marks on the clip.

    Only the engine's own "nobody marked" is replaced: what a person decided stays, and nothing is added.
    """
    marks = tuple(marks)
    findings = tuple(
        _told(item, reading, marks, criterion)
        if item.criterion == KEY
        and item.reason == UNMARKED
        and item.source.stage == f"critique.{FAMILY.name}"
        and marks
        else item
        for item in reading.findings
    )
    return replace(reading, findings=findings)


def _told(found: Finding, reading: ClipReading, marks: tuple[DrawnMark, ...], criterion: Criterion) -> Finding:
    picture = reading.layout.picture
    stretch = picture.col_stretch if isinstance(picture, Sector) else 1.0
    plane = valve_plane(marks, reading.view.valve, stretch)
    if isinstance(plane, str):
        return replace(found, reason=plane)
    (box,) = (item.shape for item in found.evidence if isinstance(item.shape, Polyline))
    before = share_before(box, plane, stretch)
    value = 0.0 if before is None else min(before, 1 - before)
    verdict, side = criterion.band.judge(value)
    across = _across(box, plane, stretch)
    return replace(
        found, value=value, verdict=verdict, side=side, uncertainty=0.03, confidence=found.confidence or UNMEASURED,
        evidence=(*found.evidence, Evidence(shape=across, label=f"{plane.valve} valve")), reason=_words(before, plane),
    )  # fmt: skip


def _words(before: float | None, plane: ValvePlane) -> str:
    if before is None:
        return f"the {plane.valve} valve, as marked, lies outside the box"
    if plane.is_directed:
        return (
            f"{100 * before:.0f} % of the box's length lie before the {plane.valve} valve and "
            f"{100 * (1 - before):.0f} % behind it, by flow that goes forward; for a leak it is the other way round"
        )
    return f"the {plane.valve} valve, as marked, parts the box's length {100 * before:.0f} to {100 * (1 - before):.0f}"


def share_before(box: Polyline, plane: ValvePlane, col_stretch: float = 1.0) -> float | None:
    """Return the share of the box's length, across the valve's plane, before the valve; None where it lies outside.

    Where the plane is not directed, "before" is either side.
    """
    points = np.asarray(box.points, float) * [1.0, col_stretch]
    middle = np.asarray(plane.middle) * [1.0, col_stretch]
    if cv2.pointPolygonTest(points.astype(np.float32), (float(middle[0]), float(middle[1])), False) < 0:
        return None
    along = (points - middle) @ np.asarray(plane.normal)
    before, behind = max(-float(along.min()), 0.0), max(float(along.max()), 0.0)
    return before / (before + behind)


def _across(box: Polyline, plane: ValvePlane, col_stretch: float) -> Polyline:
    """Return the valve's plane as a line as long as a quarter of the box is wide, for the picture."""
    points = np.asarray(box.points, float)
    half = 0.125 * float(np.hypot(*(points.max(axis=0) - points.min(axis=0))))
    along = np.array([-plane.normal[1], plane.normal[0] / col_stretch])
    ends = [np.asarray(plane.middle) + sign * half * along for sign in (-1, 1)]
    return Polyline(points=tuple((float(row), float(col)) for row, col in ends))


FAMILY = Family(name="doppler_colour_split", version=1, start=_ColourSplit)
