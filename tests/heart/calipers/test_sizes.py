"""Measured with calipers on standard planes, invented animals have the sizes of published ones.

A small form of measure/heart_sizes.py, whose tables are on the page about the heart: two animals of each kind.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest

from fanlight.heart.kinds import HeartClass
from fanlight.study import Species
from measure.heart_sizes import (
    BASE,
    CHORDAE,
    FOUR,
    GROUPS,
    PAPILLARY,
    SIZES,
    TRUNK,
    Size,
    Values,
    is_inside,
    limits,
    measure_animal,
)

SEEDS = (0, 1)  # ring A
DOG_10 = (Species.DOG, 10.0)
# A published 95 % interval leaves one healthy animal in twenty outside: an invented one may pass it by a twentieth.
BEYOND_FRACTION = 0.05
# What the heart and its standard planes miss today, known and reported; each line goes when its cause is mended. These
# tests are strict: a miss that is mended fails here until its line is taken out.
OUTFLOW_VIEW = "the atrium is measured across the outflow plane, which meets it beside its widest part"
KNOWN_MISSES = {
    "LA / LV, long axis, 4-chamber": ("a small dog's atrium is small from the side", ("dog 3",)),
    "LA / Ao, long axis, outflow": (OUTFLOW_VIEW, ("dog 3", "dog 10", "dog 25", "dog 45")),
}


def _case(size: Size, group: tuple[Species, float]) -> Any:
    name = f"{group[0].value} {group[1]:g}"
    why, where = KNOWN_MISSES.get(size.title, ("", ()))
    marks = [pytest.mark.xfail(reason=why, raises=AssertionError)] if name in where else []
    return pytest.param(size, group, id=f"{size.title}: {name} kg", marks=marks)


CASES = [_case(size, group) for size in SIZES for group in GROUPS if limits(size, *group) is not None]


@cache
def animal(group: tuple[Species, float], seed: int, heart: HeartClass = HeartClass.NORMAL) -> Values:
    return measure_animal((*group, heart, seed))


def value_of(found: Values, view: str, key: str) -> float:
    caliper = found[view, key]
    assert caliper.value is not None, f"{key}: {caliper.reason}"
    return caliper.value


@pytest.mark.parametrize(("size", "group"), CASES)
def test_normal_animals_measure_inside_published_limits(size: Size, group: tuple[Species, float]) -> None:
    """Source of each limit: its row in intervals.toml, or beside it in measure/heart_sizes.py."""
    held = limits(size, *group)
    assert held is not None
    low = None if held[0] is None else held[0] * (1 - BEYOND_FRACTION)
    high = None if held[1] is None else held[1] * (1 + BEYOND_FRACTION)
    for seed in SEEDS:
        value = value_of(animal(group, seed), size.view, size.key)

        assert is_inside(value, low, high), f"{value:.2f} {size.unit} outside {held[0]} to {held[1]}, seed {seed}"


LARGE_ATRIUM, LARGE_VENTRICLE = 1.6, 1.7  # staging of mitral disease [LAROUCHE2019]: LA:Ao, and cm / kg^0.294


@pytest.mark.parametrize("way", ["commissure", "line"])
def test_large_atrium_passes_the_staging_limit(way: str) -> None:
    assert value_of(animal(DOG_10, 0, HeartClass.LA_ENLARGED), BASE, f"la_ao_by_{way}") > LARGE_ATRIUM


@pytest.mark.parametrize("way", ["commissure", "line"])
def test_mitral_disease_enlarges_the_atrium(way: str) -> None:
    """The same dog's atrium is larger by a quarter or more."""
    ill, healthy = (
        value_of(a, BASE, f"la_ao_by_{way}") for a in (animal(DOG_10, 0, HeartClass.MITRAL_DISEASE), animal(DOG_10, 0))
    )

    assert ill > 1.25 * healthy


@pytest.mark.parametrize("heart", [HeartClass.MITRAL_DISEASE, HeartClass.LV_DILATED])
def test_large_ventricle_passes_the_staging_limit(heart: HeartClass) -> None:
    assert value_of(animal(DOG_10, 0, heart), CHORDAE, "lvidd") / 10 / 10.0**0.294 > LARGE_VENTRICLE


def test_dilated_ventricle_is_round_and_weak() -> None:
    """Length over diameter below 1.65 [HOLLER2014], fractional shortening below 25 % [WARE6]."""
    weak = animal(DOG_10, 0, HeartClass.LV_DILATED)

    assert value_of(weak, FOUR, "sphericity_index") < 1.65
    assert value_of(weak, PAPILLARY, "fractional_shortening") < 25


def test_overloaded_right_heart_flattens_the_septum() -> None:
    """Trunk wider than 1.04 times the aorta [VISSER2016]; index of eccentricity above that of health, more at ES."""
    right, healthy = animal(DOG_10, 0, HeartClass.RIGHT_OVERLOAD), animal(DOG_10, 0)
    at_diastole, at_systole = (value_of(right, PAPILLARY, f"eccentricity_index_{phase}") for phase in "ds")

    assert value_of(right, TRUNK, "mpa_ao") > 1.04
    assert at_diastole > value_of(healthy, PAPILLARY, "eccentricity_index_d") + 0.05
    assert at_systole > at_diastole
    assert value_of(right, FOUR, "rv_lv_area_d") > 1.5 * value_of(healthy, FOUR, "rv_lv_area_d")


def test_thick_walls_are_thicker_than_those_of_nearly_all_healthy_dogs() -> None:
    """Near or above the upper limit of the same weight [CORNELL2004], with a normal or small cavity."""
    thick = animal(DOG_10, 0, HeartClass.THICK_WALLS)
    limit_mm = {"ivsd": 10.27, "lvwd": 10.24}  # 0.59 x 10^0.241 and 0.60 x 10^0.232 cm

    assert all(value_of(thick, CHORDAE, wall) > 0.95 * limit for wall, limit in limit_mm.items())
    assert value_of(thick, CHORDAE, "lvidd") <= 36.4
