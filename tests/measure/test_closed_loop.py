"""What the tables of faults that were mended, and of two faults at once, count."""

from __future__ import annotations

from typing import Any

import pytest

from fanlight.study import ProbeOffset
from measure._closed_loop_clips import middle
from measure._closed_loop_table import left_words, rows, table_of, turned
from measure.pose_combined import axis_table, is_right, names_opposite, pair_holds, says_nothing
from measure.pose_combined import table_of as combined_table

LIMIT = 4.0


def _offset(low: float, high: float) -> ProbeOffset:
    return ProbeOffset(
        movement="tilt", unit="deg", mean=0.5 * (low + high), low=low, high=high, limit=3.0, plus_probability=1.0,
        minus_probability=0.0,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        pytest.param(6.0, 14.0, 10.0, id="the middle of 6 to 14 degrees"),
        pytest.param(-14.0, -6.0, 10.0, id="of either sense"),
        pytest.param(1.0, 9.0, 6.0, id="a range is told from the limit on"),
        pytest.param(-2.0, 9.0, 6.0, id="so is one that holds nothing at all"),
        pytest.param(1.0, 2.0, 3.0, id="never less than the limit"),
    ],
)
def test_what_is_carried_out_is_the_middle_of_the_range_that_is_told(low: float, high: float, expected: float) -> None:
    """The range is that of coach/movements/sizes.py."""
    assert middle(_offset(low, high)) == pytest.approx(expected)


def _clip(before: dict[str, str], after: dict[str, str] | None = None, left: float = 0.2) -> dict[str, Any]:
    record: dict[str, Any] = {"fault": "tilt_plus", "before": before}
    return record if after is None else record | {"after": after, "undone": dict.fromkeys(before, "met"), "left": left}


TOLD = _clip({"a": "missed", "b": "met", "c": "missed", "d": "met"}, {"a": "met", "b": "missed", "c": "borderline"})
SILENT = _clip({"a": "missed", "b": "met"})


def test_a_criterion_that_cannot_be_judged_again_did_not_turn() -> None:
    """Of two missed one turns met, of two met one turns missed; what is not asked again counts for neither."""
    assert turned([TOLD], "missed", "met") == (1, 2)
    assert turned([TOLD], "met", "missed") == (1, 2)
    assert turned([TOLD], "missed", "met", "undone") == (2, 2)


def test_clips_of_which_nothing_is_named_count_among_all_clips_alone() -> None:
    found = rows([TOLD, SILENT])

    assert found["something is named, of clips"].startswith("1 of 2 ")
    assert found["missed criteria that turn met, where something is named"].startswith("1 of 2 ")
    assert found["missed criteria that turn met, of all clips"].startswith("1 of 3 ")
    assert found["displacement left, median and middle half"] == "20 % (20–20), n 1"
    assert left_words([]) == "–"


def test_rings_stand_side_by_side_with_their_animals() -> None:
    record = {"one": [TOLD, SILENT], "three": [TOLD | {"fault": "slide_dorsal"}]}
    table = table_of({"A": [record], "C": [record, record]}, {"tilt_plus": "tilted"})

    assert "| | animals | 1 | 2 |" in table
    assert "| tilted | something is named, of clips | 1 of 2 (50 %, 9–91) | 2 of 4 (50 %, 15–85) |" in table
    assert "| wrong place kept in three views, each clip | something is named, of clips | 1 of 1" in table


def _pose(mean: float, plus: float, minus: float) -> dict[str, float]:
    return {"mean": mean, "low": mean - 5, "high": mean + 5, "limit": LIMIT, "plus": plus, "minus": minus}


def _fitted(true: dict[str, float], *pairs: list[Any], **offsets: dict[str, float]) -> dict[str, Any]:
    every = {kind: _pose(0.0, 0.0, 0.0) for kind in ("space", "slide", "rotate", "tilt", "rock", "press")}
    return {"view": "v", "true": true, "offsets": {**every, **offsets}, "pairs": list(pairs), "misfit": 1.0}


BOTH = {"tilt": 12.0, "slide": -10.0}
RIGHT_TILT = _fitted(BOTH, tilt=_pose(11.0, 0.99, 0.0))
WRONG_TILT = _fitted(BOTH, tilt=_pose(-11.0, 0.0, 0.99))


def test_of_two_faults_each_is_judged_by_its_own_sense() -> None:
    """A hand's scatter below half of what counts is no fault that could be named rightly."""
    assert is_right(RIGHT_TILT, "tilt", 1)
    assert not is_right(RIGHT_TILT, "slide", 1)
    assert not is_right(_fitted({"rock": 1.0}), "rock", 1)
    assert not names_opposite(RIGHT_TILT, ("tilt", "slide"))
    assert names_opposite(WRONG_TILT, ("tilt", "slide"))
    assert pair_holds(RIGHT_TILT, ["slide", -1, "rock", 1])
    assert not pair_holds(RIGHT_TILT, ["slide", 1, "rock", 1])
    assert says_nothing(_fitted(BOTH))


def _study(*clips: dict[str, Any], axis_deg: float = 40.0) -> dict[str, Any]:
    place = {"slide": _pose(-9.0, 0.0, 0.97), "space": _pose(0.0, 0.0, 0.0)}
    return {
        "faults": ["tilt", "slide"], "axis_deg": axis_deg, "single": {"clips": list(clips[:1]), "not_fitted": 1},
        "joint": {"clips": list(clips), "not_fitted": 0, "place": place},
    }  # fmt: skip


def test_combined_table_counts_named_movements_and_clips() -> None:
    table = combined_table({"A": [_study(RIGHT_TILT, WRONG_TILT)]})

    assert "| one clip: a named movement is right in its sense | 1 of 1 (100 %, 21–100) |" in table
    assert "| one clip: the opposite of a fault is named | 0 of 1 (0 %, 0–79) |" in table
    assert "| three views, each clip: the opposite of a fault is named | 1 of 2 (50 %, 9–91) |" in table
    assert "| three views: a wrong place is told for the window | 1 of 1 (100 %, 21–100) |" in table
    assert "| clips with fewer than three landmarks, or no place to stand | 1 |" in table


def test_thirds_by_heart_axis_hold_every_study_once() -> None:
    table = axis_table({"A": [_study(RIGHT_TILT, axis_deg=deg) for deg in (30.0, 40.0, 50.0)]})

    assert "| lying, below 37°; ring A | 1 | 1 of 1" in table
    assert "| between; ring A | 1 | 1 of 1" in table
    assert "| upright, above 43°; ring A | 1 | 1 of 1" in table
