"""Coverage says what the plan asks for and was not stored, and nothing more."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from fanlight.critique.coverage import StoredClip, hold_against_plan
from fanlight.reference.load import load_house
from fanlight.reference.plans import read_plans
from fanlight.reference.views import read_views
from fanlight.study import (
    NOT_KNOWN,
    ClipVerdict,
    Coverage,
    Mode,
    Purpose,
    Rung,
    RungState,
    Valve,
    ViewReading,
    ViewSource,
)

HOUSE = load_house()
VIEWS = read_views(HOUSE)
PLANS = read_plans(HOUSE)
FOUR, OUTFLOW = "right_parasternal_long_axis_four_chamber", "right_parasternal_long_axis_outflow"
PAPILLARY, AORTA = "right_parasternal_short_axis_papillary_muscles", "right_parasternal_short_axis_aorta"
CHORDAE, FIVE = "right_parasternal_short_axis_chordae", "left_apical_five_chamber"
APICAL = "left_apical_four_chamber"
NOON = datetime(2024, 5, 6, 12, 0)


def _clip(
    number: int,
    view: str,
    mode: Mode | None = Mode.TWO_D,
    verdict: ClipVerdict = ClipVerdict.DIAGNOSTIC,
    valve: Valve | None = None,
    minute: int | None = None,
) -> StoredClip:
    reading = ViewReading(view=view, source=ViewSource.MARKS_FILE, valve=valve) if view else NOT_KNOWN
    return StoredClip(
        key=f"clip{number}",
        number=number,
        view=reading,
        mode=mode,
        verdicts=((Purpose.LOOK, verdict), (Purpose.DOPPLER, verdict)),
        acquired_at=None if minute is None else NOON + timedelta(minutes=minute),
    )


def _cover(plan: str, *clips: StoredClip) -> Coverage:
    return hold_against_plan(PLANS[plan], "chosen by hand", VIEWS, HOUSE, clips)


def _step(coverage: Coverage, view: str) -> dict[Rung, RungState]:
    return dict(next(step for step in coverage.steps if step.view == view).states)


def _ladder(coverage: Coverage, valve: Valve) -> dict[Rung, RungState]:
    return dict(next(ladder for ladder in coverage.ladders if ladder.valve is valve).states)


@pytest.mark.parametrize("plan", sorted(PLANS))
def test_what_the_plan_does_not_ask_for_is_never_missing(plan: str) -> None:
    """With nothing stored, exactly the rungs and M-modes that the plan asks for are missing."""
    coverage = _cover(plan)

    for step, wanted in zip(coverage.steps, PLANS[plan].steps, strict=True):
        missing = {rung for rung, state in step.states if state is RungState.MISSING}
        assert missing == set(wanted.asked)
        assert (step.m_mode is RungState.MISSING) == wanted.m_mode
    asked = {(valve, rung) for step in PLANS[plan].steps for rung in Rung for valve in step.valves_at(rung)}
    asked |= {(valve, Rung.TWO_D) for valve, _ in asked}
    assert {ladder.valve for ladder in coverage.ladders} == {valve for valve, _ in asked}
    for ladder in coverage.ladders:
        for rung, state in ladder.states:
            assert (state is RungState.MISSING) == ((ladder.valve, rung) in asked)
    assert coverage.can_judge_missing


def test_a_full_study_misses_nothing() -> None:
    """Every step of the short plan stored and good: nothing is missing, nothing is noted."""
    coverage = _cover("focused", _clip(1, FOUR), _clip(2, PAPILLARY), _clip(3, AORTA))

    assert all(_step(coverage, view)[Rung.TWO_D] is RungState.DIAGNOSTIC for view in (FOUR, PAPILLARY, AORTA))
    assert not any(state is RungState.MISSING for step in coverage.steps for _, state in step.states)
    assert [note for ladder in coverage.ladders for note in ladder.notes] == []


def test_the_best_of_several_clips_counts() -> None:
    """A bad clip of a view does not spoil a good one, and the clips stay in the order stored."""
    bad = _clip(1, FOUR, verdict=ClipVerdict.NON_DIAGNOSTIC)
    coverage = _cover("focused", bad, _clip(2, FOUR, verdict=ClipVerdict.LIMITED))

    assert _step(coverage, FOUR)[Rung.TWO_D] is RungState.LIMITED
    assert coverage.steps[0].clips == ("clip1", "clip2")


@pytest.mark.parametrize("mode", [Mode.TWO_D, None, Mode.DUAL])
def test_an_unplaced_clip_that_could_be_the_missing_one_forbids_judging(mode: Mode | None) -> None:
    """While a 2-D clip has no view, a missing 2-D view may be that clip."""
    coverage = _cover("focused", _clip(1, FOUR), _clip(2, PAPILLARY), _clip(3, "", mode))

    assert not coverage.can_judge_missing
    assert coverage.unplaced == ("clip3",)


@pytest.mark.parametrize("mode", [Mode.NO_CONTACT, Mode.NOT_ECHO, Mode.COLOUR, Mode.CONTINUOUS_WAVE])
def test_an_unplaced_clip_of_another_kind_does_not(mode: Mode) -> None:
    """A probe in air, a photograph or a clip of another mode cannot be the missing 2-D view."""
    coverage = _cover("focused", _clip(1, FOUR), _clip(2, PAPILLARY), _clip(3, "", mode))

    assert coverage.can_judge_missing
    assert _step(coverage, AORTA)[Rung.TWO_D] is RungState.MISSING


def test_unplaced_clips_do_not_matter_when_nothing_is_missing() -> None:
    """A whole plan with one more clip of unknown view can be judged."""
    coverage = _cover("focused", _clip(1, FOUR), _clip(2, PAPILLARY), _clip(3, AORTA), _clip(4, ""))

    assert coverage.can_judge_missing


def test_a_valve_that_the_plan_passes_over_has_no_ladder() -> None:
    """Staging of mitral disease asks nothing of the other valves, though its views show them."""
    coverage = _cover("mitral_staging", _clip(1, FOUR), _clip(2, AORTA))
    with_jet = _cover("mitral_staging", _clip(1, FOUR), _clip(2, FOUR, Mode.COLOUR, valve=Valve.TRICUSPID))

    assert [ladder.valve for ladder in coverage.ladders] == [Valve.MITRAL]
    assert _ladder(with_jet, Valve.TRICUSPID) == {
        Rung.TWO_D: RungState.DIAGNOSTIC,
        Rung.COLOUR: RungState.DIAGNOSTIC,
        Rung.PULSED_WAVE: RungState.NOT_ASKED,
        Rung.CONTINUOUS_WAVE: RungState.NOT_ASKED,
    }


def test_each_valve_climbs_its_own_ladder() -> None:
    """Colour at the mitral valve is not colour at the tricuspid one."""
    coverage = _cover("full_right_side", _clip(1, FOUR), _clip(2, FOUR, Mode.COLOUR, valve=Valve.MITRAL))

    assert _ladder(coverage, Valve.MITRAL)[Rung.COLOUR] is RungState.DIAGNOSTIC
    assert _ladder(coverage, Valve.TRICUSPID)[Rung.COLOUR] is RungState.MISSING
    assert _ladder(coverage, Valve.MITRAL)[Rung.PULSED_WAVE] is RungState.NOT_ASKED


def test_colour_that_names_no_valve_counts_for_each_and_says_so() -> None:
    """It could be either valve of the view: neither is called missing, and a note tells it."""
    coverage = _cover("full_right_side", _clip(1, FOUR), _clip(2, FOUR, Mode.COLOUR))

    for valve in (Valve.MITRAL, Valve.TRICUSPID):
        assert _ladder(coverage, valve)[Rung.COLOUR] is RungState.DIAGNOSTIC
        notes = next(ladder.notes for ladder in coverage.ladders if ladder.valve is valve)
        assert any("Clip 2 does not say at which valve" in note for note in notes)


def test_doppler_that_was_not_asked_for_is_shown_as_reached() -> None:
    """A rung beyond the plan is never missing, and shows when it is there."""
    coverage = _cover("focused", _clip(1, FOUR), _clip(2, FOUR, Mode.COLOUR, valve=Valve.MITRAL))

    assert _step(coverage, FOUR)[Rung.COLOUR] is RungState.DIAGNOSTIC
    assert _step(coverage, FOUR)[Rung.CONTINUOUS_WAVE] is RungState.NOT_ASKED


def test_m_mode_is_asked_for_beside_the_ladder() -> None:
    """A plan that wants M-mode misses it until it is stored."""
    assert _cover("mitral_staging", _clip(1, CHORDAE)).steps[1].m_mode is RungState.MISSING
    assert _cover("mitral_staging", _clip(1, CHORDAE, Mode.M_MODE)).steps[1].m_mode is RungState.DIAGNOSTIC
    assert _cover("focused", _clip(1, FOUR)).steps[0].m_mode is RungState.NOT_ASKED
    hidden = _cover("mitral_staging", _clip(1, FOUR), _clip(2, CHORDAE), _clip(3, AORTA), _clip(4, "", Mode.M_MODE))
    assert not hidden.can_judge_missing


def _notes(coverage: Coverage) -> str:
    return " ".join(note for ladder in coverage.ladders for note in ladder.notes)


def test_doppler_without_a_plane_that_holds_is_noted() -> None:
    """Rule L1: colour on a view without a 2-D clip that can be looked at; silent while a 2-D clip is unplaced."""
    colour = _clip(2, FIVE, Mode.COLOUR, valve=Valve.AORTIC)
    bad = _clip(1, FIVE, verdict=ClipVerdict.NON_DIAGNOSTIC)

    assert "let the plane hold first" in _notes(_cover("outflow_stenosis", colour))
    assert "let the plane hold first" in _notes(_cover("outflow_stenosis", bad, colour))
    assert "let the plane hold first" not in _notes(_cover("outflow_stenosis", _clip(1, FIVE), colour))
    assert "let the plane hold first" not in _notes(_cover("outflow_stenosis", colour, _clip(3, "")))


def test_spectral_doppler_without_colour_is_noted() -> None:
    """Rule L2: the direction of the flow is not known."""
    spectral = _clip(2, FIVE, Mode.PULSED_WAVE, valve=Valve.AORTIC)

    assert "the direction of the flow is not known" in _notes(_cover("outflow_stenosis", _clip(1, FIVE), spectral))
    with_colour = (_clip(1, FIVE), _clip(3, OUTFLOW, Mode.COLOUR, valve=Valve.AORTIC), spectral)
    assert "the direction of the flow is not known" not in _notes(_cover("outflow_stenosis", *with_colour))


def test_a_spectral_clip_that_was_not_judged_counts_as_limited_and_says_so() -> None:
    """It is there; nobody has said that it is good."""
    clip = _clip(2, FIVE, Mode.CONTINUOUS_WAVE, ClipVerdict.NOT_ASSESSABLE, Valve.AORTIC)
    coverage = _cover("outflow_stenosis", _clip(1, FIVE), clip)

    assert _ladder(coverage, Valve.AORTIC)[Rung.CONTINUOUS_WAVE] is RungState.LIMITED
    assert "Clip 2: stored, and not judged from its pixels" in _notes(coverage)


def test_order_is_a_note_and_changes_no_state() -> None:
    """The left side before the right, and colour before 2-D, are told; the states are those of the right order."""
    wrong = (
        _clip(1, APICAL, minute=0),
        _clip(2, FOUR, Mode.COLOUR, valve=Valve.MITRAL, minute=1),
        _clip(3, FOUR, minute=2),
    )
    right = tuple(replace(clip, acquired_at=NOON + timedelta(minutes=10 - index)) for index, clip in enumerate(wrong))

    noted, quiet = _cover("cardiology", *wrong), _cover("cardiology", *right)

    assert any("left apical window was begun (clip 1) before the right parasternal" in n for n in noted.order_notes)
    assert any("colour Doppler (clip 2) came before 2-D (clip 3)" in note for note in noted.order_notes)
    assert quiet.order_notes == ()
    assert noted.steps == quiet.steps


def test_order_is_not_judged_without_times() -> None:
    """Files that do not say when they were taken have no order, and the note says so."""
    coverage = _cover("cardiology", _clip(1, APICAL, minute=0), _clip(2, FOUR))

    assert coverage.order_notes == (
        "The order of the examination was not looked at: not every file says when it was taken.",
    )
