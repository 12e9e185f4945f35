"""Causes and changes on paper: what is said of each, and what is kept back."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.report.causes import cause_blocks, correction_blocks, correction_words
from fanlight.report.document import Grid, Items
from fanlight.study import CauseFound, CauseLevel, Correction, Explained
from tests.report.sample import sample_review

DEEP = CauseFound(
    cause="depth_large", title="depth too large", level=CauseLevel.CONSOLE, probability=0.999, habit=0.95,
    is_habit=True, clips=("clip01", "clip02", "clip03"),
    explains=(Explained(criterion="depth_use", clip="clip01"), Explained(criterion="far_field_loss", clip="clip02")),
)  # fmt: skip
LESS = Correction(
    cause="depth_large", title="depth too large", level=CauseLevel.CONSOLE, when="the heart ends high",
    correction="take depth away", right_when="the heart fills the picture", resolves=2,
    clips=("clip01", "clip02", "clip03"), is_habit=True,
)  # fmt: skip


def test_a_change_says_when_what_and_when_it_is_right() -> None:
    said = correction_words(LESS, sample_review())

    assert said == (
        "Depth too large (clips 1 to 3; behind 2 findings). It runs through the study. When the heart ends high: "
        "take depth away. Right when the heart fills the picture."
    )


def test_a_change_that_is_to_be_tried_says_so_first() -> None:
    said = correction_words(replace(LESS, to_try="Not certain: try it.", is_habit=False), sample_review())

    assert said == (
        "Perhaps depth too large (clips 1 to 3; behind 2 findings). Not certain: try it. When the heart ends high: "
        "take depth away. Right when the heart fills the picture."
    )


def test_what_is_perhaps_there_runs_through_the_study_only_if_it_is_there() -> None:
    said = correction_words(replace(LESS, to_try="Not certain: try it.", is_habit=True), sample_review())

    assert "findings). If so, it runs through the study. Not certain: try it." in said
    assert "It runs" not in said


def test_what_is_withheld_says_why_and_not_what() -> None:
    said = correction_words(replace(LESS, correction="", withheld="Advice is withheld."), sample_review())

    assert "take depth away" not in said
    assert said.endswith("When the heart ends high. Advice is withheld.")


def test_of_two_that_look_alike_both_are_said() -> None:
    assert correction_words(replace(LESS, either="Or the sliders. The far wall tells."), sample_review()).endswith(
        "Right when the heart fills the picture. Or the sliders. The far wall tells."
    )


@pytest.mark.parametrize(
    ("probability", "words"), [(0.999, "very likely"), (0.99, "very likely"), (0.96, "likely"), (0.6, "perhaps")]
)
def test_the_sheet_says_how_likely_in_words(probability: float, words: str) -> None:
    """A stated 0.99 held in nine of ten simulated studies (docs/causes.md): a number would promise more."""
    review = replace(sample_review(), causes=(replace(DEEP, probability=probability),))
    (grid,) = (block for block in cause_blocks(review) if isinstance(block, Grid))

    assert grid.rows[0][2] == words
    assert "%" not in str(grid.rows)
    assert grid.rows[0][0] == "Depth too large (runs through the study)"


def test_without_causes_nothing_is_said() -> None:
    assert cause_blocks(sample_review()) == []
    assert correction_blocks(sample_review()) == []
    blocks = correction_blocks(replace(sample_review(), corrections=(LESS,)))
    assert any(isinstance(block, Items) for block in blocks)
