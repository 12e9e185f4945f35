"""Two trainings beside each other: equal ones differ by nothing, a worse one by what it was made worse by."""

from typing import Any

import numpy as np
import pytest

from measure._trainings_figures import caliper_table, difference_interval, landmark_table, view_table
from training.label_sets import views

N = len(views()) + 1


def _record(seed: int, error_mm: float, off_mm: float, said: int) -> dict[str, Any]:
    return {
        "seed": seed, "kind": "standard", "view": views()[0], "shares": [1.0] + [0.0] * (N - 1), "unit_mm": 20.0,
        "species": "dog", "weight_kg": 9.0, "said": [0.9 if k == said else 0.0 for k in range(N)],
        "landmarks": [[0, 1, 0.9, error_mm, 1.0], [1, 1, 0.2, 50.0, 1.0], [2, 0, 0.9, 50.0, 1.0]],
        "lv_mm": [[40.0, 8.0, 8.0], [40.0 + off_mm, 8.0, None]],
    }  # fmt: skip


def _ring(worse_mm: float = 0.0, worse_off_mm: float = 0.0, said: int = 0) -> dict[str, Any]:
    pairs = [
        (_record(seed, seed / 10, 1.0, 0), _record(seed, seed / 10 + worse_mm, 1.0 + worse_off_mm, said))
        for seed in range(1, 10)
    ]
    return {"A'": pairs}


def _cell(table: str, row: str) -> str:
    return next(line.split(" | ")[1] for line in table.splitlines() if line.startswith(f"| {row} |")).rstrip(" |")


def test_equal_trainings_differ_by_nothing() -> None:
    assert _cell(landmark_table(_ring()), "median, mm, difference") == "+0.00 (+0.00 to +0.00), 9 animals"
    assert _cell(caliper_table(_ring()), "diameter, difference") == "+0.0 (+0.0 to +0.0) points, 9 animals"
    assert _cell(view_table(_ring(), 0.7), "both say the same").startswith("100.0 %")


def test_a_worse_training_differs_by_what_it_is_worse() -> None:
    # landmarks that are there and not said, and said and not there, have no error
    table = landmark_table(_ring(worse_mm=0.4))

    assert (
        _cell(table, "median and 90th percentile, mm, packaged") == "0.50, 0.82, n 9"
    )  # landmarks not said are left out
    assert _cell(table, "median, mm, difference") == "+0.40 (+0.40 to +0.40), 9 animals"
    assert _cell(table, "median, % of the diameter, difference") == "+2.00 (+2.00 to +2.00), 9 animals"
    assert _cell(table, "found of those that are there, second") == "50.0 %, n 18"


def test_calipers_are_told_in_shares_of_the_animals_diameter() -> None:
    table = caliper_table(_ring(worse_off_mm=2.0))

    assert _cell(table, "diameter, packaged") == "2.5 %, mean +2.5 %, n 9"
    assert _cell(table, "diameter, second") == "7.5 %, mean +7.5 %, n 9"
    assert _cell(table, "diameter, the two apart from each other") == "5.0 %, at most 5.0 %"
    assert _cell(table, "free wall, difference") == "– (n 0)"


def test_a_wrong_name_that_is_proposed_counts_against_its_training_alone() -> None:
    table = view_table(_ring(said=3), 0.7)

    assert _cell(table, "wrong ones proposed from 0.70 on, packaged").startswith("0.0 %")
    assert _cell(table, "wrong ones proposed from 0.70 on, second").startswith("100.0 %")
    assert _cell(table, "both say the same").startswith("0.0 %")


def test_the_interval_narrows_with_animals() -> None:
    """Of n equal animals with noise, the interval of a mean is about 3.92 / sqrt(n) of its spread (identity)."""
    rng = np.random.default_rng(1)

    def width(n: int) -> float:
        low, high = difference_interval(
            [(np.zeros(1), rng.normal(0, 1, 1)) for _ in range(n)], lambda values: float(np.mean(values))
        )
        return high - low

    assert width(400) == pytest.approx(3.92 / 20, rel=0.15)
    assert width(25) > 2.5 * width(400)
