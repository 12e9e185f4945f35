"""Whether the layers lie as in a left ventricle seen from the right: the pericardium is the brightest line."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fanlight.measure.m_mode.border import Border
from fanlight.measure.m_mode.strip import Floats, MModeStrip
from fanlight.measure.m_mode.tissue_map import TissueMap

Rows = NDArray[np.float64]

# The pericardium against the lung is the strongest echo behind the heart (common practice, no source); the first tenth
# of the depth is skin and near field, which may be as bright.
_NEAR_FIELD_SHARE = 0.1
_LINE_MM = 3.0  # below the wall, or the fluid, the line begins within so much
# Of the step from wall to the brightest: by less, two lines are equally bright (ring A, seeds 300 to 345, as they are
# and upside down).
_EQUAL_SHARE = 0.05
_END_SHARE = 0.95  # of the depth: what lies deeper is cut by the strip's end

NO_LINE = "below the free wall there is no bright line of the pericardium"
UPSIDE_DOWN = (
    "the brightest line lies above the septum and not below the free wall: the strip is upside down, or does not run "
    "through the left ventricle from the right"
)
NOT_TOLD = "which end of the strip is the free wall cannot be told: the strip ends before the pericardium is seen"


def order_fault(
    strip: MModeStrip, smooth: Floats, tissue: TissueMap, rows: Rows, pericardium: Rows, *, is_line_seen: bool
) -> str:
    """Return why the borders are not those of a left ventricle below a right one, "" where they are.

    Parameters
    ----------
    smooth : ndarray of shape (row, column)
        As `smoothed`.
    rows : ndarray of shape (5, column)
        As `Borders.rows`.
    pericardium : ndarray of shape (column,)
        Row in which the pericardium begins.
    is_line_seen : bool
        Whether the echo changes at the epicardium in enough columns.

    Notes
    -----
    Turned over, a strip shows two cavities between walls as well; only what lies behind the last wall tells them apart.
    """
    at = (np.arange(len(smooth)) + 0.5)[:, None]
    reach = _LINE_MM / strip.mm_per_row
    start = np.minimum(pericardium, rows[Border.EPICARDIUM])
    below = _brightest(smooth, (at >= start - 1) & (at < np.maximum(pericardium, rows[Border.EPICARDIUM]) + reach))
    above = _brightest(smooth, (at >= _NEAR_FIELD_SHARE * len(smooth)) & (at < rows[Border.SEPTUM_START]))
    equal = _EQUAL_SHARE * (max(below, above) - tissue.wall_level)
    if below < above - equal:
        return UPSIDE_DOWN
    if not is_line_seen or below <= tissue.wall_level:
        return NO_LINE
    if below < above + equal and float(np.median(pericardium)) > _END_SHARE * len(smooth):
        return NOT_TOLD
    return ""


def _brightest(smooth: Floats, inside: NDArray[np.bool_]) -> float:
    """Return the usual level of the brightest row of a band, 0 where it holds none."""
    return float(np.median(np.where(inside, smooth, 0.0).max(axis=0)))
