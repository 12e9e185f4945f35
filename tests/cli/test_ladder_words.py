"""What `fanlight review` prints of the ladder's rules."""

from __future__ import annotations

import pytest

from fanlight.cli.ladder_words import say_ladders
from fanlight.study import LadderFinding, Valve, ValveLadder

LADDER = ValveLadder(
    valve=Valve.MITRAL, states=(), notes=("Clip 7 does not say at which valve it was taken.",),
    findings=(LadderFinding(rule="L4", words="Colour shows a mosaic (clip 3) [sic].", clips=("key3",)),),
)  # fmt: skip


def test_each_broken_rule_is_a_line_with_its_valve_and_key(capsys: pytest.CaptureFixture[str]) -> None:
    say_ladders((LADDER, ValveLadder(valve=Valve.AORTIC, states=())), is_quiet=False)
    assert capsys.readouterr().out.split("\n") == ["mitral valve, L4: Colour shows a mosaic (clip 3) [sic].", ""]


def test_quiet_says_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    say_ladders((LADDER,), is_quiet=True)
    assert capsys.readouterr().out == ""
