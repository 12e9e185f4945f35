"""What the tables of the pose fit count as right, as an either-or, as another movement and as the opposite."""

import pytest

from measure._pose_table import compact_table, figure_table, is_quiet, reliability_table, said_of, share

LIMIT = 4.0


def _offset(mean=0.0, plus=0.0, minus=0.0):
    return {"mean": mean, "low": mean - 5, "high": mean + 5, "limit": LIMIT, "plus": plus, "minus": minus}


def _clip(true, pairs=(), **offsets):
    every = {kind: _offset() for kind in ("space", "slide", "rotate", "tilt", "rock", "press")}
    return {"view": "v", "true": true, "offsets": {**every, **offsets}, "pairs": list(pairs), "misfit": 1.0}


JUDGED = [
    pytest.param(_clip({"tilt": 10.0}, tilt=_offset(9, plus=0.97)), "right", id="named in its sense"),
    pytest.param(_clip({"tilt": -10.0}, tilt=_offset(9, plus=0.97)), "opposite", id="named the other way"),
    pytest.param(_clip({"tilt": 10.0}, tilt=_offset(9, plus=0.90)), "silent", id="not sure"),
    pytest.param(_clip({"tilt": 10.0}, pairs=[["slide", 1, "tilt", 1]]), "pair", id="the second of an either-or"),
    pytest.param(
        _clip({"tilt": 10.0}, pairs=[["slide", 1, "tilt", -1]]), "another", id="an either-or in a wrong sense"
    ),
    pytest.param(_clip({"tilt": 10.0}, rock=_offset(9, plus=0.97)), "another", id="another movement alone"),
    pytest.param(
        _clip({"tilt": 10.0, "rock": 6.0}, rock=_offset(7, plus=0.97)), "silent", id="true scatter named is no mistake"
    ),
    pytest.param(
        _clip({"tilt": 10.0, "rock": 1.0}, rock=_offset(7, plus=0.97)), "another", id="scatter too small to be named"
    ),
]


@pytest.mark.parametrize(("clip", "answer"), JUDGED)
def test_a_clip_with_a_fault_is_judged(clip, answer):
    """Each way of being right or wrong counts as itself."""
    assert said_of(clip, "tilt") == answer


def test_a_window_is_quiet_only_when_nothing_at_all_is_said():
    """A named offset, an either-or or a place breaks the silence."""
    quiet = {"place": {"slide": _offset(plus=0.5)}, "clips": [_clip({})]}
    loud = [
        {**quiet, "clips": [_clip({}, rock=_offset(plus=0.95))]},
        {**quiet, "clips": [_clip({}, pairs=[["tilt", 1, "slide", 1]])]},
        {**quiet, "place": {"slide": _offset(minus=0.96)}},
    ]

    assert is_quiet(quiet)
    assert not any(is_quiet(window) for window in loud)


def _record():
    window = {"clips": [_clip({})], "not_fitted": 1, "place": {}, "cpu_s": 0.1, "lv_mm": [33.0, 30.0, 36.0]}
    fault = {"kind": "tilt", **window, "clips": [_clip({"tilt": 10.0}, tilt=_offset(9, plus=0.97))], "not_fitted": 0}
    habit = {"kind": "slide", **window, "clips": [_clip({"slide": 9.0})] * 2, "alone": _clip({"slide": 9.0})}
    habit["place"] = {"slide": _offset(9, plus=0.98), "space": _offset()}
    return {
        "seed": 1, "heart": "normal", "is_normal": True, "lv_diameter_mm": 30.0, "correct": [window],
        "faults": [fault], "habit": habit,
    }  # fmt: skip


def test_table_shows_what_was_counted_with_its_denominators():
    """One column a group; shares carry numbers and interval."""
    table = figure_table({"ring A": [_record()]})

    assert "| clear tilt, one clip: named in its sense | 1 of 1 (100 %, 21–100) |" in table
    assert "| wrong place in three views, told for the window | 1 of 1 (100 %, 21–100) |" in table
    assert "| clips with fewer than three landmarks, or no place to stand | 2 |" in table
    assert "| left ventricle's diameter off, median and 95 % | 10 %, 10 % |" in table


def test_compact_table_has_a_row_for_each_group():
    """Groups stand below each other with the same denominators."""
    table = compact_table({"ring A, cats": [_record()], "ring A, dogs": [_record(), _record()]})

    assert "| ring A, cats | 1 | 1 of 1 (100 %, 21–100) | 1 of 1 (100 %, 21–100) |" in table
    assert "| ring A, dogs | 2 | 2 of 2 (100 %, 34–100) |" in table


def test_reliability_counts_senses_beyond_the_limit():
    """A sense said with 0.97 whose true amount is beyond the limit is right."""
    assert "| 0.95 to 0.99 | 1 of 1 (100 %, 21–100) |" in reliability_table({"ring A": [_record()]})


def test_share_of_nothing_is_a_dash():
    """No case, no share."""
    assert share(0, 0) == "–"
