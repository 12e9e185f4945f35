"""Proposals that the mentor keeps without moving: on screen and paper they advise no movement, and replace none."""

from __future__ import annotations

from dataclasses import replace

from fanlight.desk.marks_file import lying_on
from fanlight.plane.kept import set_by_hand
from fanlight.reference.movements import read_movements
from fanlight.report.stands import stand_lines
from fanlight.store import Store
from fanlight.store.actions import Action, DrawMark, MoveMark
from fanlight.study import FileMarks, StudyReview
from tests.desk.browser import Browser
from tests.desk.drafts import house_rows, keep, state_after
from tests.desk.test_decided_movements import ROCKED, causes, drafted, drawn, landmarks, on_paper, on_screen

COUNT_AS = "count as the network's"


def why_nothing(review: StudyReview) -> str:
    """Return why clips tell nothing of where the probe stood, as the study sheet has it."""
    return " ".join(item.reason for stand in review.stands for item in stand.left_out)


def kept(marks: FileMarks) -> list[Action]:
    """Return the acts by which the mentor keeps these marks as they were proposed."""
    return [replace(act, proposed_spread_px=6.0) for act in drawn(marks) if isinstance(act, DrawMark)]


def moved(acts: list[Action], n: int) -> list[Action]:
    """Return the acts by which the first `n` of these marks are moved by a pixel."""
    first = [act for act in acts if isinstance(act, DrawMark)][:n]
    return [
        MoveMark(mark=act.mark, clip=act.clip, frame=act.frame, points=((act.points[0][0] + 1, act.points[0][1]),))
        for act in first
    ]


def test_landmarks_kept_unmoved_advise_no_movement_on_screen_or_paper() -> None:
    draft, acts = drafted(), kept(landmarks(ROCKED))

    assert causes(on_screen(draft, *drawn(landmarks(ROCKED)))) == ["rock_plus"], "a hand's would"
    assert (causes(on_screen(draft, *acts)), causes(on_paper(draft, *acts))) == ([], [])


def test_once_moved_they_are_the_mentors() -> None:
    draft, acts = drafted(), kept(landmarks(ROCKED))

    assert causes(on_paper(draft, *acts, *moved(acts, len(acts)))) == ["rock_plus"]


def test_a_kept_proposal_replaces_none_of_the_landmarks_that_were_sent() -> None:
    """Those that a hand set in the practice tell the pose as before."""
    draft, (one, *_) = drafted(landmarks(ROCKED)), kept(landmarks({}))

    assert causes(on_screen(draft, one)) == ["rock_plus"]
    lies = lying_on(state_after(one), draft.study)
    assert set_by_hand(lies)["k1"].drawn == landmarks(ROCKED).drawn
    assert len(lies["k1"].drawn) == len(landmarks(ROCKED).drawn) + 1, "and the kept one is not lost"


def test_what_the_practice_kept_unmoved_advises_nothing_either() -> None:
    """And the desk says why, as the review does."""
    sent = landmarks(ROCKED)
    sent = replace(sent, drawn=tuple(replace(mark, proposed_spread_px=6.0) for mark in sent.drawn))
    draft = drafted(sent)

    assert (causes(draft), causes(on_screen(draft)), causes(on_paper(draft))) == ([], [], [])
    assert COUNT_AS in why_nothing(draft)
    assert why_nothing(on_screen(draft)) == why_nothing(on_paper(draft)) == why_nothing(draft)


def test_the_study_sheet_says_why_kept_landmarks_name_no_movement() -> None:
    """docs/pose-fit.md, "In a review"; no longer once a hand has moved them, nor of a clip that is judged first."""
    draft, acts = drafted(), kept(landmarks(ROCKED))
    n = len({mark.landmark for mark in landmarks(ROCKED).drawn})

    assert COUNT_AS not in why_nothing(on_paper(draft))
    for review in (on_screen(draft, *acts), on_paper(draft, *acts)):
        assert f"{n} of its landmarks lie where the engine proposed them and {COUNT_AS}" in why_nothing(review)
        assert any(COUNT_AS in said for _, said in stand_lines(review, read_movements(house_rows())))
    for review in (on_screen(draft, *acts, *moved(acts, len(acts))), on_paper(draft, *acts, hidden=frozenset({"k1"}))):
        assert COUNT_AS not in why_nothing(review)


def test_the_letter_over_the_wire_asks_for_no_movement_of_kept_landmarks(browser: Browser, store: Store) -> None:
    """Through the service, with the very act that the page says."""
    study = keep(store, drafted())
    for mark in landmarks(ROCKED).drawn:
        said = browser.act(
            study, "draw mark", "k1", mark=mark.landmark.lower() + str(mark.frame), frame=mark.frame, kind="point",
            points=[list(mark.points[0])], landmark=mark.landmark, proposed_spread_px=6.0,
        )  # fmt: skip
        assert said.status_code < 300
    browser.act(study, "accept finding", "k1", criterion="target_centred")

    assert browser.get(f"/api/studies/{study}/changes").json()["changes"] == []
    letter = browser.get(f"/api/studies/{study}/letter", params={"kind": "letter"}).text
    assert "Rock" not in letter
