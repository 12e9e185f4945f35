"""Causes of Doppler findings: settings of colour and spectrum, alone and as habits over views."""

from __future__ import annotations

import pytest

from fanlight.coach.causes.corrections import choose_corrections
from fanlight.coach.causes.find import find_causes
from fanlight.study import Breathing, Mode, Side
from tests.coach.causes.test_find import CRITERIA, TABLES, causes, clip

NOISE = ("colour_noise", Side.HIGH)
GREY = (("spectrum_noise", Side.HIGH), ("spectrum_blooming", Side.HIGH))
LOW_SCALE = (("colour_wrap", Side.HIGH), ("colour_scale_room", Side.LOW))


def test_one_gain_habit_runs_through_colour_and_spectra() -> None:
    found = causes(
        clip(1, NOISE, mode=Mode.COLOUR), clip(2, NOISE, mode=Mode.COLOUR),
        clip(3, *GREY, mode=Mode.PULSED_WAVE), clip(4, *GREY, mode=Mode.CONTINUOUS_WAVE),
    )  # fmt: skip
    assert set(found) == {"doppler_gain_high"}
    gain = found["doppler_gain_high"]
    assert gain.is_habit
    assert len(gain.clips) == 4
    assert len(gain.explains) == 6


def test_a_low_colour_scale_is_a_habit_from_three_views_on() -> None:
    two = causes(*(clip(n, *LOW_SCALE, mode=Mode.COLOUR) for n in (1, 2)))["colour_scale_low"]
    three = causes(*(clip(n, *LOW_SCALE, mode=Mode.COLOUR) for n in (1, 2, 3)))["colour_scale_low"]
    assert not two.is_habit
    assert three.is_habit
    assert three.probability > 0.99


def test_the_habit_is_named_with_its_change() -> None:
    found = find_causes([clip(n, *LOW_SCALE, mode=Mode.COLOUR) for n in (1, 2, 3)], TABLES)
    (said,) = choose_corrections(found, TABLES.rows, TABLES.limits, CRITERIA, Breathing.NORMAL)
    assert said.is_habit
    assert "raise the colour scale" in said.correction


def test_a_wrapped_colour_whose_scale_cannot_be_raised_is_less_of_a_setting() -> None:
    """Fast flow wraps at any scale (common practice, no source): room in the scale is what tells."""
    with_room = causes(clip(1, *LOW_SCALE, mode=Mode.COLOUR))["colour_scale_low"].probability
    without = causes(clip(1, ("colour_wrap", Side.HIGH), mode=Mode.COLOUR)).get("colour_scale_low")
    assert without is None or without.probability < with_room - 0.1


def test_causes_of_flow_do_not_act_in_a_grey_picture() -> None:
    found = causes(*(clip(n, ("overall_gain", Side.HIGH)) for n in range(1, 5)))
    assert not {key for key in found if TABLES.rows[key].modes[0] is not Mode.TWO_D}


def test_what_the_picture_shows_takes_nothing_from_what_the_flow_shows() -> None:
    """The grey picture under colour is judged as any picture: each is as sure as it is alone."""
    alone = causes(*(clip(n, *LOW_SCALE, mode=Mode.COLOUR) for n in (1, 2, 3)))["colour_scale_low"].probability
    dark = ("overall_gain", Side.LOW)
    both = causes(*(clip(n, *LOW_SCALE, dark, mode=Mode.COLOUR) for n in (1, 2, 3)))
    assert both["colour_scale_low"].probability == pytest.approx(alone)
    assert both["gain_low"].is_habit


def test_three_valves_from_one_view_are_no_habit() -> None:
    found = causes(*(clip(n, NOISE, mode=Mode.COLOUR, view="left_apical_four_chamber") for n in (1, 2, 3)))
    assert not found["doppler_gain_high"].is_habit
