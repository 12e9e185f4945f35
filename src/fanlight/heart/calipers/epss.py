"""Separation of the septal mitral leaflet from the septum at its widest early opening (E point), EPSS."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.calipers.caliper import Caliper, length_mm, line, no_value
from fanlight.heart.calipers.left_ventricle import (
    NO_SEPTUM,
    NO_VENTRICLE,
    LeftVentricle,
    across,
    find_left_ventricle,
    labels_at,
    septal_chord,
    unit_between,
)
from fanlight.heart.calipers.lv_length import LongAxis, find_long_axis
from fanlight.heart.calipers.region import STEP_PX, leave_px, mask_of
from fanlight.heart.label_map import LabelMap
from fanlight.heart.tissue import Tissue
from fanlight.study import Landmark

CONVENTION = (
    "long axis, cursor through the tip of the septal leaflet at right angles to the septum, leaflet's septal side to "
    "the septum's left side"
)
SHORT_AXIS_CONVENTION = (
    "short axis, line through the centre of the cavity at right angles to the septum, leaflet's septal side to the "
    "septum's left side"
)
TIP_OFF_MM = 2.0  # engineering judgement: within half the thickness of the beam in elevation the tip is still shown
NO_LEAFLET = "the septal mitral leaflet is not in the picture"


def _why_too_large(label_map: LabelMap) -> str:
    """Say that the plane misses the leaflet's tip, where that is known."""
    tip_mm = label_map.landmarks_mm.get(Landmark.MITRAL_SEPTAL_TIP)
    if tip_mm is None:
        return ""
    off_mm = abs(float(label_map.from_patient_mm(tip_mm)[1]))
    return f"the tip of the leaflet lies {off_mm:.0f} mm off the plane" if off_mm > TIP_OFF_MM else ""


def _septal_point(ventricle: LeftVentricle, start_px: NDArray[np.float64], way: NDArray[np.float64]) -> float | None:
    """Return how far the septum's left side lies from a point along `way`, px."""
    far = float(leave_px(ventricle.cavity, start_px, way[None, :])[0])
    return None if np.isnan(far) else far


def measure_epss(label_map: LabelMap, *, axis: LongAxis | str | None = None) -> Caliper:
    """Return the separation of leaflet and septum, mm, in a long axis at the leaflet's widest early opening.

    Parameters
    ----------
    label_map : LabelMap
        Long axis through leaflet and septum at the E point.
    axis : LongAxis or str, optional
        What `find_long_axis` gave, when it has been asked already.

    Notes
    -----
    The tip is the part of the leaflet that lies farthest from the mitral ring, along the ventricle.

    References
    ----------
    .. [WHIPPET2023] key in reference/tables/bibliography.toml, table 1: leading edges, largest early opening.
    """
    axis = find_long_axis(label_map) if axis is None else axis
    if isinstance(axis, str):
        return no_value("epss", CONVENTION, "mm", axis)
    chord = septal_chord(axis.ventricle)
    if chord is None:
        return no_value("epss", CONVENTION, "mm", NO_SEPTUM)
    leaflet = mask_of(label_map.shown(), {Tissue.MITRAL_SEPTAL_LEAFLET})
    points = np.argwhere(leaflet).astype(float)
    if not len(points):
        return no_value("epss", CONVENTION, "mm", NO_LEAFLET)
    reach = (points - axis.ring_px) @ axis.to_ventricle
    tip = points[reach >= reach.max() - 1].mean(axis=0)  # a pixel's depth of leaflet: its tip is rounded by pixels
    to_septum = across(unit_between(*chord), (chord[0] + chord[1]) / 2 - tip)
    # from the tip's middle to its septal side
    steps = np.arange(0.0, 0.2 * axis.length_px, STEP_PX / 2)
    on = tip + steps[:, None] * to_septum
    row, col = (np.clip(np.floor(on[:, i] + 0.5).astype(int), 0, leaflet.shape[i] - 1) for i in (0, 1))
    is_leaflet = np.flatnonzero(leaflet[row, col])
    edge = tip + (float(steps[is_leaflet[-1]]) if is_leaflet.size else 0.0) * to_septum
    far = _septal_point(axis.ventricle, edge, to_septum)
    if far is None:
        return no_value("epss", CONVENTION, "mm", "the tip of the septal leaflet lies outside the ventricle")
    ends = line(edge + far * to_septum, edge)
    return Caliper(
        name="epss",
        convention=CONVENTION,
        value=length_mm(ends, label_map.mm_per_px),
        unit="mm",
        lines=(ends,),
        remark=_why_too_large(label_map),
    )


def measure_epss_short_axis(label_map: LabelMap, *, ventricle: LeftVentricle | None = None) -> Caliper:
    """Return the separation of leaflet and septum, mm, in a short axis at the leaflet's widest early opening.

    Parameters
    ----------
    label_map : LabelMap
        Short axis through the leaflets at the E point.
    ventricle : LeftVentricle, optional
        The map's left ventricle, when it has been looked for already.

    Notes
    -----
    A short axis shows the leaflet at one level only. Below or above its tip the separation is larger than in the long
    axis.
    """
    ventricle = ventricle or find_left_ventricle(label_map)
    if ventricle is None:
        return no_value("epss", SHORT_AXIS_CONVENTION, "mm", NO_VENTRICLE)
    chord = septal_chord(ventricle)
    if chord is None:
        return no_value("epss", SHORT_AXIS_CONVENTION, "mm", NO_SEPTUM)
    centre = ventricle.centre_px
    to_septum = across(unit_between(*chord), (chord[0] + chord[1]) / 2 - centre)
    far = _septal_point(ventricle, centre, to_septum)
    assert far is not None, "the centre lies within the outline"
    steps = np.arange(-far, far, STEP_PX / 2)
    tissue = labels_at(label_map.shown(), centre + steps[:, None] * to_septum)
    on_leaflet = np.flatnonzero(tissue == Tissue.MITRAL_SEPTAL_LEAFLET)
    if not on_leaflet.size:
        return no_value("epss", SHORT_AXIS_CONVENTION, "mm", "the septal mitral leaflet does not cross the line")
    ends = line(centre + far * to_septum, centre + steps[on_leaflet[-1]] * to_septum)
    return Caliper(
        name="epss",
        convention=SHORT_AXIS_CONVENTION,
        value=length_mm(ends, label_map.mm_per_px),
        unit="mm",
        lines=(ends,),
    )
