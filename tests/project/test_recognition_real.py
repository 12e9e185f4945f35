"""The table of real files: wrong answers stand out in it and are counted; it holds what a person wrote down before."""

from __future__ import annotations

from typing import Any

import pytest

from fanlight.reference.load import load_house
from fanlight.study import Mode, ViewShare
from measure import recognition_real as real
from measure.recognition_real import Told
from tests.real.real_files import EXPECTED, NAMES

TITLES = {"long": "Long axis", "short": "Short axis"}
HEART = {"subject": "heart", "reason": "type US; a human sees a beating heart", "view": "not_known", "mode": "two_d"}
NODE = HEART | {"subject": "not_heart", "subject_why": "caption says NODE", "mode": "power", "mode_also": ["dual"]}


def told(file: str, mode: Mode | None, *names: tuple[str, float], proposed: str = "", not_asked: str = "") -> Told:
    shares = tuple(ViewShare(view=view, probability=share) for view, share in names)
    return Told(file=file, mode=mode, not_asked=not_asked, names=shares, proposed=proposed)


def rows(every: list[Told], expected: dict[str, dict[str, Any]]) -> dict[str, list[str]]:
    """Cells of the table by the first of each row."""
    lines = [line.strip("| ").split(" | ") for line in real.table(every, expected, TITLES).splitlines() if line]
    return {cells[0].strip("`"): cells[1:] for cells in lines}


def test_a_view_that_nobody_sees_is_confident_and_wrong() -> None:
    every = [
        told("a", Mode.TWO_D, ("long", 0.91), ("", 0.05), ("short", 0.02), proposed="long"),
        told("b", Mode.DUAL, not_asked="only 2-D pictures"),
    ]
    cells = rows(every, {"a": HEART, "b": NODE})

    assert cells["a"] == [
        "a human sees a beating heart", "2-D", "2-D", "not known",
        "Long axis, WRONG: Long axis 0.91, none of these 0.05",
    ]  # fmt: skip
    assert cells["b"][1:3] == ["power Doppler or two pictures side by side", "two pictures side by side"]
    assert cells["b"][-1] == "not shown to the network: only 2-D pictures"
    # Wilson's interval of one in two and of one in one
    wrong = [words for first, words in cells.items() if first.startswith("confident and wrong")]
    assert wrong == [["50.0 % (9.5–90.5), n 2", "100.0 % (20.7–100.0), n 1", "100.0 % (20.7–100.0), n 1"]]


def test_the_view_that_a_person_names_is_right_and_not_sure_is_neither() -> None:
    entry = HEART | {"view": "short"}
    every = [
        told("a", Mode.TWO_D, ("short", 0.8), proposed="short"), told("b", Mode.COLOUR, ("", 0.5), ("short", 0.3)),
        told("c", None, not_asked="not sure"),
    ]  # fmt: skip
    cells = rows(every, {"a": entry, "b": entry, "c": entry})

    assert cells["a"][3:] == ["Short axis", "Short axis: Short axis 0.80"]
    assert cells["b"][2:] == ["colour Doppler, WRONG", "Short axis", "not sure: none of these 0.50, Short axis 0.30"]
    assert cells["c"][2] == "not sure"
    assert cells["mode right"][0].startswith("33.3 %")
    assert cells["mode wrong (not: not sure)"][0].startswith("33.3 %")
    assert cells["a view proposed"][0].startswith("33.3 %")


def test_what_a_person_wrote_down_can_be_told_of_every_real_file() -> None:
    for name in NAMES:
        entry = EXPECTED[name]
        assert real.seen_words(entry)
        assert all(Mode(mode) for mode in real.allowed_modes(entry))
        assert entry["view"] == real.NOT_KNOWN or entry["view"] in real.titles(load_house())


@pytest.mark.parametrize("name", [name for name in NAMES if EXPECTED[name]["subject"] == "heart"])
def test_a_real_heart_is_shown_to_the_network(name: str) -> None:
    said = real.tell(name, load_house())

    assert said.not_asked == ""
    assert said.names
    assert real.is_mode_right(said, EXPECTED[name])
