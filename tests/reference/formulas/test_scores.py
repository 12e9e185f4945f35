"""Scores at the edges of their printed bands."""

from __future__ import annotations

import pytest

from fanlight.reference.formulas.domain import SizeError
from fanlight.reference.formulas.scores import (
    ScoreError,
    boxer_aortic_grade,
    feline_atrium_grade,
    mitral_insufficiency_score,
    mitral_score_grade,
    pulmonary_hypertension_probability,
)

# VEZZOSI2021 table 1 (read): the printed edges of each band.
EDGES = [
    ("la_ao", [(1.69, 1), (1.70, 2), (1.90, 2), (1.91, 3), (2.50, 3), (2.51, 4)]),
    ("lviddn", [(1.69, 1), (1.70, 2), (2.00, 2), (2.10, 3), (2.30, 3), (2.31, 4)]),
    ("fs_percent", [(44.9, 1), (45.0, 2), (50.0, 2), (50.1, 3)]),
    ("e_m_s", [(1.19, 1), (1.20, 2), (1.50, 2), (1.51, 3)]),
]
POINTS = {"la_ao": "la_ao_points", "lviddn": "lviddn_points", "fs_percent": "fs_points", "e_m_s": "e_points"}


@pytest.mark.parametrize(
    ("name", "value", "points"), [(name, value, points) for name, edges in EDGES for value, points in edges]
)
def test_points_follow_the_printed_edges(name: str, value: float, points: int) -> None:
    """Each printed edge falls into the band that prints it."""
    inputs = {"la_ao": 1.5, "lviddn": 1.5, "fs_percent": 40.0, "e_m_s": 1.0} | {name: value}

    assert getattr(mitral_insufficiency_score(**inputs), POINTS[name]) == points


def test_the_gap_of_the_printed_table_is_told() -> None:
    """An index between 2.00 and 2.10 takes the higher band and says that the table leaves it open."""
    score = mitral_insufficiency_score(1.5, 2.05, 40.0, 1.0)

    assert score.lviddn_points == 3
    assert "leaves open" in score.notes[0]
    assert mitral_insufficiency_score(1.5, 2.10, 40.0, 1.0).notes == ()


@pytest.mark.parametrize(
    ("jet", "sites", "probability"),
    [
        (None, 0, "low"), (None, 2, "intermediate"), (None, 3, "high"), (3.0, 1, "low"), (3.01, 1, "intermediate"),
        (3.2, 2, "high"), (3.4, 0, "intermediate"), (3.5, 0, "intermediate"), (3.5, 1, "high"),
    ],
)  # fmt: skip
def test_probability_follows_the_remembered_table(jet: float | None, sites: int, probability: str) -> None:
    """REINERO2020, remembered: the function does what its own description says; the table is to be confirmed."""
    assert pulmonary_hypertension_probability(jet, sites) == probability


def test_values_printed_in_two_bands_take_the_lower_one() -> None:
    """BOXERAS2006: 40 and 75 mmHg."""
    assert [boxer_aortic_grade(value) for value in (15.9, 16, 40, 40.1, 75, 75.1)] == [
        "none", "mild", "mild", "moderate", "moderate", "severe",
    ]  # fmt: skip


def test_impossible_input_is_refused() -> None:
    """Messages name limit, value and remedy."""
    with pytest.raises(SizeError, match="LA:Ao must be a number above 0, got 0"):
        feline_atrium_grade(0.0)
    with pytest.raises(ScoreError, match="4 to 14, got 3; add the points again"):
        mitral_score_grade(3)
    with pytest.raises(ScoreError, match="count each of the three sites once"):
        pulmonary_hypertension_probability(2.0, 4)
