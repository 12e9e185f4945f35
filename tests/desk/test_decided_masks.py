"""What the network's masks tell hangs on the view: decided in one view, it says nothing of another."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.critique.picture_masks import CUT, NAME
from fanlight.desk.as_left import as_left, standing, told_anew
from fanlight.desk.decided import for_papers, for_screen
from fanlight.reference.criteria import read_criteria
from fanlight.store import Store
from fanlight.store.actions import AcceptFinding, Action, JudgeBlind, OverruleFinding, PlaceClip, TakeClipOut
from fanlight.study import (
    Border,
    Cut,
    Finding,
    House,
    Mode,
    PictureReading,
    Sector,
    Source,
    StructureSeen,
    StudyReview,
    Verdict,
    ViewReading,
    ViewSource,
)
from tests.desk.browser import Browser
from tests.desk.drafts import draft, keep, state_after

VIEW = "right_parasternal_long_axis_four_chamber"
NO_CHAMBER = "right_parasternal_short_axis_papillary_muscles"  # of this view no atrium is asked for
KEEP = AcceptFinding(clip="clip01", criterion=CUT)
NOT_KNOWN = ViewReading(view="", source=ViewSource.NOT_KNOWN, probability=0.0, reason="no tag names it")
RECOGNISED = ViewReading(view=VIEW, source=ViewSource.RECOGNISED, probability=0.9)


def with_cut_atrium(proposed: StudyReview, house: House, view: ViewReading = NOT_KNOWN) -> StudyReview:
    """Return a draft in whose first clip, of this view, the network saw the left atrium cut off."""
    band = read_criteria(house)[CUT].band
    unknown = Finding(
        criterion=CUT, clip="clip01", value=None, unit="fraction", band=band, verdict=Verdict.NOT_ASSESSABLE,
        confidence=0.0, reason="the view is not known", source=Source(stage=f"critique.{NAME}", version=1),
    )  # fmt: skip
    end = Cut(border=Border.FAR, share=0.3, frame=2, from_depth=1.0, to_depth=1.0, from_beam=0.4, to_beam=0.6)
    seen = StructureSeen(
        structure="LEFT_ATRIUM", frames_share=1.0, area_share=0.1, sure_share=1.0, nearest=0.6, farthest=1.0,
        farthest_frame=2, cuts=(end,),
    )  # fmt: skip
    first, *rest = proposed.readings
    first = replace(
        first, view=view, findings=(*first.findings, unknown),
        picture=PictureReading(frames=(2,), structures=(seen,), network="x"),
    )  # fmt: skip
    return replace(proposed, readings=(first, *rest))


def told(review: StudyReview) -> Finding:
    (found,) = (item for item in review.reading("clip01").findings if item.criterion == CUT)
    return found


def test_a_view_that_the_mentor_names_tells_which_chambers_are_cut(house: House) -> None:
    """What is seen on the screen and kept there is what the paper says."""
    proposed = with_cut_atrium(draft(), house)
    named = PlaceClip(clip="clip01", view=VIEW)
    on_screen = for_screen(as_left(proposed, state_after(named), house))
    kept = for_papers(as_left(proposed, state_after(named, AcceptFinding(clip="clip01", criterion=CUT)), house))
    overruled = OverruleFinding(clip="clip01", criterion=CUT, verdict=Verdict.MET, reason="It is only touched.")
    decided = for_screen(as_left(proposed, state_after(named, overruled), house))

    assert (told(on_screen).verdict, told(on_screen).value) == (Verdict.MISSED, 0.3)
    assert (told(kept).verdict, told(kept).evidence) == (Verdict.MISSED, told(on_screen).evidence)
    assert (told(decided).verdict, told(decided).reason) == (Verdict.MET, "It is only touched.")
    assert told(for_screen(as_left(proposed, state_after(), house))).verdict is Verdict.NOT_ASSESSABLE


def test_the_page_is_told_anew_what_hangs_on_a_named_view_and_nothing_of_hidden_clips(house: House) -> None:
    proposed, named = with_cut_atrium(draft(), house), state_after(PlaceClip(clip="clip01", view=VIEW))

    (found,) = (item for item in told_anew(as_left(proposed, named, house))["clip01"] if item.criterion == CUT)
    assert (found.criterion, found.verdict) == (CUT, Verdict.MISSED)
    assert told_anew(as_left(proposed, state_after(), house)) == {}
    assert told_anew(as_left(proposed, named, house, frozenset({"clip01"}))) == {}


@pytest.mark.parametrize(
    ("acts", "is_kept"),
    [
        ((PlaceClip(clip="clip01", view=VIEW), KEEP), True),
        ((KEEP, PlaceClip(clip="clip01", view=VIEW)), False),
        ((PlaceClip(clip="clip01", view=VIEW), KEEP, PlaceClip(clip="clip01", view=NO_CHAMBER)), False),
        ((PlaceClip(clip="clip01", view=NO_CHAMBER), PlaceClip(clip="clip01", view=VIEW), KEEP), True),
        ((JudgeBlind(clip="clip01", view=VIEW, verdicts=()), KEEP), True),
        ((PlaceClip(clip="clip01", view=VIEW), KEEP, TakeClipOut(clip="clip01")), False),
    ],
)
def test_a_decision_counts_in_the_view_in_which_it_was_made(
    house: House, acts: tuple[Action, ...], is_kept: bool
) -> None:
    proposed, state = with_cut_atrium(draft(), house), state_after(*acts)
    on_paper = [
        item for item in for_papers(as_left(proposed, state, house)).reading("clip01").findings if item.criterion == CUT
    ]

    assert (("clip01", CUT) in standing(proposed, state).decisions) is is_kept
    assert bool(on_paper) is is_kept


def test_what_was_kept_of_a_recognised_view_waits_for_somebody_to_name_it(house: House) -> None:
    proposed = with_cut_atrium(draft(), house, RECOGNISED)
    kept, named = for_papers(as_left(proposed, state_after(KEEP), house)), PlaceClip(clip="clip01", view=VIEW)

    assert all(item.criterion != CUT for item in kept.reading("clip01").findings)
    assert told(for_papers(as_left(proposed, state_after(KEEP, named), house))).confidence == 1.0
    taken_out = for_screen(as_left(proposed, state_after(TakeClipOut(clip="clip01")), house))
    assert told(taken_out).verdict is Verdict.NOT_ASSESSABLE


CLIPS = ("clip01", "clip02", "clip03")


def cut_throughout(house: House, border: Border, width_deg: float) -> StudyReview:
    """Return a draft whose first three clips show the left atrium cut at this border of a sector that opens so far."""
    whole = with_cut_atrium(draft(), house)
    first = whole.readings[0]
    fan, picture, found = first.layout.picture, first.picture, first.findings[-1]
    assert isinstance(fan, Sector)
    assert picture is not None
    (seen,) = picture.structures
    cut = replace(seen, cuts=(replace(seen.cuts[0], border=border),))
    layout = replace(first.layout, picture=replace(fan, left_deg=-width_deg / 2, right_deg=width_deg / 2))
    clips = tuple(
        replace(
            item, layout=layout, mode=replace(item.mode, mode=Mode.TWO_D), picture=replace(picture, structures=(cut,)),
            findings=(replace(found, clip=item.clip.key),),
        )
        for item in whole.readings[:3]
    )  # fmt: skip
    return replace(whole, readings=(*clips, *whole.readings[3:]))


@pytest.mark.parametrize(
    ("border", "width_deg", "causes"),
    [
        (Border.FAR, 80.0, ["depth_small"]),
        (Border.LEFT, 50.0, ["sector_narrow"]),
        (Border.LEFT, 80.0, []),
        (Border.NEAR, 80.0, []),
    ],
)
def test_on_paper_the_place_of_a_cut_that_was_kept_tells_the_cause(
    house: House, border: Border, width_deg: float, causes: list[str]
) -> None:
    """The masks are no longer in the paper's readings; common practice, no source, as in the causes themselves."""
    proposed = cut_throughout(house, border, width_deg)
    named = [PlaceClip(clip=key, view=VIEW) for key in CLIPS]
    kept = [AcceptFinding(clip=key, criterion=CUT) for key in CLIPS]

    review = for_papers(as_left(proposed, state_after(*named, *kept), house))
    assert [item.cause for item in review.causes] == causes
    assert all(item.picture is None for item in review.readings)
    assert for_papers(as_left(proposed, state_after(*named), house)).causes == (), "nobody kept it"


def test_the_page_of_a_study_and_each_act_tell_it(browser: Browser, store: Store, house: House) -> None:
    """The view of the page is the mentor's, and with it what the masks say."""
    study = keep(store, with_cut_atrium(draft(), house))
    answer = browser.act(study, "place clip", "clip01", view=VIEW).json()

    for told_now in (answer, browser.get(f"/api/studies/{study}").json()):
        (found,) = (item for item in told_now["told_anew"]["clip01"] if item["criterion"] == CUT)
        assert (found["criterion"], found["verdict"]) == (CUT, "missed")
    assert browser.act(study, "take clip out", "clip01").json()["told_anew"] == {}
