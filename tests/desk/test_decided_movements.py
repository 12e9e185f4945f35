"""Movements of the probe on the desk: told from all landmarks that people named, worded on paper as in the review."""

from __future__ import annotations

import time
from dataclasses import replace
from typing import Any

import pytest

from fanlight.coach.record import record_of
from fanlight.desk.as_left import as_left
from fanlight.desk.blind import is_drawn
from fanlight.desk.changes import changes_of, kept_changes, part_of
from fanlight.desk.changes_page import plain_changes
from fanlight.desk.decided import for_papers, for_screen
from fanlight.desk.points import letter_points, part_name
from fanlight.heart.movements import Movement
from fanlight.reference.movements import read_movements
from fanlight.review.conclude import conclude
from fanlight.store import ChangeWord, DocumentKind, Store
from fanlight.store.actions import AcceptFinding, Action, DrawMark, EditText, JudgeChange, OverruleFinding
from fanlight.study import (
    Breathing,
    ClipReading,
    DrawnMark,
    EitherMovement,
    FileMarks,
    Landmark,
    Priority,
    Side,
    StudyReview,
    Verdict,
)
from tests.desk.browser import Browser
from tests.desk.drafts import house_rows, keep, state_after
from tests.desk.test_advice_record import sign
from tests.heart.fit.cases import FOUR_CHAMBER, clip_of
from tests.plane.clips import STANDARD_DEG, clip, picture, sloped
from tests.plane.pose_marks import pose_marks
from tests.report.sample import sample_review

ROCKED = {Movement.ROCK: 16.0}  # the heart lies off the middle: "target_centred" is missed
KEPT = AcceptFinding(clip="k1", criterion="target_centred")
NAME = "k1.dcm"


def landmarks(amounts: dict[Movement, float], number: int = 1, most: int = 40) -> FileMarks:
    """Return what a person draws on a clip after movements."""
    seen = clip_of(302, FOUR_CHAMBER, amounts, noise_fraction=0.01)
    return pose_marks(seen, most, name=f"k{number}.dcm")


def mirrored() -> FileMarks:
    return pose_marks(clip_of(302, FOUR_CHAMBER, noise_fraction=0.01), is_mirrored=True, name=NAME)


def drafted(*sent: FileMarks, n: int = 1) -> StudyReview:
    """Return the engine's draft of clips of one view, with these marks beside the files."""
    readings = tuple(clip(FOUR_CHAMBER, number=number) for number in range(1, n + 1))
    return drafted_of(readings, sent)


def drafted_of(readings: tuple[ClipReading, ...], sent: tuple[FileMarks, ...]) -> StudyReview:
    sample = sample_review().study
    request = replace(sample.request, breathing=Breathing.NORMAL)
    study = replace(sample, request=request, clips=tuple(item.clip for item in readings), marks=sent)
    by_clip = {f"k{item.clip.number}": marks for item in readings for marks in sent if marks.name == item.clip.name}
    return conclude(study, readings, (), house_rows(), marks=by_clip)


def drawn(marks: FileMarks, clip_key: str = "k1") -> list[Action]:
    """Return the acts by which the mentor draws marks on a clip."""
    return [_act(item, f"{clip_key}-{number}", clip_key) for number, item in enumerate(marks.drawn)]


def _act(item: DrawnMark, mark: str, key: str) -> DrawMark:
    return DrawMark(
        mark=mark, clip=key, frame=item.frame, kind=item.kind, points=item.points, landmark=item.landmark,
        label=item.label,
    )  # fmt: skip


def causes(review: StudyReview) -> list[str]:
    return [item.cause for item in review.corrections]


def on_paper(draft: StudyReview, *acts: Action, hidden: frozenset[str] = frozenset()) -> StudyReview:
    return for_papers(as_left(draft, state_after(*acts), house_rows(), hidden))


def on_screen(draft: StudyReview, *acts: Action, hidden: frozenset[str] = frozenset()) -> StudyReview:
    return for_screen(as_left(draft, state_after(*acts), house_rows(), hidden))


def point(review: StudyReview, *acts: Action) -> Priority:
    (found,) = letter_points(review, state_after(*acts), house_rows())
    return found[0]


