"""Formulas and rows against published cases and numbers that were worked out apart from the code."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from typing import Any

import pytest

from fanlight.reference.formulas import agreement, flow, heart_size, learning, scores, ventricle
from fanlight.reference.interval_limits import place, work_out_limits
from fanlight.reference.intervals import read_intervals, weigh
from fanlight.reference.load import load_house
from fanlight.study import Patient, Request, Species
from tests.reference.outside import authority_rows

ROWS = authority_rows("worked_rows.csv")
# Not compared here: the table has a test file of its own; of the procedure series only the result is published.
ELSEWHERE = {"P10": "tests/reference/test_mmode_table.py", "P18": "the sequence of outcomes is not published"}
HOUSE = load_house()
CAT = Patient(species=Species.CAT, weight_kg=4.5, age_years=8)


def _discs_of_half_ellipsoid(length_cm: float, diameter_cm: float, discs: int) -> float:
    heights = [(index + 0.5) / discs for index in range(discs)]
    return ventricle.discs_volume_ml([diameter_cm * math.sqrt(1 - height**2) for height in heights], length_cm)


def _z_of(row: str, size_cm: float, weight_kg: float) -> float:
    dog = Patient(species=Species.DOG, breed="Beagle", weight_kg=weight_kg, age_years=5)
    reading = next(item for item in weigh(HOUSE, "lvidd", size_cm, "cm", "M-mode", dog, Request()) if item.row == row)
    assert reading.z is not None
    return reading.z


def _wall(quantity: str, value_mm: float) -> str:
    row = read_intervals(HOUSE)["cat_wall_hcm_catscan2015"]
    request = Request(named_diseases=("hypertrophic_cardiomyopathy",))
    reading = weigh(HOUSE, quantity, value_mm, "mm", "2-D", CAT, request)[0]
    assert reading.row == row.key
    assert reading.applies
    return place(value_mm, work_out_limits(row, quantity, None))


def _shortening(value_percent: float) -> str:
    reading = weigh(HOUSE, "FS", value_percent, "%", "M-mode", CAT, Request())[0]
    assert reading.lower is not None
    assert reading.upper is not None
    return "inside" if reading.lower <= value_percent <= reading.upper else "outside"


FUNCTIONS: dict[str, Callable[..., Any]] = {
    "half_ellipsoid_discs_ml": _discs_of_half_ellipsoid,
    "weigh_z": _z_of,
    "weigh_wall": _wall,
    "weigh_fs": _shortening,
    "doberman_limit_mm": lambda kg: (
        work_out_limits(read_intervals(HOUSE)["doberman_lvidd_by_weight_csaim2020"], "lvidd", kg).upper
    ),
    "body_surface_m2": lambda kg, name: heart_size.body_surface_m2(kg, heart_size.SurfaceConstant[name]),
    "cohen_kappa": lambda counts, weights: agreement.cohen_kappa(counts, agreement.Weights(weights)),
    "duplicate_cv_percent": lambda one, two, form: agreement.duplicate_cv_percent(one, two, agreement.CvForm(form)),
    "velocity_error_percent": lambda angle: 100 * (flow.measured_share(angle) - 1),
    "gradient_error_percent": lambda angle: 100 * (flow.measured_share(angle) ** 2 - 1),
    "learning_score": lambda outcomes, after: learning.learning_curve(
        [mark == "1" for mark in outcomes], learning.learning_weights(0.10, 0.30)
    )[after - 1],
    "sign_off_probability": lambda rate, limit, attempts: learning.sign_off_probability(
        rate, learning.learning_weights(0.10, 0.30), limit, attempts
    ),
    "shortest_clean_run": lambda limit: learning.shortest_clean_run(learning.learning_weights(0.10, 0.30), limit),
}


def _function(name: str) -> Callable[..., Any]:
    if name in FUNCTIONS:
        return FUNCTIONS[name]
    found: Callable[..., Any] = next(getattr(module, name) for module in _MODULES if hasattr(module, name))
    return found


_MODULES = (heart_size, ventricle, flow, agreement, learning, scores)


def _name(row: dict[str, str]) -> str:
    return f"{row['id']} {row['function']} {row['part']}: {row['source']} ({row['status']})"


@pytest.mark.parametrize("row", [row for row in ROWS if row["id"] not in ELSEWHERE], ids=_name)
def test_formula_agrees_with_the_worked_row(row: dict[str, str]) -> None:
    """The result agrees with the number of the row within its tolerance."""
    expected = json.loads(row["expected"])

    actual = _function(row["function"])(*json.loads(row["arguments"]))
    if row["part"]:
        actual = getattr(actual, row["part"])

    if isinstance(expected, str):
        assert actual == expected
    else:
        assert actual == pytest.approx(expected, abs=float(row["tolerance"]) + 1e-9)


def test_all_56_rows_are_there() -> None:
    """Nothing is dropped without a word."""
    ids = {row["id"] for row in ROWS}

    assert ids == {f"P{number:02d}" for number in range(1, 19)} | {f"C{number:02d}" for number in range(1, 39)}
    assert set(ELSEWHERE) <= ids


def test_no_remembered_row_decides_alone() -> None:
    """Where a row's data are remembered, the same formulas are also held against brute force elsewhere."""
    assert {row["id"] for row in ROWS if row["status"] == "memory"} == {"P16"}
