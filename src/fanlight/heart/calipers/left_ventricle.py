"""The left ventricle in a label map: its cavity's outline, what lies behind it, and the chord of the septum.

Papillary muscles, chordae and leaflets that hang in the cavity count as cavity, and so does the atrium's blood between
open leaflets that a short axis cuts across: an outline passes behind them, on the compact wall, as if the muscle were
bridged. So a diameter never ends on a papillary muscle.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.calipers.region import Region, find_region, leave_px
from fanlight.heart.label_map import LabelMap
from fanlight.heart.tissue import Tissue

BRIDGED = frozenset(
    {
        Tissue.PAPILLARY_CRANIAL,
        Tissue.PAPILLARY_CAUDAL,
        Tissue.MITRAL_CHORDAE,
        Tissue.MITRAL_SEPTAL_LEAFLET,
        Tissue.MITRAL_PARIETAL_LEAFLET,
    }
)
CAVITY = frozenset({Tissue.LV_CAVITY}) | BRIDGED
RIGHT_LUMEN = frozenset(
    {Tissue.RV_CAVITY, Tissue.RV_OUTFLOW, Tissue.RV_PAPILLARY, Tissue.TRICUSPID_CHORDAE, Tissue.TRICUSPID_LEAFLET}
)
NO_VENTRICLE = "the left ventricle is not in the picture"
NO_SEPTUM = "the septum does not border the cavity in the picture"
CUT = "it is cut by the edge of the picture"
_RAYS = 480  # engineering judgement: 0.75° apart, so that where the septum ends turns its chord by less than that
BEHIND_PX = 1.5  # engineering judgement: past the border and its rounding, before the next border
_GAP_RAYS = 9  # engineering judgement: a chorda or a vessel within the septum's outline does not end it


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LeftVentricle:
    """The cavity, papillary muscles bridged, seen from the centre of its area."""

    cavity: Region
    outline_px: NDArray[np.float64]  # (ray, 2), (row, col), turning from screen right downwards
    behind: NDArray[np.uint8]  # (ray,), tissue just behind the outline
    septum_px: NDArray[
        np.float64
    ]  # (n, 2), the part of the outline on the septum, from screen left to right; may be empty

    @property
    def centre_px(self) -> NDArray[np.float64]:
        """Centre of the cavity's area, (row, col)."""
        return self.cavity.centre_px


def labels_at(tissue: NDArray[np.uint8], points_px: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Return the tissue at points (..., 2); OUTSIDE beyond the map."""
    row, col = (np.floor(points_px[..., i] + 0.5).astype(np.intp) for i in (0, 1))
    on_map = (row >= 0) & (row < tissue.shape[0]) & (col >= 0) & (col < tissue.shape[1])
    found = tissue[np.where(on_map, row, 0), np.where(on_map, col, 0)]
    return np.asarray(np.where(on_map, found, np.uint8(Tissue.OUTSIDE)))


def find_left_ventricle(label_map: LabelMap) -> LeftVentricle | None:
    """Return the left ventricle of a map, or None where its cavity is not in the picture."""
    tissue = label_map.shown()
    cavity = find_region(tissue, CAVITY, filled=True)
    if cavity is None or not (tissue == Tissue.LV_CAVITY).any():
        return None
    angles = np.arange(_RAYS) * (2 * np.pi / _RAYS)
    rays = np.stack([np.sin(angles), np.cos(angles)], axis=-1)
    far = leave_px(cavity, cavity.centre_px, rays)
    if np.isnan(far).any():
        return None  # the centre lies outside its own outline: a crescent, no ventricle that can be measured
    outline = cavity.centre_px + far[:, None] * rays
    behind = labels_at(tissue, cavity.centre_px + (far + BEHIND_PX)[:, None] * rays)
    return LeftVentricle(
        cavity=cavity, outline_px=outline, behind=behind, septum_px=_longest_run(outline, behind == Tissue.SEPTUM)
    )


def _longest_run(outline_px: NDArray[np.float64], is_septum: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Return the longest part of a closed outline that is septum, gaps of a few rays bridged, left end first."""
    n, places = len(is_septum), np.flatnonzero(is_septum)
    if places.size == 0:
        return outline_px[:0]
    gaps = np.diff(np.append(places, places[0] + n))
    if gaps.max() > _GAP_RAYS + 1:
        places = np.roll(places, -(int(gaps.argmax()) + 1))  # begin behind the widest gap
    places = places[0] + (places - places[0]) % n
    breaks = np.flatnonzero(np.diff(places) > _GAP_RAYS + 1)
    runs = [(places[first], places[last]) for first, last in zip([0, *(breaks + 1)], [*breaks, -1], strict=True)]
    first, last = max(runs, key=lambda run: int(run[1] - run[0]))
    run = np.take(outline_px, np.arange(first, last + 1), axis=0, mode="wrap")
    return np.asarray(run if run[0, 1] <= run[-1, 1] else run[::-1])


def middle_third(line_px: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the two ends of the middle third of a line of points (n, 2), by its length.

    Each end is found on the line smoothed over three points, so that the steps of pixels do not turn the chord.
    """
    smooth = line_px.copy()
    smooth[1:-1] = (line_px[:-2] + line_px[1:-1] + line_px[2:]) / 3
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(smooth, axis=0).T))])
    ends = [np.array([np.interp(along[-1] * share, along, smooth[:, i]) for i in (0, 1)]) for share in (1 / 3, 2 / 3)]
    return ends[0], ends[1]


def septal_chord(ventricle: LeftVentricle) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    """Return the ends (row, col) of the chord of the middle third of the septum's left side, screen left first.

    None where fewer than three rays meet the septum.
    """
    if len(ventricle.septum_px) < 3:
        return None
    first, second = middle_third(ventricle.septum_px)
    return first, second


def unit_between(first_px: NDArray[np.float64], second_px: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the unit vector (row, col) from one point to another."""
    step = second_px - first_px
    return np.asarray(step / np.hypot(*step))


def across(direction: NDArray[np.float64], towards_px: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the unit vector at right angles to a direction that points to the side of another vector."""
    turned = np.array([-direction[1], direction[0]])
    return turned if float(turned @ towards_px) >= 0 else np.asarray(-turned)
