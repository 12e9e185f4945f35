"""Errors of calipers and their intervals over animals, on records whose figures are worked out by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from measure._ventricle_figures import card, error_words, rms_interval


def record(seed: int, off_mm: float | None, **changed: Any) -> dict[str, Any]:
    said = [None] * 3 if off_mm is None else [40.0 + off_mm, 8.0, 9.0]
    usual: dict[str, Any] = {
        "seed": seed, "kind": "standard", "heart": "normal", "species": "dog", "weight_kg": 20.0,
        "lv_mm": [[40.0, 8.0, 9.0], said], "said_upset": [0.1, 0.9],
    }  # fmt: skip
    return usual | changed


def test_the_error_is_told_in_the_unit_that_is_asked_for() -> None:
    """Off by +3 and -1 mm of 40: root mean square sqrt(5) mm, 0.22 cm, 5.6 % of 40 mm; mean +1 mm, +2.5 %."""
    records = [record(1, 3.0), record(2, -1.0)]

    assert error_words(records, 0, "cm").startswith("0.22, mean +0.10, n 2 of 2 animals")
    assert error_words(records, 0, "mm").startswith("2.2, mean +1.0")
    assert error_words(records, 0, "%").startswith("5.6 %, mean +2.5 %")
    assert error_words(records, 1, "mm").startswith("0.0, mean +0.0")


def test_clips_without_a_value_are_counted_and_take_no_part() -> None:
    both = [record(1, 2.0), record(1, None)]

    assert error_words(both, 0, "mm") == "2.0, mean +2.0, n 1 of 1 animal, 1 without a value"
    assert error_words([record(1, None)], 0, "mm") == "– (n 0, 1 without a value)"
    assert error_words([record(1, 1.0, lv_mm=None)], 0, "mm") == "– (n 0)"


def test_many_clips_of_one_animal_do_not_make_the_interval_narrower() -> None:
    """Ten alike clips of each of four animals say as much as one clip of each, to the last digit."""
    off = np.array([1.0, -2.0, 0.5, 3.0])
    animals = np.array([1, 2, 3, 4])
    once, often = rms_interval(off, animals), rms_interval(np.repeat(off, 10), np.repeat(animals, 10))

    assert often == pytest.approx(once)
    assert once[0] < np.sqrt(np.mean(off**2)) < once[1]


def test_the_interval_covers_a_known_error_about_as_often_as_it_says() -> None:
    """Identity: of normal errors of one unit, 24 animals of two alike clips each, 95 % of the intervals hold 1."""
    rng = np.random.default_rng(8)
    held = 0
    for _ in range(200):
        low, high = rms_interval(np.repeat(rng.normal(size=24), 2), np.repeat(np.arange(24), 2))
        held += low <= 1.0 <= high

    assert 0.84 <= held / 200 <= 0.99  # a bootstrap of a root mean square is somewhat too narrow


def test_all_tables_have_each_ring_and_class() -> None:
    rings = {"A'": [record(k, 1.0, heart=h) for k, h in enumerate(("normal", "effusion"))], "B": [record(9, 2.0)]}
    rings["B"].append(record(9, 4.0, kind="displaced", said_upset=[0.8, 0.2]))
    words = card(rings, 0.7)

    assert "| effusion | septum |" in words
    assert "| displaced as by a fault | diameter | – (n 0) | 10.0 %, mean +10.0 %, n 1 of 1 animal |" in words
    assert "a view proposed from 0.70 on | 0.0 % (0.0–65.8), n 2 | 50.0 % (9.5–90.5), n 2 |" in words
