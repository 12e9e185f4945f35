"""Decisions laid over a draft: what nobody decided never reaches a paper."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.desk.as_left import as_left
from fanlight.desk.blind import hidden_clips, is_drawn
from fanlight.desk.clip_view import without_proposals
from fanlight.desk.decided import SENT_MARKS, for_papers, for_screen
from fanlight.desk.mentor_words import mentor_words
from fanlight.desk.points import part_name
from fanlight.measure.marked import GIVEN_BY
from fanlight.review.conclude import conclude
from fanlight.store import DocumentKind, JudgedStructure, Judgement
from fanlight.store.actions import (
    AcceptFinding,
    AcceptFindings,
    Action,
    AddFinding,
    ChooseCorrection,
    DrawMark,
    EditText,
    JudgeBlind,
    JudgeStructure,
    OrderCorrections,
    OverruleFinding,
    PlaceClip,
    TakeClipOut,
)
from fanlight.study import (
    ENGINE,
    ClipVerdict,
    DrawnMark,
    FileMarks,
    Finding,
    House,
    MarkKind,
    Measurement,
    Purpose,
    Side,
    StudyReview,
    Valve,
    Verdict,
    ViewReading,
    ViewSource,
)
from tests.desk.drafts import BORDERLINE, MET, MISSED, UNKNOWN, draft, entries, house_rows, state_after
from tests.report.sample import finding

VIEW = "right_parasternal_long_axis_four_chamber"


def test_nothing_undecided_enters_a_paper(house: House) -> None:
    """A draft full of proposals gives an empty paper: no finding, strength, correction or verdict."""
    review = for_papers(as_left(draft(), state_after(), house))

    assert [item.findings for item in review.readings] == [()] * 6
    assert (review.study_findings, review.priorities, review.strengths) == ((), (), ())
    assert {verdict for item in review.readings for _, verdict in item.verdicts} == {ClipVerdict.NOT_ASSESSABLE}


def test_what_was_kept_passes_as_it_was(house: House) -> None:
    """With its value and evidence, and with the advice that belongs to it."""
    proposed = draft()
    state = state_after(
        AcceptFindings(clip="clip01", criteria=(MISSED, MET)), AcceptFinding(clip="", criterion="ecg_present")
    )

    review = for_papers(as_left(proposed, state, house))

    kept = {item.criterion: item for item in review.reading("clip01").findings}
    assert set(kept) == {MISSED, MET}
    assert kept[MISSED].evidence == proposed.reading("clip01").findings[1].evidence
    assert review.reading("clip02").findings == ()
    assert [(item.criterion, item.clips) for item in review.priorities if item.clips] == [(MISSED, ("clip01",))]
    assert [item.criterion for item in review.strengths] == [MET]
    assert review.reading("clip01").verdict(Purpose.LOOK) is ClipVerdict.LIMITED


@pytest.mark.parametrize(
    ("clip", "criterion", "verdict", "told"),
    [
        pytest.param("clip01", MISSED, Verdict.MET, Verdict.MET, id="a miss is none"),
        pytest.param("clip01", MET, Verdict.MISSED, Verdict.MISSED, id="a merit is a miss"),
        pytest.param("clip05", BORDERLINE, Verdict.MISSED, Verdict.MISSED, id="borderline is a miss"),
        pytest.param("clip05", BORDERLINE, Verdict.NOT_ASSESSABLE, Verdict.NOT_ASSESSABLE, id="it cannot be told"),
        pytest.param("clip04", UNKNOWN, Verdict.MISSED, Verdict.NOT_ASSESSABLE, id="no number to judge: words only"),
    ],
)
def test_what_was_overruled_carries_the_mentors_word(
    house: House, clip: str, criterion: str, verdict: Verdict, told: Verdict
) -> None:
    """The verdict is the mentor's, so is the reason; the letter says both."""
    state = state_after(OverruleFinding(clip=clip, criterion=criterion, verdict=verdict, reason="The wall is seen."))

    review = for_papers(as_left(draft(), state, house))
    words = mentor_words(draft(), state, house, DocumentKind.LETTER)

    (finding,) = review.reading(clip).findings
    assert (finding.verdict, finding.reason) == (told, "The wall is seen.")
    assert bool([item for item in review.priorities if item.criterion == criterion]) is (told is Verdict.MISSED)
    assert words.findings[0].startswith(f"Clip {int(clip[-2:])}, ")
    assert words.findings[0].endswith("The wall is seen.")


