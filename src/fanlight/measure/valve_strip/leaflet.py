"""The first echo below the septum, column by column, and the points of the septal mitral leaflet on it."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter
from scipy.signal import find_peaks

from fanlight.measure.m_mode.strip import MModeStrip
from fanlight.measure.m_mode.tissue_map import TissueMap, smoothed
from fanlight.measure.valve_strip.septum import Septum
from fanlight.measure.valve_strip.strip_beats import StripBeat

Rows = NDArray[np.float64]

# Engineering judgement, set on simulated strips of ring A (seeds 300 to 321).
_LEVEL_SHARE = 0.3  # of the way from blood to wall: a leaflet is thinner than a wall, and fainter
_BELOW_MM = 0.3  # from the septum's border on blood is looked for
_LEAST_BLOOD_MM = 0.6  # between septum and leaflet; less is a streak within the septum
_EVEN_MS = 8.0  # speckle; an E point is sharp
_OPENS_SHARE, _OPENS_MS = 0.45, 280.0  # of a beat, or ms behind the R wave: no ventricle fills earlier
_E_BY_SHARE, _E_BY_MS = 0.8, 280.0  # of a beat, or ms, whichever is later: behind it the atrium alone opens the valve
_A_BEHIND_MS = 60.0  # E and A that are nearer together are one
_A_BY_SHARE = 1.03
_CLOSED_BY_SHARE = 1.15
_LEAST_PROMINENCE_MM = 0.8  # of an opening, to either side
_LEAST_CLOSING_MM = 2.0  # the leaflet falls back so far: less is no leaflet that opens
_MERGED_MM = 1.2  # blood that begins deeper below the septum's border has something on the septum above it
_PARTED_MS = (80.0, 16.0)  # before and behind the E point in which blood must part leaflet and septum
_ABOUT_MS = 8.0  # about a moment, over which the place of the septum is averaged


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """How near the leaflet comes to the septum in one beat.

    Attributes
    ----------
    e_col, a_col : int
        Columns of its widest early opening and of the one by the atrium; `a_col` is -1 where the two are not apart.
    e_mm, a_mm : float
        From leading edge to leading edge.
    """

    number: int
    e_col: int
    e_mm: float
    a_col: int = -1
    a_mm: float = 0.0

    @property
    def has_a(self) -> bool:
        """Whether the atrium's opening is apart from the early one."""
        return self.a_col >= 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Echo:
    """The first echo below the septum, column by column.

    Attributes
    ----------
    rows : ndarray of shape (column,)
        Where it begins; the last row where there is none.
    parted : ndarray of shape (column,), bool
        Whether blood lies between it and the septum.
    """

    rows: Rows
    parted: NDArray[np.bool_]


def first_echo(strip: MModeStrip, tissue: TissueMap, septum: Septum) -> Echo:
    """Return where the first echo below the septum begins."""
    smooth = smoothed(strip)
    n = len(smooth)
    level = tissue.blood_level + _LEVEL_SHARE * (tissue.wall_level - tissue.blood_level)
    at = np.arange(n)[:, None]
    dark = (smooth < level) & (at >= septum.rows[None, :] + _BELOW_MM / strip.mm_per_row)
    size = max(round(_LEAST_BLOOD_MM / strip.mm_per_row), 1)
    # A run of blood counts only if it is thick enough: an opening by a column of that height.
    blood = cv2.morphologyEx(dark.astype(np.uint8), cv2.MORPH_OPEN, np.ones((size, 1), np.uint8)).astype(bool)
    first_blood = np.where(blood.any(axis=0), blood.argmax(axis=0), n)
    echo = (at > first_blood[None, :]) & ~blood
    row = np.where(echo.any(axis=0), echo.argmax(axis=0), n - 1)
    cols = np.arange(smooth.shape[1])
    before, here = smooth[np.maximum(row - 1, 0), cols], smooth[row, cols]
    rises = here > before
    part = np.where(rises, (level - before) / np.where(rises, here - before, 1.0), 0.5)
    found = row - 0.5 + np.clip(part, 0.0, 1.0)
    return Echo(
        rows=median_filter(found, size=2 * round(_EVEN_MS / 2 / strip.ms_per_col) + 1, mode="nearest"),
        parted=np.asarray(first_blood - septum.rows <= _MERGED_MM / strip.mm_per_row),
    )


def find_opening(strip: MModeStrip, septum: Septum, echo: Echo, beat: StripBeat) -> Opening | str:
    """Return the points of one beat, or why they are not seen.

    Notes
    -----
    The leading edge of the leaflet is the start of its echo. That of the septum's left side lies half a pulse before
    its crest, where `Septum.rows` lies: `blur_mm` is added.
    """
    first = round((beat.start_ms + min(_OPENS_SHARE * beat.length_ms, _OPENS_MS)) / strip.ms_per_col)
    last = min(round((beat.start_ms + _CLOSED_BY_SHARE * beat.length_ms) / strip.ms_per_col), len(echo.rows) - 1)
    depth_mm = echo.rows[first : last + 1] * strip.mm_per_row
    if len(depth_mm) < 3:
        return "it is cut by the end of the strip"
    # A leaflet that is still open at the end of the strip falls back there.
    peaks, _ = find_peaks(np.append(-depth_mm, -depth_mm.max()), prominence=_LEAST_PROMINENCE_MM)
    cols = [first + int(peak) for peak in peaks]
    e_by = max(_E_BY_SHARE, _E_BY_MS / beat.length_ms)
    early = [col for col in cols if _share(col, strip, beat) <= e_by]
    if not early:
        return "no clear E point"
    e_col = min(early, key=lambda col: echo.rows[col])
    if (echo.rows[e_col : last + 1].max() - echo.rows[e_col]) * strip.mm_per_row < _LEAST_CLOSING_MM:
        return "what lies below the septum does not close as a leaflet does"
    about = _about(e_col, strip)
    if not septum.seen[about].all():
        return "the left side of the septum is not seen at the E point"
    before, behind = (round(ms / strip.ms_per_col) for ms in _PARTED_MS)
    if not echo.parted[max(e_col - before, 0) : e_col + behind + 1].all():
        return "about the E point no blood is seen between septum and leaflet"
    apart = round(_A_BEHIND_MS / strip.ms_per_col)
    late = [col for col in cols if col >= e_col + apart and _share(col, strip, beat) <= _A_BY_SHARE]
    a_col = min(late, key=lambda col: echo.rows[col]) if late else -1
    a_mm = _separation_mm(a_col, strip, septum, echo) if late else 0.0
    return Opening(
        number=beat.number, e_col=e_col, e_mm=_separation_mm(e_col, strip, septum, echo), a_col=a_col, a_mm=a_mm
    )


def _share(col: int, strip: MModeStrip, beat: StripBeat) -> float:
    return (col * strip.ms_per_col - beat.start_ms) / beat.length_ms


def _about(col: int, strip: MModeStrip) -> slice:
    half = round(_ABOUT_MS / strip.ms_per_col)
    return slice(max(col - half, 0), col + half + 1)


def _separation_mm(col: int, strip: MModeStrip, septum: Septum, echo: Echo) -> float:
    about = _about(col, strip)
    return float(echo.rows[col] - septum.rows[about].mean()) * strip.mm_per_row + septum.blur_mm
