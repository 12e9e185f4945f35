"""Which calipers are laid on which view: what the trade measures there, each by its named convention."""

from __future__ import annotations

from collections.abc import Callable

from fanlight.heart.calipers import (
    Caliper,
    measure_centring,
    measure_eccentricity,
    measure_epss,
    measure_la_ao_by_commissure,
    measure_la_ao_by_line,
    measure_la_long_axis,
    measure_lv_length,
    measure_lv_long_axis,
    measure_lv_roundness,
    measure_lv_short_axis,
    measure_lv_volume,
    measure_pa_ao,
    measure_papillary_symmetry,
    measure_root_roundness,
    measure_rv_lv_area,
    measure_septal_kink,
    measure_septal_slope,
)
from fanlight.heart.label_map import LabelMap
from fanlight.heart.tissue import Tissue

Measure = Callable[[LabelMap], Caliper | tuple[Caliper, ...]]


def _ventricle_in_middle(plane: LabelMap) -> Caliper:
    return measure_centring(plane, (Tissue.LV_CAVITY,))


def _root_in_middle(plane: LabelMap) -> Caliper:
    return measure_centring(plane, (Tissue.AORTA,))


_LONG: tuple[Measure, ...] = (
    measure_lv_long_axis, measure_lv_length, measure_la_long_axis, measure_septal_slope, measure_septal_kink,
    measure_lv_volume, _ventricle_in_middle,
)  # fmt: skip
_SHORT: tuple[Measure, ...] = (
    measure_lv_short_axis, measure_lv_roundness, measure_eccentricity, measure_papillary_symmetry, measure_rv_lv_area,
    _ventricle_in_middle,
)  # fmt: skip
_BY_VIEW: dict[str, tuple[Measure, ...]] = {
    "right_parasternal_long_axis_four_chamber": _LONG,
    "right_parasternal_long_axis_outflow": (*_LONG, measure_epss),
    "right_parasternal_short_axis_apex": _SHORT,
    "right_parasternal_short_axis_papillary_muscles": _SHORT,
    "right_parasternal_short_axis_chordae": _SHORT,
    "right_parasternal_short_axis_mitral_valve": _SHORT,
    "right_parasternal_short_axis_aorta": (
        measure_la_ao_by_commissure, measure_la_ao_by_line, measure_root_roundness, _root_in_middle,
    ),
    "right_parasternal_short_axis_pulmonary_artery": (measure_pa_ao, measure_root_roundness),
    "left_apical_four_chamber": (measure_lv_length, measure_lv_volume, measure_septal_slope, _ventricle_in_middle),
    "left_apical_five_chamber": (measure_lv_length, _ventricle_in_middle),
    "left_apical_two_chamber": (measure_lv_length, measure_lv_volume, _ventricle_in_middle),
    "left_apical_three_chamber": (measure_lv_length, _ventricle_in_middle),
    "left_cranial_short_axis": (measure_root_roundness, _root_in_middle),
}  # fmt: skip


def measure_plane(view: str, plane: LabelMap) -> tuple[tuple[Caliper, ...], tuple[Caliper, ...]]:
    """Return what the trade measures in a view, read from a label map: those with a value, and those without."""
    found: list[Caliper] = []
    for measure in _BY_VIEW.get(view, ()):
        answer = measure(plane)
        found += [answer] if isinstance(answer, Caliper) else list(answer)
    return tuple(c for c in found if c.value is not None), tuple(c for c in found if c.value is None)
