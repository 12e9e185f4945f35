"""The ring of the tricuspid valve in each beat: where its echo begins at the R wave, and how far that goes.

In systole the wall of the right ventricle comes into the beam above the ring, and the first echo is no longer the
ring's. Its tissue keeps its own pattern while it moves, and is followed by that.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.measure.m_mode.strip import MModeStrip
from fanlight.measure.m_mode.tissue_map import TissueMap
from fanlight.measure.ring_strip.pattern import Way, follow_edge
from fanlight.measure.valve_strip.strip_beats import StripBeat

Rows = NDArray[np.float64]

# Engineering judgement, set on simulated strips of ring A (seeds 300 to 325).
_ABOUT_R_MS = 16.0  # over which the picture of end-diastole is averaged
_LEAST_BLOOD_MM, _LEAST_TISSUE_MM = 2.0, 2.0  # above and below the leading edge of the ring
_LEAST_DEPTH_SHARE = 0.3  # from the apex the ring lies in the depth
_SYSTOLE_SHARES, _SYSTOLE_MS = (0.12, 0.75), 380.0  # of a beat: when the ring is nearest to the apex
_LEAST_EXCURSION_MM = 0.8  # less is not told from noise
_AS_FAR_SHARE = 0.6  # of the one that goes farthest: so far the ring goes as well, and it is the deepest
_LEAST_LIKENESS = 0.8  # of the pattern on the way from R wave to the top
_APART_MM, _APART_SHARE = 0.8, 0.15  # by which the way there and the way back may differ
_LEAST_RETURN = 0.5  # of the way: a ring goes back before the next beat
_NO_RING = "at the R wave no tissue is seen below blood: the cursor meets no ring"
_NOT_ALONG = "nothing below blood comes towards the apex in systole: the cursor meets no ring, or lies across its way"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RingBeat:
    """The ring in one beat.

    Attributes
    ----------
    diastole_col, systole_col : int
        Column of the R wave, and of the ring's nearest place to the apex.
    rows : ndarray of shape (column,)
        Its leading edge from the R wave to the next.
    mm : float
        How far it comes towards the apex: the mean of the way there and of the same way followed back.
    apart_mm : float
        By how much the two differ.
    """

    number: int
    diastole_col: int
    systole_col: int
    rows: Rows
    mm: float
    apart_mm: float


def find_ring(strip: MModeStrip, tissue: TissueMap, beat: StripBeat) -> RingBeat | str:
    """Return the way of the ring in one beat, or why it is not seen.

    Notes
    -----
    Of all places where tissue begins below blood at the R wave, the ring's is the deepest that comes towards the apex
    in systole about as far as any: what lies nearer to the apex moves as well, but less; what lies behind the heart
    hardly moves.
    """
    first, last = round(beat.start_ms / strip.ms_per_col), round(beat.end_ms / strip.ms_per_col)
    if first < 0 or last > strip.levels.shape[1] - 1:
        return "it is cut by the end of the strip"
    ways = [follow_edge(strip, edge, first, last) for edge in _edges_at(strip, tissue, first)]
    if not ways:
        return _NO_RING
    tops = [_top(way.rows, strip, beat) for way in ways]
    gone = [float(way.rows[0] - way.rows[top]) * strip.mm_per_row for way, top in zip(ways, tops, strict=True)]
    if max(gone) < _LEAST_EXCURSION_MM:
        return _NOT_ALONG
    ring = max(k for k, mm in enumerate(gone) if mm >= _AS_FAR_SHARE * max(gone))
    return _checked(strip, ways[ring], tops[ring], first, beat.number)


def _checked(strip: MModeStrip, way: Way, top: int, first: int, number: int) -> RingBeat | str:
    """Return a way from the R wave to the top that the way back bears out, or why it does not."""
    mm = float(way.rows[0] - way.rows[top]) * strip.mm_per_row
    if float(way.likeness[: top + 1].mean()) < _LEAST_LIKENESS:
        return "the echo of the ring is lost on its way"
    if float(way.rows[top:].max() - way.rows[top]) * strip.mm_per_row < _LEAST_RETURN * mm:
        return "what comes towards the apex does not go back in diastole as a ring does"
    back = follow_edge(strip, float(way.rows[top]), first + top, first)
    apart_mm = abs(float(back.rows[-1] - way.rows[0])) * strip.mm_per_row
    if apart_mm > max(_APART_MM, _APART_SHARE * mm):
        return f"followed back from its top the ring ends {apart_mm:.1f} mm from where it began"
    back_mm = float(back.rows[-1] - back.rows[0]) * strip.mm_per_row
    return RingBeat(
        number=number, diastole_col=first, systole_col=first + top, rows=way.rows, mm=(mm + back_mm) / 2,
        apart_mm=apart_mm,
    )  # fmt: skip


def _edges_at(strip: MModeStrip, tissue: TissueMap, col: int) -> list[float]:
    """Return the rows at which tissue begins below blood."""
    half = max(round(_ABOUT_R_MS / 2 / strip.ms_per_col), 1)
    wall = tissue.wall[:, max(col - half, 0) : col + half + 1].mean(axis=1)
    above = max(round(_LEAST_BLOOD_MM / strip.mm_per_row), 1)
    below = max(round(_LEAST_TISSUE_MM / strip.mm_per_row), 1)
    sums = np.concatenate([[0.0], np.cumsum(wall)])
    return [
        float(row - wall[row] / (wall[row] - wall[row - 1]) + 0.5)
        for row in range(max(above, round(_LEAST_DEPTH_SHARE * len(wall))), len(wall) - below)
        if wall[row - 1] <= 0 < wall[row] and sums[row] < sums[row - above] and sums[row + below] > sums[row]
    ]


def _top(rows: Rows, strip: MModeStrip, beat: StripBeat) -> int:
    """Return at which column after the R wave the ring is nearest to the apex."""
    low, high = (share * beat.length_ms for share in _SYSTOLE_SHARES)
    first = round(low / strip.ms_per_col)
    last = max(round(min(high, max(_SYSTOLE_MS, low)) / strip.ms_per_col), first + 1)
    return first + int(rows[first : last + 1].argmin())
