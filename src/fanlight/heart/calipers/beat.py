"""The numbers of a report, each from the moment of the beat at which the trade takes it.

Keys are those of ``quantities.toml`` where it has one. Moments: ventricle at the onset of QRS and at the smallest
cavity; atrium and aorta in the short axis in the first frame after the aortic valve has shut; atrium in the long axis
at the end of systole; aortic ring while the valve is open; leaflet at the E point; trunk at the onset of QRS.
"""

from __future__ import annotations

from collections.abc import Mapping

from fanlight.heart.animal import Animal
from fanlight.heart.calipers.caliper import Caliper, ratio
from fanlight.heart.calipers.fractional_shortening import measure_ejection_fraction, measure_fractional_shortening
from fanlight.heart.calipers.lv_long_axis import measure_sphericity
from fanlight.heart.calipers.view import N_ROWS, measure_view
from fanlight.heart.cycle import Still
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.pose import Pose

_D, _S = Still.END_DIASTOLE, Still.END_SYSTOLE
# (key of the report, name of the caliper, moment) by group of views
_WALLS = (
    ("lvidd", "lv_internal_diameter", _D),
    ("ivsd", "septum", _D),
    ("lvwd", "free_wall", _D),
    ("lvids", "lv_internal_diameter", _S),
    ("ivss", "septum", _S),
    ("lvws", "free_wall", _S),
)
_LENGTHS = (("lv_length_d", "lv_length", _D), ("lv_length_s", "lv_length", _S))
_VOLUMES = (("edv", "lv_volume", _D), ("esv", "lv_volume", _S))
_ATRIUM = (("left_atrium_long_axis", "left_atrium_long_axis", _S),)
_RING = (("aortic_ring", "aortic_ring", Still.MID_EJECTION),)
_ROUND = (
    ("eccentricity_index_d", "eccentricity_index", _D),
    ("eccentricity_index_s", "eccentricity_index", _S),
)
_BASE = tuple(
    (f"{name}_by_{way}", f"{name}_by_{way}", Still.AFTER_AORTIC_CLOSURE)
    for way in ("commissure", "line")
    for name in ("aortic_root", "left_atrium", "la_ao")
)
_TAKEN: dict[str, tuple[tuple[str, str, Still], ...]] = {
    "right_parasternal_short_axis_papillary_muscles": (*_WALLS, *_ROUND),
    "right_parasternal_short_axis_chordae": (*_WALLS, *_ROUND),
    "right_parasternal_short_axis_mitral_valve": (("epss", "epss", Still.EARLY_FILLING),),
    "right_parasternal_short_axis_aorta": _BASE,
    "right_parasternal_short_axis_pulmonary_artery": (
        ("pulmonary_trunk", "pulmonary_trunk", _D),
        ("mpa_ao", "pa_ao", _D),
    ),
    "right_parasternal_long_axis_four_chamber": (
        *_WALLS, *_LENGTHS, *_VOLUMES, *_ATRIUM, ("rv_lv_area_d", "rv_lv_area", _D),
        ("epss", "epss", Still.EARLY_FILLING),
    ),
    "right_parasternal_long_axis_outflow": (
        *_WALLS, *_LENGTHS, *_ATRIUM, *_RING, ("epss", "epss", Still.EARLY_FILLING),
    ),
    "left_apical_four_chamber": (*_LENGTHS, *_VOLUMES),
    "left_apical_two_chamber": (*_LENGTHS, *_VOLUMES),
    "left_apical_five_chamber": _RING,
    "left_apical_three_chamber": _RING,
    "left_cranial_long_axis_aorta": _RING,
    "subcostal_outflow": _RING,
}  # fmt: skip


def moments_of(view_key: str) -> tuple[Still, ...]:
    """Return the moments of the beat at which something is measured in a view; empty where nothing is."""
    return tuple(dict.fromkeys(moment for _, _, moment in _TAKEN.get(view_key, ())))


def measure_beat(
    animal: Animal,
    states: Mapping[Still, CycleState],
    pose: Pose | Mapping[Still, Pose],
    view_key: str,
    *,
    n_rows: int = N_ROWS,
) -> dict[str, Caliper]:
    """Return the numbers of a report that a view gives, each at its own moment of one beat.

    Parameters
    ----------
    animal : Animal
        The animal.
    states : mapping of Still to CycleState
        The moments of the beat; those of `moments_of(view_key)` are needed.
    pose : Pose or mapping of Still to Pose
        Where the probe stands, at each moment if hand and chest move.
    view_key : str
        Key of ``views.toml``.
    n_rows : int
        Rows of the maps, see `whole_map`.

    Returns
    -------
    dict of str to Caliper
        By key: diameters and walls ("lvidd", "ivss" …), lengths, volumes ("edv", "esv"), and what follows from two of
        them ("fractional_shortening", "ejection_fraction", "sphericity_index", long-axis ratios).

    Raises
    ------
    ValueError
        If a moment is missing.
    """
    missing = [moment for moment in moments_of(view_key) if moment not in states]
    if missing:
        raise ValueError(f"{view_key} is measured at {missing[0].value!r} too; give the state at that moment")
    maps = {
        moment: measure_view(
            animal, states[moment], pose if isinstance(pose, Pose) else pose[moment], view_key, n_rows=n_rows
        )
        for moment in moments_of(view_key)
    }
    found = {key: maps[moment][name].to(key) for key, name, moment in _TAKEN.get(view_key, ())}
    return found | _derived(found)


def _derived(found: Mapping[str, Caliper]) -> dict[str, Caliper]:
    derived: dict[str, Caliper] = {}
    if "lvids" in found:
        derived["fractional_shortening"] = measure_fractional_shortening(found["lvidd"], found["lvids"])
    if "esv" in found:
        derived["ejection_fraction"] = measure_ejection_fraction(found["edv"], found["esv"])
    if "lv_length_d" in found and "lvidd" in found:
        derived["sphericity_index"] = measure_sphericity(found["lv_length_d"], found["lvidd"])
    if "left_atrium_long_axis" in found:
        derived["la_lv_long_axis"] = ratio("la_lv_long_axis", found["left_atrium_long_axis"], found["lvidd"])
        if "aortic_ring" in found:
            derived["la_ao_long_axis"] = ratio("la_ao_long_axis", found["left_atrium_long_axis"], found["aortic_ring"])
            derived["lv_ao_long_axis"] = ratio("lv_ao_long_axis", found["lvidd"], found["aortic_ring"])
    return derived