def test_the_screen_keeps_proposals_and_shows_decisions(house: House) -> None:
    """Nothing disappears from the desk because it is undecided."""
    proposed = draft()
    state = state_after(OverruleFinding(clip="clip01", criterion=MISSED, verdict=Verdict.MET, reason="no"))

    review = for_screen(as_left(proposed, state, house))

    assert [len(item.findings) for item in review.readings] == [len(item.findings) for item in proposed.readings]
    assert [item.clips for item in review.priorities if item.criterion == MISSED] == [("clip02", "clip03")]


def test_clips_stand_where_the_mentor_puts_them(house: House) -> None:
    """Placed, taken out, or judged blind: each is the mentor's word, and the path follows."""
    state = state_after(
        PlaceClip(clip="clip01", view=VIEW),
        TakeClipOut(clip="clip02"),
        JudgeBlind(clip="clip03", view=VIEW, verdicts=()),
    )

    for review in (for_papers(as_left(draft(), state, house)), for_screen(as_left(draft(), state, house))):
        views = [(item.view.view, item.view.source) for item in review.readings[:3]]
        assert views == [(VIEW, ViewSource.MENTOR), ("", ViewSource.MENTOR), (VIEW, ViewSource.MENTOR)]
        step = next(item for item in review.coverage.steps if item.view == VIEW)
        assert step.clips == ("clip01", "clip03")
        assert "clip02" in review.coverage.unplaced


def test_corrections_are_chosen_ordered_and_reworded(house: House) -> None:
    """Those that were left out are gone, the others stand in the mentor's order and words."""
    accepted = (
        AcceptFinding(clip="clip01", criterion=MISSED),
        OverruleFinding(clip="clip05", criterion=BORDERLINE, verdict=Verdict.MISSED, reason="white everywhere"),
    )
    first, second = for_papers(as_left(draft(), state_after(*accepted), house)).priorities

    turned = state_after(
        *accepted,
        OrderCorrections(order=((second.criterion, Side(second.side)), (first.criterion, Side(first.side)))),
        EditText(document=DocumentKind.LETTER, part=part_name(second, "correction"), text="Turn it down."),
    )
    review = for_papers(as_left(draft(), turned, house))
    assert [item.criterion for item in review.priorities] == [second.criterion, first.criterion]
    assert review.priorities[0].correction == "Turn it down."

    left_out = ChooseCorrection(criterion=first.criterion, side=Side(first.side), is_kept=False)
    review = for_papers(as_left(draft(), state_after(*accepted, left_out), house))
    assert [item.criterion for item in review.priorities] == [second.criterion]


def test_the_house_says_how_many_corrections_stand_unless_the_mentor_asks_for_more() -> None:
    """One in this house: the first in the mentor's order, and those asked for by name; one taken out makes room."""
    shipped = house_rows()
    letter = shipped.table("letter")
    tables = {**shipped.tables, "letter": {**letter, "limits": {**letter["limits"], "findings_max": 1}}}
    house = House(tables=tables)
    accepted = (
        AcceptFinding(clip="clip01", criterion=MISSED),
        OverruleFinding(clip="clip05", criterion=BORDERLINE, verdict=Verdict.MISSED, reason="white everywhere"),
    )

    def standing(*more: Action) -> list[str]:
        return [
            item.criterion for item in for_papers(as_left(draft(), state_after(*accepted, *more), house)).priorities
        ]

    (first,) = standing()
    (second,) = {MISSED, BORDERLINE} - {first}
    low_or_high = {MISSED: Side.LOW, BORDERLINE: Side.HIGH}
    order = OrderCorrections(order=((second, low_or_high[second]), (first, low_or_high[first])))
    without = ChooseCorrection(criterion=first, side=low_or_high[first], is_kept=False)
    more = ChooseCorrection(criterion=second, side=low_or_high[second], is_kept=True)

    assert standing(order) == [second]
    assert standing(without) == [second]
    assert standing(more) == [first, second]


