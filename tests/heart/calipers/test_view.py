"""Which view allows which caliper, and that the numbers of a beat come from their own moments."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from fanlight.heart.animal import Animal, animal_landmarks, draw_animal
from fanlight.heart.calipers import (
    Caliper,
    longest_lv,
    measure_beat,
    measure_lv_length,
    measure_map,
    measure_shortening,
    measure_view,
    moments_of,
    whole_map,
)
from fanlight.heart.cycle import Still, still
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.heart.label_map import label_map
from fanlight.heart.pose import Pose
from fanlight.heart.standard_poses import STANDARD_VIEWS, standard_pose
from fanlight.reference.load import load_house
from fanlight.reference.quantities import read_quantities
from fanlight.study import Landmark
from fanlight.study.patient import Species
from tests.heart.calipers.drawn import commissures, draw, long_axis_layers, short_axis_layers

FOUR_CHAMBER = "right_parasternal_long_axis_four_chamber"
CHORDAE = "right_parasternal_short_axis_chordae"
COARSE = 160  # rows; enough to see what is there


@cache
def dog() -> Animal:
    return draw_animal(species=Species.DOG, weight_kg=12.0, heart=HeartClass.NORMAL, chest=Chest.AVERAGE, seed=41)


@cache
def pose_of(view_key: str) -> Pose:
    return standard_pose(dog(), view_key)


@pytest.mark.parametrize("view_key", STANDARD_VIEWS)
def test_every_standard_view_has_calipers(view_key: str) -> None:
    """Also on an empty picture: every caliper then says why it has no value, and no name comes twice."""
    found = measure_map(draw([], places=commissures()), view_key)

    assert found
    assert all(caliper.value is None and caliper.reason for caliper in found.values())
    assert all(name == caliper.name for name, caliper in found.items())


def test_unknown_view_is_refused() -> None:
    with pytest.raises(ValueError, match="no calipers for a view called 'sideways'; known: right_parasternal"):
        measure_map(draw([]), "sideways")


def test_short_axis_gives_walls_and_long_axis_gives_length() -> None:
    short = measure_map(draw(short_axis_layers(papillary=4)), CHORDAE)
    long = measure_map(draw(long_axis_layers(), shift_mm=(12, 0)), FOUR_CHAMBER)

    assert short["lv_internal_diameter"].value == pytest.approx(30.0, abs=0.25)
    assert long["lv_length"].value == pytest.approx(55.0, abs=0.25)
    assert long["sphericity_index"].value == pytest.approx(55 / 30, abs=0.03)
    assert "lv_length" not in short


def test_two_conventions_of_la_ao_are_kept_apart() -> None:
    found = measure_map(draw([]), "right_parasternal_short_axis_aorta")

    assert {"la_ao_by_commissure", "la_ao_by_line"} <= set(found)
    assert "la_ao" not in found


def test_view_of_an_animal_is_its_map() -> None:
    """Measuring a view is slicing it and measuring the map."""
    state = still(Still.END_DIASTOLE)
    view = measure_view(dog(), state, pose_of(CHORDAE), CHORDAE, n_rows=COARSE)

    assert view == measure_map(whole_map(dog(), state, pose_of(CHORDAE), n_rows=COARSE), CHORDAE)
    assert view["lv_internal_diameter"].value is not None


def test_sector_of_a_probe_can_be_measured_too() -> None:
    """A map with a sector's mask gives the same diameter as long as the sector holds the ventricle."""
    state, pose = still(Still.END_DIASTOLE), pose_of(CHORDAE)
    whole = measure_view(dog(), state, pose, CHORDAE)["lv_internal_diameter"]
    sector = label_map(dog(), state, pose, depth_mm=110, half_angle_deg=45, mm_per_px=0.3)

    assert measure_map(sector, CHORDAE)["lv_internal_diameter"].value == pytest.approx(whole.value, abs=0.3)


def test_probe_that_looks_away_is_refused() -> None:
    pose = pose_of(CHORDAE)
    turned = replace(pose, axes=np.column_stack([pose.x, -pose.y, -pose.z]))

    with pytest.raises(ValueError, match="the probe looks away from the heart"):
        whole_map(dog(), still(Still.END_DIASTOLE), turned)


def test_longest_ventricle_is_that_of_its_landmarks() -> None:
    """The plane holds apex and ring: its length is their distance within two pixels, and no view is longer."""
    state = still(Still.END_DIASTOLE)
    places = animal_landmarks(dog(), state)
    longest = longest_lv(dog(), state)
    expected_mm = float(np.linalg.norm(places[Landmark.LV_APEX] - places[Landmark.MITRAL_CENTRE]))
    here = measure_lv_length(whole_map(dog(), state, pose_of(FOUR_CHAMBER)))

    assert longest.value == pytest.approx(expected_mm, abs=0.02 * expected_mm)
    assert 0.9 < value_of(measure_shortening(here, longest)) < 1.02


def value_of(caliper: Caliper) -> float:
    assert caliper.value is not None, caliper.reason
    return caliper.value


def states() -> dict[Still, CycleState]:
    return {moment: still(moment) for moment in Still}


def test_beat_takes_each_number_at_its_own_moment() -> None:
    """Diastole and systole differ, and are those of the views at these moments."""
    found = measure_beat(dog(), states(), pose_of(CHORDAE), CHORDAE)
    systole = measure_view(dog(), still(Still.END_SYSTOLE), pose_of(CHORDAE), CHORDAE)

    assert found["lvids"].value == systole["lv_internal_diameter"].value
    smallest, largest = value_of(found["lvids"]), value_of(found["lvidd"])
    assert smallest < largest
    assert found["fractional_shortening"].value == pytest.approx(100 * (1 - smallest / largest))
    assert found["lvidd"].name == "lvidd"


def test_beat_follows_a_moving_hand() -> None:
    """With a pose for each moment, systole is measured where the hand was in systole."""
    pose = pose_of(CHORDAE)
    moved = replace(pose, origin_mm=pose.origin_mm - 12 * pose.y)
    hand = {moment: moved if moment is Still.END_SYSTOLE else pose for moment in Still}
    found = measure_beat(dog(), states(), hand, CHORDAE)
    there = measure_view(dog(), still(Still.END_SYSTOLE), moved, CHORDAE)

    assert found["lvids"].value == there["lv_internal_diameter"].value


def test_beat_needs_its_moments() -> None:
    given = {Still.END_DIASTOLE: still(Still.END_DIASTOLE)}
    with pytest.raises(ValueError, match="is measured at 'end-systole' too"):
        measure_beat(dog(), given, pose_of(CHORDAE), CHORDAE)


def test_keys_of_a_beat_are_those_of_the_tables() -> None:
    """Where the tables have a quantity, its key is used; these few are the simulator's own."""
    own = {
        "aortic_ring", "aortic_root_by_commissure", "aortic_root_by_line", "eccentricity_index_d",
        "eccentricity_index_s", "edv", "esv", "la_ao_by_commissure", "la_ao_by_line", "left_atrium_by_commissure",
        "left_atrium_by_line", "lv_length_d", "lv_length_s", "pulmonary_trunk", "rv_lv_area_d",
    }  # fmt: skip
    keys: set[str] = set()
    for view_key in STANDARD_VIEWS:
        if moments_of(view_key):
            keys |= set(_beat(view_key))

    assert keys - own <= set(read_quantities(load_house()))
    assert own <= keys


def _beat(view_key: str) -> dict[str, Caliper]:
    return measure_beat(dog(), states(), pose_of(view_key), view_key)
