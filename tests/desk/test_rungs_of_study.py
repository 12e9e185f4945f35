"""Rungs and their rules follow from the findings of a study as sure as the engine calls them, not as a test would."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.critique.doppler.confidence import CONFIDENCE, UNMEASURED
from fanlight.desk.as_left import as_left
from fanlight.desk.decided import for_papers, for_screen
from fanlight.reference.load import load_house
from fanlight.report.doppler_words import rung_notes
from fanlight.review.conclude import conclude
from fanlight.store.actions import AcceptFinding
from fanlight.study import (
    Breathing,
    ClipReading,
    ClipVerdict,
    Finding,
    LadderFinding,
    Mode,
    Rung,
    RungState,
    StudyReview,
    Valve,
    Verdict,
    ViewReading,
    ViewSource,
)
from tests.desk.drafts import state_after
from tests.report.sample import finding, reading, sample_review

HOUSE = load_house()
APICAL, FIVE = "left_apical_four_chamber", "left_apical_five_chamber"


def as_the_engine(number: int, **verdicts: Verdict) -> tuple[Finding, ...]:
    return tuple(
        finding(key, number, verdict, 0.2, confidence=CONFIDENCE.get(key, UNMEASURED))
        for key, verdict in verdicts.items()
    )


def stored(number: int, mode: Mode, findings: tuple[Finding, ...] = ()) -> ClipReading:
    named = ViewReading(view=APICAL, source=ViewSource.MARKS_FILE, valve=Valve.MITRAL)
    made = reading(number, findings, ClipVerdict.DIAGNOSTIC, mode)
    return replace(made, view=named, clip=replace(made.clip, number=number))


def concluded(*readings: ClipReading) -> StudyReview:
    sample = sample_review().study
    asked = replace(sample.request, question="murmur", training_level="advanced", breathing=Breathing.NORMAL)
    study = replace(sample, request=asked, clips=tuple(item.clip for item in readings))
    review = conclude(study, readings, (), HOUSE)
    assert "ardiology" in review.coverage.plan  # a plan that asks for continuous wave
    return review


def at_mitral(review: StudyReview) -> tuple[dict[Rung, RungState], list[LadderFinding]]:
    ladder = next(item for item in review.coverage.ladders if item.valve is Valve.MITRAL)
    return dict(ladder.states), list(ladder.findings)


def wrapping() -> StudyReview:
    return concluded(
        stored(1, Mode.TWO_D),
        stored(2, Mode.COLOUR),
        stored(3, Mode.PULSED_WAVE, as_the_engine(3, spectrum_wrap=Verdict.MISSED)),
    )


def test_pulsed_wave_that_wraps_asks_for_continuous_wave_and_says_how_sure() -> None:
    review = wrapping()
    (found,) = (item for item in at_mitral(review)[1] if item.rule == "L3")

    assert found.clips == ("clip03",)
    assert found.is_sure == ("spectrum_wrap" in CONFIDENCE)
    assert any(found.words in note for note in rung_notes(review.coverage)) == found.is_sure


def test_a_mosaic_at_a_scale_that_is_high_enough_asks_for_continuous_wave() -> None:
    mosaic = replace(
        finding("colour_mosaic", 2, Verdict.NOT_ASSESSABLE, None, reason="a mosaic in 9 frames", confidence=0.0),
        value=9.0,
    )
    review = concluded(stored(1, Mode.TWO_D), stored(2, Mode.COLOUR, (mosaic,)))

    assert [item.is_sure for item in at_mitral(review)[1] if item.rule == "L4"] == [False]


@pytest.mark.parametrize(
    ("verdicts", "state"),
    [
        ({"spectrum_noise": Verdict.MET, "spectrum_blooming": Verdict.MET, "spectrum_guide": Verdict.MET},
         RungState.DIAGNOSTIC),
        ({"spectrum_noise": Verdict.MET, "spectrum_blooming": Verdict.MISSED}, RungState.LIMITED),
        ({"spectrum_wrap": Verdict.MISSED}, RungState.LIMITED),
    ],
)  # fmt: skip
def test_a_spectrum_reaches_its_rung_by_what_was_judged(verdicts: dict[str, Verdict], state: RungState) -> None:
    spectrum = stored(3, Mode.PULSED_WAVE, as_the_engine(3, **verdicts))
    review = concluded(stored(1, Mode.TWO_D), stored(2, Mode.COLOUR), spectrum)

    assert at_mitral(review)[0][Rung.PULSED_WAVE] is state
    notes = " ".join(note for ladder in review.coverage.ladders for note in ladder.notes)
    was_judged = any(item.confidence >= 0.5 for item in spectrum.findings)
    assert ("not judged from its pixels" in notes) != was_judged


def test_what_the_mentor_keeps_is_sure_on_screen_and_paper_alike() -> None:
    proposed = wrapping()
    kept = state_after(AcceptFinding(clip="clip03", criterion="spectrum_wrap"))

    def told(review: StudyReview) -> list[bool]:
        return [item.is_sure for item in at_mitral(review)[1] if item.rule == "L3"]

    assert told(for_screen(as_left(proposed, kept, HOUSE))) == [True]
    assert told(for_papers(as_left(proposed, kept, HOUSE))) == [True]
    assert told(for_papers(as_left(proposed, state_after(), HOUSE))) == []  # of what nobody decided no paper speaks