def test_what_the_mentor_adds_stands_in_the_paper_that_it_belongs_to(house: House) -> None:
    """Findings in both; structures by eye in the summary, with those that nobody judged."""
    state = state_after(
        AddFinding(finding="f", clip="clip02", words="The septum bows."),
        AddFinding(finding="g", clip="", words="A calm scan."),
        JudgeStructure(structure=JudgedStructure.MITRAL_VALVE, judgement=Judgement.ABNORMAL, words="thick"),
        JudgeStructure(structure=JudgedStructure.AORTA, judgement=Judgement.NORMAL),
    )

    words = mentor_words(draft(), state, house, DocumentKind.SUMMARY)

    assert words.findings == ("Clip 2: The septum bows.", "The study as a whole: A calm scan.")
    assert words.structures == (("mitral valve", "abnormal: thick"), ("aorta", "normal"))
    assert "pericardium" in words.not_assessed
    assert "aorta" not in words.not_assessed


def test_a_share_of_clips_is_judged_blind(house: House) -> None:
    """The same ones at every look, about as many as asked for; what is proposed for them stays hidden till then."""
    clips = [f"{k:016x}" for k in range(4000)]
    drawn = [clip for clip in clips if is_drawn("study", clip, 0.1)]

    # 400 expected, one standard deviation 19: four of them.
    assert 324 < len(drawn) < 476
    assert not any(is_drawn("study", clip, 0.0) for clip in clips)
    assert all(is_drawn("study", clip, 1.0) for clip in clips)
    (judged,) = entries([JudgeBlind(clip=drawn[0], view="", verdicts=())])
    assert hidden_clips("study", clips, [judged], 0.1) == set(drawn[1:])
    undo = replace(judged, id="u", action="undo", payload="{}", undoes=judged.id)
    assert hidden_clips("study", clips, [judged, undo], 0.1) == set(drawn[1:])  # its proposals were seen


def test_hidden_proposals_show_nowhere(house: House) -> None:
    """Neither at the clip nor in what is drawn from all clips."""
    review = for_screen(as_left(draft(), state_after(), house, frozenset({"clip01", "clip02", "clip03"})))

    assert review.reading("clip01").findings == ()
    assert not [item for item in review.priorities if item.criterion == MISSED]
    shown = [item.clips for item in review.priorities] + [item.clips for item in review.strengths]
    assert not {"clip01", "clip02", "clip03"} & {key for keys in shown for key in keys}


def test_what_hidden_clips_say_of_the_whole_study_waits(house: House) -> None:
    """Until they were judged; what somebody decided on already stays."""
    assert draft().study_findings
    hidden = frozenset({"clip01"})

    assert for_screen(as_left(draft(), state_after(), house, hidden)).study_findings == ()
    kept = state_after(AcceptFinding(clip="", criterion="ecg_present"))
    assert len(for_screen(as_left(draft(), kept, house, hidden)).study_findings) == 1
    assert for_screen(as_left(draft(), state_after(), house)).study_findings == draft().study_findings


@pytest.mark.parametrize("source", [ViewSource.RECOGNISED, ViewSource.VIEW_NAME])
def test_a_clip_judged_blind_takes_no_valve_from_a_proposal(house: House, source: ViewSource) -> None:
    """The mentor named the view alone; what the files name stands."""
    proposed = draft()
    said = ViewReading(view="apical", source=source, probability=0.9, valve=Valve.MITRAL)
    readings = tuple(replace(item, view=said) for item in proposed.readings)
    state = state_after(JudgeBlind(clip="clip01", view=VIEW, verdicts=()))

    view = for_papers(as_left(replace(proposed, readings=readings), state, house)).reading("clip01").view
    assert (view.view, view.source) == (VIEW, ViewSource.MENTOR)
    assert view.valve is (None if source is ViewSource.RECOGNISED else Valve.MITRAL)


