"""What tells two causes apart, and what moves the probe, is held to the rule on handling too."""

from __future__ import annotations

import pytest

from fanlight.coach.held import held_changes
from fanlight.reference.causes import read_causes
from fanlight.reference.handling import handling_words
from fanlight.reference.load import load_house
from fanlight.study import Breathing, CauseLevel, Correction

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