def test_a_point_of_the_plane_says_in_the_desks_letter_what_the_pose_names() -> None:
    """As in the engine's own letter: the movement stands in place of the criterion's own words."""
    review = on_paper(drafted(), *drawn(landmarks(ROCKED)), KEPT)
    (said,) = review.corrections

    assert causes(review) == ["rock_plus"]
    assert point(review).correction.casefold().startswith(said.correction.casefold())
    assert f"right when {said.right_when}" in point(review).correction
    assert review.priorities == (point(review),)


def test_without_a_pose_the_desks_letter_says_what_to_look_for() -> None:
    """The network's landmarks tell of the plane, and of no pose on paper."""
    sloping = clip(FOUR_CHAMBER, picture(*sloped(STANDARD_DEG + 35)))
    review = on_paper(drafted_of((sloping,), ()), AcceptFinding(clip="k1", criterion="septum_slope"))

    assert point(review).correction.startswith(read_movements(house_rows()).look_for)


def test_the_mentors_words_go_before_those_of_the_pose() -> None:
    acts = [*drawn(landmarks(ROCKED)), KEPT]
    review = on_paper(drafted(), *acts)
    part = part_name(point(review), "correction")
    own = EditText(document=DocumentKind.LETTER, part=part, text="Rock it back.")

    assert point(review, *acts, own).correction == "Rock it back."


def test_movements_told_from_marks_that_were_sent_stay_on_the_desk() -> None:
    """On screen before anything is decided, and in the papers, on which the findings that it explains are counted."""
    draft = drafted(landmarks(ROCKED))

    assert causes(draft) == ["rock_plus"]
    assert causes(on_screen(draft)) == ["rock_plus"]
    assert [item.resolves for item in on_paper(draft, KEPT).corrections] == [1]
    assert len(on_screen(draft).measurements) == len(draft.measurements), "what was sent is measured once"


def test_the_mentors_landmarks_replace_those_sent_for_that_clip_alone() -> None:
    """A mark that is no landmark replaces none."""
    draft = drafted(landmarks(ROCKED), landmarks(ROCKED, 2), n=2)
    right = drawn(landmarks({}))
    line = DrawMark(mark="l", clip="k1", frame=0, kind="line", points=((1.0, 1.0), (9.0, 9.0)), label="")  # type: ignore[arg-type]

    assert [item.clips for item in draft.corrections] == [("k1", "k2")]
    assert [item.clips for item in on_screen(draft, *right).corrections] == [("k2",)]
    assert [item.clips for item in on_screen(draft, line).corrections] == [("k1", "k2")]
    assert [item.clips for item in on_paper(draft, *right).corrections] == [("k2",)]


def test_planes_are_told_from_marks_sent_also_where_others_were_drawn() -> None:
    """A mark on one clip has all planes told anew: what was sent with another clip counts there too."""
    draft = drafted(landmarks(ROCKED), landmarks(ROCKED, 2), n=2)
    now = on_screen(draft, *drawn(landmarks({})))

    assert now.reading("k2").findings == draft.reading("k2").findings
    assert now.reading("k1").findings != draft.reading("k1").findings


def test_of_a_mirrored_picture_no_paper_advises_a_movement_decided_or_not() -> None:
    """One rule on screen and paper: only who overrules the finding hears of the hand."""
    draft = drafted(mirrored())
    found = next(item for item in draft.reading("k1").findings if item.criterion == "picture_mirrored")
    assert found.verdict is Verdict.MISSED

    def silent(review: StudyReview) -> str:
        return review.stands[0].clips[0].silent

    wrong_way = silent(on_screen(draft))
    assert "the wrong way round" in wrong_way
    assert silent(on_paper(draft)) == wrong_way
    assert silent(on_paper(draft, AcceptFinding(clip="k1", criterion="picture_mirrored"))) == wrong_way
    overruled = OverruleFinding(clip="k1", criterion="picture_mirrored", verdict=Verdict.MET, reason="it lies well")
    assert silent(on_screen(draft, overruled)) == silent(on_paper(draft, overruled)) != wrong_way


