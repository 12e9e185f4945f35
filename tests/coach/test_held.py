"""What tells two causes apart, and what moves the probe, is held to the rule on handling too."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.coach.held import held_changes, held_coverage
from fanlight.reference.causes import read_causes
from fanlight.reference.handling import handling_words
from fanlight.reference.ladder import read_ladder
from fanlight.reference.load import load_house
from fanlight.study import (
    Breathing,
    CauseLevel,
    Correction,
    Coverage,
    LadderFinding,
    Valve,
    ValveLadder,
)
from tests.report.sample import sample_review

HOUSE = load_house()
WORDS = handling_words(HOUSE.table("handling"))
ROWS = read_causes(HOUSE)


def change(key: str, either: str = "") -> Correction:
    return Correction(
        cause=key, title=ROWS[key].title, level=CauseLevel.HAND, when="w", correction=ROWS[key].correction,
        right_when="r", resolves=1, clips=(), is_habit=False, either=either,
    )  # fmt: skip


@pytest.mark.parametrize("breathing", [Breathing.NOT_STATED, Breathing.LABOURED, Breathing.DISTRESSED])
def test_how_to_tell_two_causes_apart_touches_no_animal_that_may_breathe_badly(breathing: Breathing) -> None:
    """Shipped words: add gel first, and see."""
    gel = change("gain_low", f"Or {ROWS['contact_dry'].title}. {ROWS['gain_low'].alike['contact_dry']}")
    (held,) = held_changes((gel,), breathing, WORDS)

    assert "gel" not in held.either
    assert "withheld" in held.either
    assert held.correction == gel.correction  # at the console
    assert held_changes((gel,), Breathing.NORMAL, WORDS) == (gel,)


def test_the_probe_is_not_slid_on_an_animal_that_fights_for_air() -> None:
    rib = change("rib_under_face")
    (held,) = held_changes((rib,), Breathing.LABOURED, WORDS)

    assert (held.correction, bool(held.withheld)) == ("", True)
    assert held_changes((rib,), Breathing.NOT_STATED, WORDS) == (rib,)


@pytest.mark.parametrize("gap", ["one_window", "aslant"])
@pytest.mark.parametrize("breathing", [Breathing.NOT_STATED, Breathing.LABOURED, Breathing.DISTRESSED])
def test_the_ladder_asks_for_no_second_window_of_an_animal_that_may_breathe_badly(
    gap: str, breathing: Breathing
) -> None:
    """Shipped words of rule L5: what is wrong is said all the same, to a reader and in review.json."""
    rule = read_ladder(HOUSE)["L5"]
    said = rule.note.format(valve="aortic", said="aortic_vmax 4.2 m/s", gap=rule.gaps[gap].format(clips="3"))
    cover = with_note(said)
    (ladder,) = held_coverage(cover, breathing, WORDS).ladders
    held = ladder.notes[0]

    assert said.startswith(held.split(". Advice on handling")[0].removesuffix("."))
    assert "clip 3" in held
    assert "look from" not in held
    assert "withheld" in held
    assert ladder.findings[0].words == held
    assert held_coverage(cover, Breathing.NORMAL, WORDS) == cover


def test_what_the_ladder_asks_of_the_console_is_said_of_any_animal() -> None:
    """Shipped words of rule L3: a baseline and another mode touch nobody."""
    cover = with_note(read_ladder(HOUSE)["L3"].note.format(valve="mitral", clips="3"))

    assert held_coverage(cover, Breathing.DISTRESSED, WORDS) == cover


def with_note(words: str) -> Coverage:
    finding = LadderFinding(rule="L5", words=words, clips=("k",))
    ladder = ValveLadder(valve=Valve.AORTIC, states=(), notes=(words,), findings=(finding,))
    return replace(sample_review().coverage, ladders=(ladder,))