def test_what_the_practice_drew_is_measured_and_told_from_what_the_mentor_drew(house: House) -> None:
    """In a file that came with the study; it was measured when the study was read."""
    proposed = draft()
    mark = DrawnMark(kind=MarkKind.LINE, frame=0, points=((10.0, 20.0), (10.0, 60.0)), label="septum")
    clip = next(item.clip for item in proposed.readings if item.layout.scale is not None)
    marks = {clip.key: FileMarks(name=clip.name, drawn=(mark,))}
    whole = conclude(proposed.study, proposed.readings, (), house, marks=marks)
    (measured,) = [item for item in whole.measurements if item.given_by == GIVEN_BY]
    own = state_after(DrawMark(mark="m", clip=clip.key, frame=0, kind=MarkKind.LINE, points=mark.points, label="wall"))

    for review in (for_screen(as_left(whole, own, house)), for_papers(as_left(whole, own, house))):
        drawn = [item for item in review.measurements if item.method == measured.method]
        assert [(item.label, item.given_by) for item in drawn] == [
            ("wall: length", GIVEN_BY), ("septum: length", SENT_MARKS),
        ]  # fmt: skip
        assert drawn[1].value == measured.value


FIVE_CHAMBER = "left_apical_five_chamber"
SPEED = Measurement(name="aortic_vmax", label="Aortic peak velocity", value=1.4, unit="m/s", given_by=ENGINE)


def with_a_strip(*found: Finding) -> StudyReview:
    """The draft, whose first clip was measured as the aortic flow that its file names."""
    proposed = draft()
    named = ViewReading(view=FIVE_CHAMBER, source=ViewSource.VIEW_NAME, valve=Valve.AORTIC)
    measured_as = (FIVE_CHAMBER, Valve.AORTIC)
    first = replace(proposed.readings[0], findings=found, view=named, measured=(SPEED,), measured_as=measured_as)
    return replace(proposed, readings=(first, *proposed.readings[1:]))


def aslant() -> Finding:
    return finding("spectrum_angle", 1, Verdict.MISSED, 40.0, side=Side.HIGH, confidence=0.8)


def ours(review: StudyReview) -> list[Measurement]:
    return [item for item in review.measurements if item.given_by == ENGINE]


def test_a_number_on_paper_is_weighed_by_what_nobody_decided_too(house: House) -> None:
    """An undecided miss bounds it and says so; kept it is the mentor's; overruled it bounds nothing."""
    proposed = with_a_strip(aslant())
    (open_,) = ours(for_papers(as_left(proposed, state_after(), house)))
    (kept,) = ours(
        for_papers(as_left(proposed, state_after(AcceptFinding(clip="clip01", criterion="spectrum_angle")), house))
    )
    overruled = OverruleFinding(clip="clip01", criterion="spectrum_angle", verdict=Verdict.MET, reason="it runs along")
    (gone,) = ours(for_papers(as_left(proposed, state_after(overruled), house)))

    assert open_.validity.startswith("at least: ")
    assert "the mentor has not decided" in open_.validity
    assert kept.validity.startswith("at least: ")
    assert "the mentor has not decided" not in kept.validity
    assert not gone.validity.startswith("at least")
    assert for_papers(as_left(proposed, state_after(), house)).readings[0].findings == ()


@pytest.mark.parametrize(
    ("act", "hidden"), [(None, frozenset({"clip01"})), (TakeClipOut(clip="clip01"), frozenset[str]())]
)
def test_a_strip_that_is_hidden_or_taken_out_shows_no_number(
    house: House, act: Action | None, hidden: frozenset[str]
) -> None:
    state = state_after(*([act] if act else []))

    assert ours(for_screen(as_left(with_a_strip(), state, house, hidden))) == []
    assert len(ours(for_screen(as_left(with_a_strip(), state_after(), house)))) == 1
    assert without_proposals(with_a_strip().readings[0]).measured == ()


def test_a_strip_placed_without_a_valve_keeps_the_one_that_its_file_names(house: House) -> None:
    """As the engine reads it, on the desk as with a marks file; another valve takes the number away."""
    for valve, value in ((None, SPEED.value), (Valve.AORTIC, SPEED.value), (Valve.MITRAL, None)):
        state = state_after(PlaceClip(clip="clip01", view=FIVE_CHAMBER, valve=valve))
        (found,) = ours(for_screen(as_left(with_a_strip(), state, house)))
        assert found.value == value