def test_of_a_clip_that_is_judged_first_no_paper_tells_a_movement() -> None:
    draft, hidden = drafted(landmarks(ROCKED)), frozenset({"k1"})

    assert causes(on_screen(draft, hidden=hidden)) == []
    assert causes(on_paper(draft, hidden=hidden)) == []


def test_the_letter_that_is_previewed_holds_what_was_sent(browser: Browser, store: Store) -> None:
    """Through the service, which knows which clips are judged first."""
    study = keep(store, drafted(landmarks(ROCKED)))
    assert not is_drawn(study, "k1", 0.1)
    browser.act(study, "accept finding", "k1", criterion="target_centred")

    (item,) = browser.get(f"/api/studies/{study}/changes").json()["changes"]
    assert item["cause"] == "rock_plus"
    (asked,) = browser.get(f"/api/studies/{study}/corrections").json()["corrections"]
    assert asked["correction"].startswith("Rock")
    letter = browser.get(f"/api/studies/{study}/letter", params={"kind": "letter"}).text
    assert "Rock" in letter


def test_changes_follow_the_marks_sent() -> None:
    draft = drafted(landmarks(ROCKED))
    state = state_after(KEPT)
    (item,) = changes_of(on_paper(draft, KEPT), state, house_rows())

    assert (item.cause, item.correction is not None) == ("rock_plus", True)


def test_where_advice_is_withheld_the_mentors_words_for_a_movement_are_not_printed() -> None:
    draft = drafted(landmarks(ROCKED))
    request = replace(draft.study.request, breathing=Breathing.LABOURED)
    draft = replace(draft, study=replace(draft.study, request=request))
    own = EditText(document=DocumentKind.LETTER, part=part_of("rock_plus"), text="Press harder.")
    acts: list[Action] = [KEPT, JudgeChange(cause="rock_plus", word=ChangeWord.KEPT), own]

    (words,) = kept_changes(on_paper(draft, *acts), state_after(*acts), house_rows())
    assert "Press harder" not in words
    assert "laboured" in words


def test_a_movement_shows_the_landmarks_that_it_stands_on_and_the_findings_behind_it() -> None:
    draft = drafted(landmarks(ROCKED))
    (item,) = plain_changes(on_paper(draft, KEPT), state_after(KEPT), house_rows())

    assert item["likely"] == "very likely"
    assert [(each["number"], each["criterion"]) for each in item["evidence"]] == [(1, "target_centred")]
    (stand,) = item["stands_on"]
    assert (stand["number"], stand["given_by"]) == (1, "marked by a person")
    assert stand["view"].startswith("Right parasternal long axis")
    assert stand["said"].startswith("very likely rocked too far towards the marker, by")
    drawn_ones = {Landmark[mark.landmark].value for mark in landmarks(ROCKED).drawn}
    assert set(stand["landmarks"]) == drawn_ones
    assert item["alternatives"] == []


def alike(*acts: Action) -> tuple[StudyReview, list[dict[str, Any]]]:
    """Return papers of a study whose pose is told as an either-or, and its changes as a page shows them."""
    draft = drafted(landmarks(ROCKED))
    (stand,) = draft.stands
    offsets = {one.movement: one for one in stand.clips[0].offsets}
    pair = EitherMovement(
        first="rock", first_sense=1, first_probability=0.7, second="tilt", second_sense=-1, second_probability=0.4,
        probability=0.97,
    )  # fmt: skip
    unsure = tuple(replace(one, plus_probability=0.4, minus_probability=0.4) for one in offsets.values())
    clips = (replace(stand.clips[0], offsets=unsure, pairs=(pair,)),)
    review = replace(on_paper(draft, KEPT, *acts), stands=(replace(stand, clips=clips),))
    return review, plain_changes(review, state_after(KEPT, *acts), house_rows())


