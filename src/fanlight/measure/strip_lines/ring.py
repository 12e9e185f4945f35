"""The lines of an M-mode through the tricuspid ring: its leading edge beat by beat, and how far it comes up."""

from __future__ import annotations

import numpy as np

from fanlight.measure.ring_strip import RingReading
from fanlight.measure.ring_strip.tricuspid import TAPSE
from fanlight.measure.strip_lines.m_mode import OnPicture
from fanlight.measure.strip_lines.shown import Course, Place, Said, StripLines, courses_of
from fanlight.study import House, MarkKind

_RING = "tricuspid ring"


def ring_lines(reading: RingReading, to: OnPicture, frame: int, house: House) -> StripLines:
    """Return the ring's leading edge in the beats that show it, and in each the way from the R wave to its top.

    Notes
    -----
    A pair stands in the column in which the ring is nearest to the apex; it is as long as the number of its beat.
    """
    said = Said(reading.measurements, house)
    if not reading.beats:
        return StripLines(frame=frame, reason=said.why_none)
    courses: list[Course] = []
    places: list[Place] = []
    for beat in reading.beats:
        cols = to.cols[beat.diastole_col : beat.diastole_col + len(beat.rows)]
        courses += courses_of("ring", _RING, to.rows(beat.rows), cols, np.ones(len(cols), bool))
        middle = float(beat.rows[0]) - beat.mm / to.mm_per_row / 2
        points = to.pair(middle, beat.mm, beat.systole_col)
        places.append(said.place(TAPSE, beat.number, MarkKind.LINE, points, beat.mm))
    return StripLines(frame=frame, courses=tuple(courses), places=tuple(places), reason=said.why_none)
