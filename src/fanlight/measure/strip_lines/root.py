"""The lines of an M-mode through aorta and left atrium: three walls, and both diameters of each beat."""

from __future__ import annotations

import numpy as np

from fanlight.measure.root_strip import RootReading
from fanlight.measure.root_strip.root import AORTA, ATRIUM
from fanlight.measure.root_strip.walls import BEHIND, FAR, NEAR
from fanlight.measure.strip_lines.m_mode import OnPicture
from fanlight.measure.strip_lines.shown import Place, Said, StripLines, courses_of
from fanlight.study import House, MarkKind

_WORDS = ("near wall of the aorta", "far wall of the aorta", "far wall of the atrium")
_NAMES = ("aorta_near", "aorta_far", "atrium_far")


def root_lines(reading: RootReading, to: OnPicture, frame: int, house: House) -> StripLines:
    """Return the leading edges of the three walls, and in each beat that counts the pairs of both diameters.

    Notes
    -----
    A pair is as long as the number of its beat and begins at the middle of its borders.
    """
    said = Said(reading.measurements, house)
    if reading.walls is None:
        return StripLines(frame=frame, reason=said.why_none)
    walls = reading.walls
    courses = tuple(
        course
        for name, words, rows, seen in zip(_NAMES, _WORDS, walls.rows, walls.seen, strict=True)
        for course in courses_of(name, words, to.rows(rows), to.cols, seen)
    )
    if all(item.value is None for item in reading.measurements):
        return StripLines(frame=frame, courses=courses, reason=said.why_none)
    places: list[Place] = []
    for beat in reading.beats:
        for name, mm, reason, col, upper, lower in (
            (AORTA, beat.aorta_mm, beat.aorta_reason, beat.diastole_col, NEAR, FAR),
            (ATRIUM, beat.atrium_mm, beat.atrium_reason, beat.systole_col, FAR, BEHIND),
        ):
            pair = walls.rows[[upper, lower], col]
            length = float(np.diff(pair)[0]) * to.mm_per_row if mm is None else mm
            points = to.pair(float(pair.mean()), length, col)
            places.append(said.place(name, beat.number, MarkKind.LINE, points, mm, reason))
    return StripLines(frame=frame, courses=courses, places=tuple(places), reason=said.why_none)
