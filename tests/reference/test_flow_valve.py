"""Whose flow a spectrum is: named, or the only one that the view carries."""

from __future__ import annotations

import pytest

from fanlight.reference.flow_valve import flow_valve
from fanlight.reference.load import load_house
from fanlight.study import NOT_KNOWN, Mode, Valve, ViewReading, ViewSource

HOUSE = load_house()
FIVE, CRANIAL = "left_apical_five_chamber", "left_cranial_short_axis"


def named(view: str, valve: Valve | None = None) -> ViewReading:
    return ViewReading(view=view, source=ViewSource.VIEW_NAME, valve=valve)


@pytest.mark.parametrize("mode", [Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE])
def test_a_view_that_carries_one_flow_tells_the_valve(mode: Mode) -> None:
    """Mitral colour is taken in the five-chamber view as well; spectra there are of the aortic valve."""
    assert flow_valve(named(FIVE), mode, HOUSE) is Valve.AORTIC
    assert flow_valve(named(CRANIAL), mode, HOUSE) is None  # tricuspid and pulmonic


def test_what_is_named_counts() -> None:
    assert flow_valve(named(FIVE, Valve.MITRAL), Mode.PULSED_WAVE, HOUSE) is Valve.MITRAL


@pytest.mark.parametrize(
    ("view", "mode"), [(NOT_KNOWN, Mode.PULSED_WAVE), (named(FIVE), Mode.COLOUR), (named(FIVE), None)]
)
def test_nothing_is_guessed(view: ViewReading, mode: Mode | None) -> None:
    assert flow_valve(view, mode, HOUSE) is None
