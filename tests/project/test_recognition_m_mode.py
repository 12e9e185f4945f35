"""The row of M-mode: what is counted, and that its views are those of the House."""

from __future__ import annotations

from fanlight.reference.load import load_house
from fanlight.reference.views import read_views
from measure.recognition_m_mode import PLACES
from measure.recognition_modes import table


def test_what_is_not_sure_is_not_right_and_is_named() -> None:
    said = {"B": ["m_mode", "m_mode", "m_mode", ""], "C": ["m_mode", "pulsed_wave"]}
    words = table({ring: [("m_mode", each) for each in told] for ring, told in said.items()})
    cells = [cell.strip() for cell in words.splitlines()[-1].strip("|").split("|")]

    assert cells[0] == "M-mode"
    assert cells[1].startswith("75.0 %")
    assert cells[2] == "not sure (1)"
    assert cells[3].startswith("50.0 %")
    assert cells[4].endswith("(1)")


def test_cursors_are_laid_in_views_of_the_house() -> None:
    assert {view for views in PLACES for view in views} <= set(read_views(load_house()))
