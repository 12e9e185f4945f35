"""The table of numbers from 2-D pictures: what its figures are, and that a drawn subject gives them."""

from __future__ import annotations

import math
from typing import Any

import pytest

from fanlight.simulate.clip.ring import Ring
from measure._picture_table import ROWS, Row, figures_of, main_table
from measure.picture_values import one

ROW = Row(title="LVIDd", key="chordae LVIDd", tolerance=0.03)


def _record(value: float | None, true: float = 40.0, uncertainty: float = 0.5) -> dict[str, Any]:
    item = {"value": value, "uncertainty": None if value is None else uncertainty, "true": true, "reason": ""}
    return {"seed": 0, "heart": "normal", "hand": {ROW.key: item}}


def test_figures_are_shares_of_the_truth_and_stated_deviations() -> None:
    """42 for 40 is 5 % off, and 4 stated deviations of 0.5: beyond twice the half-band of 1.96, confidently wrong."""
    records: list[dict[str, Any]] = [_record(42.0), _record(40.5), _record(None), {"heart": "normal", "hand": {}}]
    figures = figures_of(records, "hand", ROW)

    assert (figures.asked, figures.off, figures.scaled) == (3, (0.05, 0.0125), (4.0, 1.0))
    cells = main_table({"B": records}, "hand", (ROW,)).splitlines()[-1].split(" | ")
    assert cells[2] == "3"
    assert cells[3].startswith("33 %")
    assert cells[4] == "+3.1 %"
    assert cells[6] == f"{100 * math.sqrt((0.05**2 + 0.0125**2) / 2):.1f} %"
    assert cells[8].startswith("50 %")
    assert cells[9].startswith("50 %")


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.title)
def test_every_row_is_measured_on_a_drawn_subject(row: Row, subject: dict[str, Any]) -> None:
    """A row that nothing fills would stand empty in the table for ever."""
    hand = subject["hand"]
    assert isinstance(hand, dict)
    assert row.key in hand
    assert hand[row.key]["true"] > 0


@pytest.fixture(scope="module")
def subject() -> dict[str, Any]:
    return one((3, Ring.A))
