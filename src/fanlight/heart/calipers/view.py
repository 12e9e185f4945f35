"""What can be measured in each standard view, taken from the view's label map."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fanlight.heart.animal import Animal, animal_axes, animal_landmarks
from fanlight.heart.axis import Axis
from fanlight.heart.calipers.aortic_root import (
    measure_aortic_ring,
    measure_aortic_root_long_axis,
    measure_root_roundness,
)
from fanlight.heart.calipers.caliper import Caliper, ratio
from fanlight.heart.calipers.centring import measure_centring
from fanlight.heart.calipers.eccentricity import measure_eccentricity
from fanlight.heart.calipers.ellipse import measure_lv_roundness
from fanlight.heart.calipers.epss import measure_epss, measure_epss_short_axis
from fanlight.heart.calipers.la_ao import measure_la_ao_by_commissure, measure_la_ao_by_line
from fanlight.heart.calipers.la_long_axis import measure_la_long_axis
from fanlight.heart.calipers.left_ventricle import CAVITY, RIGHT_LUMEN, LeftVentricle, find_left_ventricle
from fanlight.heart.calipers.lv_length import LongAxis, find_long_axis, measure_lv_length, measure_mitral_ring
from fanlight.heart.calipers.lv_long_axis import measure_lv_long_axis, measure_sphericity
from fanlight.heart.calipers.lv_short_axis import measure_lv_short_axis
from fanlight.heart.calipers.lv_volume import measure_lv_volume
from fanlight.heart.calipers.orifice import AORTA
from fanlight.heart.calipers.pa_ao import measure_pa_ao
from fanlight.heart.calipers.papillary import measure_papillary_symmetry
from fanlight.heart.calipers.rv_lv import measure_rv_lv_area
from fanlight.heart.calipers.septum import measure_septal_kink, measure_septal_slope
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.label_map import LabelMap, label_map
from fanlight.heart.pose import Pose, look
from fanlight.heart.tissue import Tissue
from fanlight.study import Landmark

N_ROWS = 400  # engineering judgement: 0.12 mm (cat) to 0.5 mm (dog of 60 kg) a pixel, as fine as stored pictures
_MARGIN = 0.4  # engineering judgement: walls and pericardium lie nearer to some landmark than 0.4 of the LV's length
RIGHT_ATRIUM = frozenset({Tissue.RA_CAVITY, Tissue.RIGHT_AURICLE})


def _short_axis_of_ventricle(view: LabelMap) -> list[Caliper]:
    ventricle = find_left_ventricle(view)
    return [
        *measure_lv_short_axis(view, ventricle=ventricle),
        *_round_ventricle(view, ventricle),
        *measure_papillary_symmetry(view, ventricle=ventricle),
    ]


def _round_ventricle(view: LabelMap, ventricle: LeftVentricle | None) -> list[Caliper]:
    return [
        measure_septal_slope(view, ventricle=ventricle),
        measure_eccentricity(view, ventricle=ventricle),
        measure_lv_roundness(view, ventricle=ventricle),
        measure_centring(view, CAVITY),
    ]


def _mitral_short_axis(view: LabelMap) -> list[Caliper]:
    ventricle = find_left_ventricle(view)
    return [*_round_ventricle(view, ventricle), measure_epss_short_axis(view, ventricle=ventricle)]


def _apex(view: LabelMap) -> list[Caliper]:
    return [measure_lv_roundness(view), measure_centring(view, CAVITY)]


def _heart_base(view: LabelMap) -> list[Caliper]:
    by_commissure, by_line = measure_la_ao_by_commissure(view), measure_la_ao_by_line(view)
    return [
        *(caliper.to(f"{caliper.name}_by_commissure") for caliper in by_commissure),
        *(caliper.to(f"{caliper.name}_by_line") for caliper in by_line),
        measure_root_roundness(view),
        measure_centring(view, AORTA),
    ]


def _trunk(view: LabelMap) -> list[Caliper]:
    return [*measure_pa_ao(view), measure_centring(view, {Tissue.PULMONARY_TRUNK})]


def _long_axis(
    view: LabelMap, ventricle: LeftVentricle | None, axis: LongAxis | str, *, upright: bool
) -> list[Caliper]:
    diameter, septum, wall = measure_lv_long_axis(view, axis=axis)
    length, atrium = measure_lv_length(view, axis=axis), measure_la_long_axis(view, axis=axis)
    return [
        diameter,
        septum,
        wall,
        length,
        atrium,
        measure_mitral_ring(view, axis=axis),
        measure_sphericity(length, diameter),
        ratio("la_lv_long_axis", atrium, diameter),
        measure_septal_slope(view, upright=upright, ventricle=ventricle),
        measure_centring(view, CAVITY),
    ]


def _four_chamber(view: LabelMap, *, upright: bool = False) -> list[Caliper]:
    ventricle = find_left_ventricle(view)
    axis = find_long_axis(view, ventricle)
    return [
        *_long_axis(view, ventricle, axis, upright=upright),
        measure_lv_volume(view, axis=axis),
        measure_septal_kink(view, ventricle=ventricle),
        measure_rv_lv_area(view),
        measure_epss(view, axis=axis),
    ]


def _apical_four_chamber(view: LabelMap) -> list[Caliper]:
    return _four_chamber(view, upright=True)


def _outflow(view: LabelMap) -> list[Caliper]:
    ventricle = find_left_ventricle(view)
    axis = find_long_axis(view, ventricle)
    found = _long_axis(view, ventricle, axis, upright=False)
    named = {caliper.name: caliper for caliper in found}
    ring = measure_aortic_ring(view)
    return [
        *found,
        ring,
        measure_aortic_root_long_axis(view),
        measure_epss(view, axis=axis),
        ratio("lv_ao_long_axis", named["lv_internal_diameter"], ring),
        ratio("la_ao_long_axis", named["left_atrium_long_axis"], ring),
    ]


def _apical_with_aorta(view: LabelMap) -> list[Caliper]:
    ventricle = find_left_ventricle(view)
    axis = find_long_axis(view, ventricle)
    return [*_long_axis(view, ventricle, axis, upright=True), measure_aortic_ring(view)]


def _apical_right_heart(view: LabelMap) -> list[Caliper]:
    return [measure_septal_slope(view, upright=True), measure_centring(view, RIGHT_LUMEN)]


def _apical_two_chamber(view: LabelMap) -> list[Caliper]:
    axis = find_long_axis(view)
    return [
        measure_lv_length(view, axis=axis),
        measure_mitral_ring(view, axis=axis),
        measure_lv_volume(view, axis=axis),
        measure_centring(view, CAVITY),
    ]


def _aorta(view: LabelMap) -> list[Caliper]:
    return [measure_aortic_ring(view), measure_aortic_root_long_axis(view), measure_centring(view, AORTA)]


def _round_aorta(view: LabelMap) -> list[Caliper]:
    return [measure_root_roundness(view), measure_centring(view, AORTA)]


def _right_outflow(view: LabelMap) -> list[Caliper]:
    return [measure_pa_ao(view)[0], measure_centring(view, {Tissue.PULMONARY_TRUNK})]


def _right_inflow(view: LabelMap) -> list[Caliper]:
    return [measure_centring(view, RIGHT_ATRIUM)]


_CALIPERS: dict[str, Callable[[LabelMap], list[Caliper]]] = {
    "right_parasternal_long_axis_four_chamber": _four_chamber,
    "right_parasternal_long_axis_outflow": _outflow,
    "right_parasternal_short_axis_apex": _apex,
    "right_parasternal_short_axis_papillary_muscles": _short_axis_of_ventricle,
    "right_parasternal_short_axis_chordae": _short_axis_of_ventricle,
    "right_parasternal_short_axis_mitral_valve": _mitral_short_axis,
    "right_parasternal_short_axis_aorta": _heart_base,
    "right_parasternal_short_axis_pulmonary_artery": _trunk,
    "left_apical_four_chamber": _apical_four_chamber,
    "left_apical_four_chamber_right_heart": _apical_right_heart,
    "left_apical_five_chamber": _apical_with_aorta,
    "left_apical_two_chamber": _apical_two_chamber,
    "left_apical_three_chamber": _apical_with_aorta,
    "left_cranial_long_axis_aorta": _aorta,
    "left_cranial_long_axis_right_inflow": _right_inflow,
    "left_cranial_long_axis_right_auricle": _right_inflow,
    "left_cranial_long_axis_right_outflow": _right_outflow,
    "left_cranial_short_axis": _round_aorta,
    "subcostal_outflow": _aorta,
}


def measure_map(view: LabelMap, view_key: str) -> dict[str, Caliper]:
    """Return everything that a view allows to be measured, by name.

    Parameters
    ----------
    view : LabelMap
        The picture; with a sector's mask, structures beyond the sector count as cut.
    view_key : str
        Key of ``views.toml``: which calipers a view allows.

    Returns
    -------
    dict of str to Caliper
        Names are unique; a caliper without a value says why. Which moment of the beat a value belongs to is that of the
        map. Left atrium and aorta in the short axis come twice, "…_by_commissure" and "…_by_line".

    Raises
    ------
    ValueError
        If the key is not one of the standard views.
    """
    if view_key not in _CALIPERS:
        raise ValueError(f"no calipers for a view called {view_key!r}; known: {', '.join(_CALIPERS)}")
    return {caliper.name: caliper for caliper in _CALIPERS[view_key](view)}


def whole_map(animal: Animal, state: CycleState, pose: Pose, *, n_rows: int = N_ROWS) -> LabelMap:
    """Return a map around all landmarks of the heart, without a sector's borders.

    Parameters
    ----------
    animal, state, pose
        What, when and from where.
    n_rows : int
        Rows of the map: how fine it is.

    Raises
    ------
    ValueError
        If the whole heart lies behind the probe.
    """
    landmarks = animal_landmarks(animal, state)
    places = pose.to_probe(np.stack(list(landmarks.values())))
    if float(places[:, 2].max()) <= 0:
        raise ValueError("the probe looks away from the heart: no landmark lies in front of its face")
    margin_mm = _MARGIN * float(np.linalg.norm(landmarks[Landmark.LV_APEX] - landmarks[Landmark.MITRAL_CENTRE]))
    depth_mm = float(places[:, 2].max()) + margin_mm
    half_width_mm = float(np.abs(places[:, 0]).max()) + margin_mm
    return label_map(
        animal, state, pose, depth_mm=depth_mm, half_width_mm=half_width_mm, mm_per_px=depth_mm / (n_rows - 1)
    )


def measure_view(
    animal: Animal, state: CycleState, pose: Pose, view_key: str, *, n_rows: int = N_ROWS
) -> dict[str, Caliper]:
    """Return what a view allows to be measured in the plane of this probe at this moment.

    These are the true sizes of a simulated clip: read from the labels of the very plane that is shown, with all that
    an oblique plane does to them.

    Parameters
    ----------
    animal, state, pose
        What, when and from where.
    view_key : str
        Key of ``views.toml``.
    n_rows : int
        Rows of the map, see `whole_map`.
    """
    return measure_map(whole_map(animal, state, pose, n_rows=n_rows), view_key)


def longest_lv(animal: Animal, state: CycleState, *, n_rows: int = N_ROWS) -> Caliper:
    """Return the left ventricle's length in the plane through its apex and the middle of the mitral ring, mm.

    It is what `measure_shortening` holds the length in any other plane against.
    """
    places = animal_landmarks(animal, state)
    apex, ring = places[Landmark.LV_APEX], places[Landmark.MITRAL_CENTRE]
    middle = (apex + ring) / 2
    # from the septal side, so that the plane holds the axis and the septum's normal; far enough off to see it all
    toward = animal_axes(animal, state)[Axis.SEPTUM_NORMAL]
    pose = look(middle - 2 * float(np.linalg.norm(ring - apex)) * toward, middle, ring - apex)
    return measure_lv_length(whole_map(animal, state, pose, n_rows=n_rows))