def test_of_an_either_or_the_mentor_may_keep_the_other() -> None:
    """It is shown with both in words, and the letter has the one that was kept, alone."""
    _, (item,) = alike()
    assert item["cause"] == "rock_plus_or_tilt_minus"
    assert "very likely either rocked too far towards the marker or tilted" in item["stands_on"][0]["said"]
    (other,) = item["alternatives"]
    assert other["cause"] == "tilt_minus"
    assert "tilt the cable end" in other["words"]

    instead: list[Action] = [
        JudgeChange(cause=item["cause"], word=ChangeWord.THROWN_OUT),
        JudgeChange(cause="tilt_minus", word=ChangeWord.KEPT),
    ]
    review, _ = alike(*instead)
    (words,) = kept_changes(review, state_after(KEPT, *instead), house_rows())
    assert "tilt the cable end" in words
    assert "Either" not in words


@pytest.mark.parametrize(
    ("cause", "title"),
    [
        pytest.param("rock_plus", "rocked", id="a movement"),
        pytest.param("rock_plus_or_tilt_minus", "either", id="an either-or"),
        pytest.param("no_such_row", "does not know any more", id="nothing that the house knows"),
    ],
)
def test_a_movement_that_is_gone_keeps_its_title(cause: str, title: str) -> None:
    """The marks changed since it was kept: the screen says of what the word was."""
    kept = JudgeChange(cause=cause, word=ChangeWord.KEPT)
    draft = drafted()
    (item,) = plain_changes(on_paper(draft, kept), state_after(kept), house_rows())

    assert item["is_stale"]
    assert title in item["title"]
    assert item["title"] != cause


def test_the_record_keeps_what_a_movement_explains_and_a_later_study_says_what_became_of_it() -> None:
    """Its signs are the findings that were counted to it; without any, only a person can say."""
    review = on_paper(drafted(landmarks(ROCKED)), KEPT)
    given = next(item for item in record_of(review, 0.5).advice if item.about == "cause:rock_plus")
    assert given.signs == (("target_centred", Side.LOW),)

    bare = on_paper(drafted(landmarks(ROCKED)))
    (alone,) = record_of(bare, 0.5).advice
    assert (alone.about, alone.signs) == ("cause:rock_plus", ())


def followed_in(browser: Browser, store: Store, *, is_mended: bool, has_clip: bool = True) -> tuple[str, str]:
    """Sign a letter that asks for a movement; return a later study of the trainee and the first letter's id."""
    first = decided(browser, store, drafted(landmarks(ROCKED)))
    browser.act(first, "judge change", cause="rock_plus", word="kept")
    document = sign(browser, first)
    marks = (landmarks({} if is_mended else ROCKED),) if has_clip else ()
    later = decided(browser, store, drafted(*marks))
    return later, str(document["id"])


def decided(browser: Browser, store: Store, review: StudyReview) -> str:
    study = keep(store, review)
    criteria = [item.criterion for item in review.reading("k1").findings]
    assert browser.act(study, "accept findings", "k1", criteria=criteria).status_code == 200
    return study


@pytest.mark.parametrize(
    ("is_mended", "words"), [pytest.param(True, "mended", id="mended"), pytest.param(False, "given in 1", id="there")]
)
def test_the_next_letter_says_what_became_of_a_kept_movement(
    browser: Browser, store: Store, is_mended: bool, words: str
) -> None:
    later, _ = followed_in(browser, store, is_mended=is_mended)
    if not is_mended:
        browser.act(later, "judge change", cause="rock_plus", word="kept")
    letter = browser.get(f"/api/studies/{later}/letter", params={"kind": "letter"}).text

    assert words in letter


def test_the_mentor_says_on_the_next_study_what_became_of_a_kept_change(browser: Browser, store: Store) -> None:
    later, letter_id = followed_in(browser, store, is_mended=False)
    until = time.monotonic() + 60
    while (last := browser.get(f"/api/studies/{later}").json()["last_letter"]) is None:
        assert time.monotonic() < until
        time.sleep(0.1)
    (change,) = last["changes"]
    assert (last["letter"], change["cause"]) == (letter_id, "rock_plus")
    assert "rock" in change["correction"]

    browser.act(later, "judge advice", letter=letter_id, about="cause:rock_plus", word="mended")
    letter = browser.get(f"/api/studies/{later}/letter", params={"kind": "letter"}).text
    assert f"{change['title']}: mended, well done." in letter
