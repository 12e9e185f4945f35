"""Calipers on label maps: each measurement by its convention, never read from the model's numbers."""

from fanlight.heart.calipers.aortic_root import (
    measure_aortic_ring,
    measure_aortic_root_long_axis,
    measure_root_roundness,
)
from fanlight.heart.calipers.areas import measure_areas_mm2
from fanlight.heart.calipers.beat import measure_beat, moments_of
from fanlight.heart.calipers.caliper import Caliper, Line, Point, ratio
from fanlight.heart.calipers.centring import measure_centring
from fanlight.heart.calipers.eccentricity import measure_eccentricity
from fanlight.heart.calipers.ellipse import measure_lv_roundness
from fanlight.heart.calipers.epss import measure_epss, measure_epss_short_axis
from fanlight.heart.calipers.fractional_shortening import measure_ejection_fraction, measure_fractional_shortening
from fanlight.heart.calipers.la_ao import measure_la_ao_by_commissure, measure_la_ao_by_line
from fanlight.heart.calipers.la_long_axis import measure_la_long_axis
from fanlight.heart.calipers.left_ventricle import LeftVentricle, find_left_ventricle
from fanlight.heart.calipers.lv_length import (
    LongAxis,
    find_long_axis,
    measure_lv_length,
    measure_mitral_ring,
    measure_shortening,
)
from fanlight.heart.calipers.lv_long_axis import measure_lv_long_axis, measure_sphericity
from fanlight.heart.calipers.lv_short_axis import measure_lv_short_axis
from fanlight.heart.calipers.lv_volume import measure_lv_volume
from fanlight.heart.calipers.pa_ao import measure_pa_ao
from fanlight.heart.calipers.papillary import measure_papillary_symmetry
from fanlight.heart.calipers.rv_lv import measure_rv_lv_area
from fanlight.heart.calipers.septum import measure_septal_kink, measure_septal_slope
from fanlight.heart.calipers.view import longest_lv, measure_map, measure_view, whole_map

__all__ = [
    "Caliper",
    "LeftVentricle",
    "Line",
    "LongAxis",
    "Point",
    "find_left_ventricle",
    "find_long_axis",
    "longest_lv",
    "measure_aortic_ring",
    "measure_aortic_root_long_axis",
    "measure_areas_mm2",
    "measure_beat",
    "measure_centring",
    "measure_eccentricity",
    "measure_ejection_fraction",
    "measure_epss",
    "measure_epss_short_axis",
    "measure_fractional_shortening",
    "measure_la_ao_by_commissure",
    "measure_la_ao_by_line",
    "measure_la_long_axis",
    "measure_lv_length",
    "measure_lv_long_axis",
    "measure_lv_roundness",
    "measure_lv_short_axis",
    "measure_lv_volume",
    "measure_map",
    "measure_mitral_ring",
    "measure_pa_ao",
    "measure_papillary_symmetry",
    "measure_root_roundness",
    "measure_rv_lv_area",
    "measure_septal_kink",
    "measure_septal_slope",
    "measure_shortening",
    "measure_sphericity",
    "measure_view",
    "moments_of",
    "ratio",
    "whole_map",
]
