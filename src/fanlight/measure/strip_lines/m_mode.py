"""The lines of an M-mode: borders of the ventricle or of septum and mitral leaflet, and the pair of each distance."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from fanlight.measure.m_mode import Border, MModeReading, MModeStrip
from fanlight.measure.m_mode.beat_distances import DISTANCES, Distance
from fanlight.measure.m_mode.beats import Beat, Beats
from fanlight.measure.m_mode.borders import Borders
from fanlight.measure.strip_lines.shown import Course, Place, Said, StripLines, courses_of
from fanlight.measure.valve_strip import MitralReading
from fanlight.measure.valve_strip.mitral import EPSS
from fanlight.study import House, MarkKind

_FLICKER_PX = 9  # columns: what is seen for less is no piece of a line (engineering judgement)
_NOT_SEEN = "one of its borders is not borne out there"
_LEAFLET = "mitral leaflet"


class OnPicture:
    """From rows and columns of a strip to the picture that it was cut from."""

    def __init__(self, strip: MModeStrip, row0: int, col0: int) -> None:
        self.mm_per_row = strip.mm_per_row
        self.n_cols = strip.levels.shape[1]
        self._row0, self._col0 = row0, col0

    def rows(self, rows: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return rows of the picture: 0 of a strip is the upper edge of its first row, here the middle of a pixel."""
        return np.asarray(rows + self._row0 - 0.5, np.float64)

    @property
    def cols(self) -> NDArray[np.float64]:
        """Column of the picture of each column of the strip."""
        return np.arange(self.n_cols, dtype=np.float64) + self._col0

    def pair(self, middle_row: float, length_mm: float, col: int) -> tuple[tuple[float, float], tuple[float, float]]:
        """Return upper and lower end of a distance about its middle, a row of the strip."""
        half = length_mm / self.mm_per_row / 2
        at, column = middle_row + self._row0 - 0.5, float(col + self._col0)
        return (round(at - half, 2), column), (round(at + half, 2), column)


def ventricle_lines(reading: MModeReading, to: OnPicture, frame: int, house: House) -> StripLines:
    """Return the borders of a left-ventricular strip, and in each beat the pairs of its distances.

    Notes
    -----
    A pair is as long as the number of its beat, which is a mean over some 16 ms, and stands about the middle of its
    borders at the column of end-diastole or end-systole.
    """
    said = Said(reading.measurements, house)
    if reading.borders is None:
        return StripLines(frame=frame, reason=said.why_none)
    courses = _borders(reading.borders, to)
    if reading.beats is None:
        return StripLines(frame=frame, courses=courses, reason=said.why_none)
    places = tuple(
        _pair(each, beat, reading, reading.borders, said, to) for each in DISTANCES for beat in reading.beats.beats
    )
    return StripLines(frame=frame, courses=courses, places=places, notes=_notes(reading.beats), reason=said.why_none)


def _borders(borders: Borders, to: OnPicture) -> tuple[Course, ...]:
    return tuple(
        course
        for border in Border
        for course in courses_of(
            border.name.lower(), border.words, to.rows(borders.rows[border]), to.cols, _steady(borders.seen[border])
        )
    )


def _steady(seen: NDArray[np.bool_]) -> NDArray[np.bool_]:
    return np.asarray(median_filter(seen.astype(np.uint8), size=_FLICKER_PX, mode="nearest") > 0)


def _pair(each: Distance, beat: Beat, reading: MModeReading, borders: Borders, said: Said, to: OnPicture) -> Place:
    col = each.col(beat)
    upper, lower = (float(borders.rows[border][col]) for border in (each.upper, each.lower))
    value = reading.distances[each.name].mm.get(beat.number)
    length = (lower - upper) * to.mm_per_row if value is None else value
    reason = "" if value is not None else beat.left_out or _NOT_SEEN
    points = to.pair((upper + lower) / 2, length, col)
    return said.place(each.name, beat.number, MarkKind.LINE, points, value, reason)


def _notes(beats: Beats) -> tuple[str, ...]:
    left = tuple(f"beat {beat.number} left out: {beat.left_out}" for beat in beats.beats if beat.left_out)
    return (*left, beats.rhythm_note) if beats.rhythm_note else left


def mitral_lines(reading: MitralReading, to: OnPicture, frame: int, house: House) -> StripLines:
    """Return the left side of the septum and the leaflet below it, and in each beat its distance at E and A.

    Notes
    -----
    The septum is drawn where the distance begins: at the leading edge of its echo.
    """
    said = Said(reading.measurements, house)
    septum, echo = reading.septum, reading.echo
    if septum is None or echo is None:
        return StripLines(frame=frame, reason=said.why_none)
    edge = to.rows(septum.rows - septum.blur_mm / to.mm_per_row)
    leaflet = to.rows(np.where(_steady(echo.parted), echo.rows, np.nan))
    courses = (
        *courses_of(Border.SEPTUM_END.name.lower(), Border.SEPTUM_END.words, edge, to.cols, _steady(septum.seen)),
        *courses_of("leaflet", _LEAFLET, leaflet, to.cols, np.ones(to.n_cols, bool)),
    )
    places = []
    for item in reading.openings:
        at = (EPSS, item.e_col, item.e_mm), (reading.measurements[1].label, item.a_col, item.a_mm)
        for name, col, length_mm in at[: 2 if item.has_a else 1]:
            middle = float(echo.rows[col]) - length_mm / to.mm_per_row / 2
            points = to.pair(middle, length_mm, col)
            places.append(said.place(name, item.number, MarkKind.LINE, points, length_mm))
    return StripLines(frame=frame, courses=courses, places=tuple(places), reason=said.why_none)
