"""Advice that touches the animal, or moves the probe on it: every row of every table is held to one rule.

What of each row is handling was read by a person and stands below. Rule of the house: contact, pressure, another
space or window, leads and what hangs on the breath are given only when breathing is normal. Common practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from fanlight.reference.causes import read_causes
from fanlight.reference.criteria import read_criteria
from fanlight.reference.handling import HandlingWords, Reach, handling_words, mark_handling
from fanlight.reference.load import HouseFileError, load_house
from fanlight.reference.movements import read_movements

HOUSE = load_house()
WORDS = handling_words(HOUSE.table("handling"))
TOUCH = {
    "lung_cover:high", "chamber_covered:high", "near_field_clutter:high", "poor_contact:high", "apex_shown:low",
    "ventricle_length:low", "ecg_present:low", "spectrum_angle:high", "spectrum_open_edge:low", "colour_scale_use:low",
}  # fmt: skip
MOVE = {
    "chamber_cut:high", "rib_shadow:high", "septum_slope:low", "septum_slope:high", "apical_axis_tilt:low",
    "apical_axis_tilt:high", "target_centred:low", "target_centred:high", "papillary_in_long_axis:high",
    "aorta_shown:low", "aorta_unwanted:high", "cusps_even:low", "ventricle_round:low", "aorta_round:low",
    "papillary_even:low", "short_axis_level:low", "short_axis_level:high", "level_mixed:high", "picture_mirrored:low",
    "spectrum_angle_corrected:high", "spectrum_faint:low",
}  # fmt: skip
TOUCHING_RETAKES = {"lung_cover", "chamber_covered", "poor_contact", "spectrum_angle", "spectrum_open_edge"}
TOUCHING_CAUSES = {"contact_dry", "contact_lifted", "lung_between", "fundamental_imaging"}
ADVICE = [
    pytest.param(f"{key}:{side}", advice, id=f"{key}:{side}")
    for key, row in read_criteria(HOUSE).items()
    for side, advice in (("low", row.low), ("high", row.high))
    if advice is not None
]


@pytest.mark.parametrize(("about", "advice"), ADVICE)
def test_each_advice_is_marked_as_a_person_read_it(about: str, advice) -> None:
    assert advice.handling is (about in TOUCH)
    assert advice.moves is (about in MOVE)


@pytest.mark.parametrize(("key", "row"), read_criteria(HOUSE).items())
def test_each_retake_is_marked_as_a_person_read_it(key: str, row) -> None:
    assert row.retake_touches is (key in TOUCHING_RETAKES)
    assert not row.retake_moves  # those that move the probe touch the animal as well
    assert not row.retake_touches or ":" in row.retake  # what was seen, then what to do


@pytest.mark.parametrize(("key", "row"), read_causes(HOUSE).items())
def test_each_cause_is_marked_as_a_person_read_it(key: str, row) -> None:
    assert row.handling is (key in TOUCHING_CAUSES)


@pytest.mark.parametrize("row", read_movements(HOUSE).rows.values(), ids=lambda row: row.key)
def test_of_the_movements_only_a_step_to_another_space_touches(row) -> None:
    assert row.touches is (row.movement == "space")
    assert WORDS.reach(row.correction) >= Reach.MOVES


def test_what_is_said_otherwise_is_no_handling_and_belongs_to_a_marked_row() -> None:
    assert set(WORDS.otherwise) <= TOUCH | MOVE | {f"cause:{key}" for key in TOUCHING_CAUSES}
    assert {WORDS.reach(said) for said in WORDS.otherwise.values()} == {Reach.NONE}


def test_no_shipped_advice_holds_the_breath_or_closes_the_mouth() -> None:
    """Design rule of the project: never, whatever the breathing."""
    said = [advice.correction for _, advice in (item.values for item in ADVICE)]
    said += [row.retake for row in read_criteria(HOUSE).values()]
    said += [row.correction for row in read_causes(HOUSE).values()]

    assert not [words for words in said if "hold its breath" in words or "mouth" in words or "nose" in words]


def test_a_slider_is_no_slide_and_a_word_ends_where_it_ends() -> None:
    words = HandlingWords(touches=("gel", "press*"), moves=("slide",))

    assert words.reach("bring the gain sliders back") is Reach.NONE
    assert words.reach("Slide a little") is Reach.MOVES
    assert words.reach("without pressing") is Reach.TOUCHES


def _own(tmp_path: Path, text: str) -> Path:
    file = tmp_path / "house.toml"
    file.write_text(text)
    return file


def test_a_group_that_rewords_advice_is_held_to_the_same_rule(tmp_path: Path) -> None:
    own = '["criteria/gain".overall_gain]\nretake = "Too dark: press harder."\n'
    own += '["criteria/gain".overall_gain.low]\ncorrection = "Add gel."\n'
    rows = read_criteria(load_house(_own(tmp_path, own)))

    assert rows["overall_gain"].low is not None
    assert rows["overall_gain"].low.handling
    assert rows["overall_gain"].retake_touches


def test_a_group_adds_words_and_takes_none_away(tmp_path: Path) -> None:
    with pytest.raises(HouseFileError, match=r"handling\.touches: lacks .*hair.*Add words of your own"):
        load_house(_own(tmp_path, '[handling]\ntouches = ["gel"]\n'))

    kept = ", ".join(f'"{word}"' for word in (*WORDS.touches, "overall gain"))
    house = load_house(_own(tmp_path, f"[handling]\ntouches = [{kept}]\n"))
    rows = read_criteria(house)
    assert rows["overall_gain"].low is not None
    assert rows["overall_gain"].low.handling
    gain = read_causes(house)["gain_low"]
    assert gain.handling
    assert not gain.undone_at_once  # what touches the animal is never merely tried


def test_a_group_cannot_take_the_mark_from_a_cause(tmp_path: Path) -> None:
    with pytest.raises(HouseFileError, match="Advice that touches the animal stays marked as such"):
        load_house(_own(tmp_path, "[causes.causes.lung_between]\nhandling = false\n"))


def test_words_for_advice_that_does_not_exist_are_named() -> None:
    tables = {"handling": {"touches": ["gel"], "moves": [], "otherwise": {"gain:low": "Turn it up."}}}
    tables["causes"] = {"causes": {}}

    with pytest.raises(ValueError, match=r"handling\.otherwise\.gain:low: no criterion or cause gives advice"):
        mark_handling(tables)
    with pytest.raises(ValueError, match="is handling itself"):
        handling_words({"touches": ["gel"], "moves": [], "otherwise": {"a:low": "Add gel."}})
