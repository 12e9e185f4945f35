"""Marks of the desk as a file, and the same marks read from it again."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from fanlight.desk.as_left import as_left
from fanlight.desk.decided import for_papers, for_screen
from fanlight.desk.marks_file import marks_of
from fanlight.intake.named_reading import read_named
from fanlight.intake.request_sheet import marks_by_clip, read_sheet
from fanlight.store import Store, latest_assembly, study_state
from fanlight.store.actions import DrawMark, JudgeBlind, PlaceClip, TakeClipOut
from fanlight.study import House, MarkKind, Mode
from tests.desk.browser import Browser, new_id
from tests.desk.drafts import draft, house_rows, keep, state_after

LINE = [[10.25, 20.5], [30.0, 44.75]]


def test_the_file_holds_what_was_marked_and_gives_it_back(browser: Browser, store: Store) -> None:
    study = keep(store, draft())
    view = "right_parasternal_long_axis_four_chamber"
    distance = {"start": [0.5, 3.0], "end": [80.25, 3.0], "distance_mm": 40.0}
    time = {"axis": "time", "start": [9.0, 10.0], "end": [9.0, 60.0], "amount": 250.0}
    baseline = {"axis": "baseline", "start": [33.5, 0.0], "end": [33.5, 0.0], "amount": 0.0}
    mark: dict[str, Any] = {"mark": new_id(), "kind": "line", "points": LINE, "landmark": "", "label": 'a "quoted" \n'}
    gone: dict[str, Any] = {"mark": new_id(), "kind": "point", "points": LINE[:1], "landmark": "LV_APEX", "label": ""}
    done = [
        browser.act(study, "place clip", "clip01", view=view, valve="mitral"),
        browser.act(study, "name mode", "clip03", mode="pulsed_wave"),
        browser.act(study, "set scale", "clip02", frame=1, distance=distance),
        browser.act(study, "set strip scale", "clip03", frame=0, marked=time),
        browser.act(study, "set strip scale", "clip03", frame=0, marked=baseline),
        browser.act(study, "draw mark", "clip02", frame=4, **mark),
        browser.act(study, "draw mark", "clip01", frame=0, **gone),
        browser.act(study, "remove mark", "clip01", mark=gone["mark"]),
    ]
    assert [answer.status_code for answer in done] == [200] * len(done)

    answer = browser.get(f"/api/studies/{study}/marks")

    assert answer.headers["content-disposition"] == 'attachment; filename="marks.toml"'
    sheet = read_sheet(answer.content, "marks.toml")
    assert (sheet.refused, sheet.notes) == ((), ())
    clips = latest_assembly(store, study).clips
    read, said = marks_by_clip(sheet.marks, clips), marks_of(study_state(store, study), clips)
    assert set(read) == {"clip01", "clip02", "clip03"}
    assert read == {key: trimmed(item) for key, item in said.items()}
    assert read["clip03"].mode is Mode.PULSED_WAVE


def test_what_was_named_goes_with_the_marks(browser: Browser, store: Store) -> None:
    """Read as the marks file of a review, it names the same, quotation marks and all."""
    study = keep(store, draft())
    said: dict[str, Any] = {
        "lesions": ["subaortic_stenosis"],
        "failure": "past",
        "treatment": 'a "pill" \\ a day',
        "signs": ["no_tricuspid_jet"],
    }
    assert browser.act(study, "name facts", **said).status_code == 200

    facts = read_named(browser.get(f"/api/studies/{study}/marks").content, "marks.toml", house_rows())

    assert (facts.refused, facts.notes) == ((), ())
    assert facts.named == study_state(store, study).named
    assert facts.named.by == "M. Linden"


def trimmed(item):
    """Words at the ends of a label that are blanks are not kept in a file."""
    return replace(item, drawn=tuple(replace(mark, label=mark.label.strip()) for mark in item.drawn))


def test_a_strip_scale_is_taken_back_like_any_act(browser: Browser, store: Store) -> None:
    study = keep(store, draft())
    first = {"axis": "velocity", "start": [9.0, 10.0], "end": [99.0, 10.0], "amount": 250.0}
    browser.act(study, "set strip scale", "clip03", frame=0, marked=first)
    done = browser.act(study, "set strip scale", "clip03", frame=0, marked={**first, "amount": 90.0}).json()
    assert [item["marked"]["amount"] for item in done["state"]["strip_scales"]] == [90.0]

    body = {"id": new_id(), "author": "M. Linden", "entry": done["next_undo"]}
    undone = browser.post(f"/api/studies/{study}/undo", body).json()

    assert [item["marked"]["amount"] for item in undone["state"]["strip_scales"]] == [250.0]


@pytest.mark.parametrize(
    "marked",
    [
        {"axis": "velocity", "start": [9.0, 10.0], "end": [9.0, 90.0], "amount": 250.0},
        {"axis": "time", "start": [9.0, 10.0], "end": [9.0, 90.0], "amount": -1.0},
        {"axis": "colour", "start": [9.0, 10.0], "end": [9.0, 90.0], "amount": 1.0},
    ],
)
def test_a_scale_that_says_nothing_is_refused(browser: Browser, store: Store, marked: dict[str, object]) -> None:
    study = keep(store, draft())
    answer = browser.act(study, "set strip scale", "clip03", frame=0, marked=marked)

    assert answer.status_code == 422
    assert answer.json()["error"]["remedy"]


def test_named_marks_are_measured_on_screen_and_in_the_papers(house: House) -> None:
    proposed = draft()
    key = next(item.clip.key for item in proposed.readings if item.layout.scale is not None)
    marks = [
        DrawMark(mark=name, clip=key, frame=0, kind=MarkKind.LINE, points=((10, 20), (10, 60)), label=label)
        for name, label in (("m", "septum"), ("n", ""))
    ]
    state = state_after(*marks)

    for review in (for_screen(as_left(proposed, state, house)), for_papers(as_left(proposed, state, house))):
        found = [item for item in review.measurements if item.given_by == "marked by hand"]
        across_mm = proposed.reading(key).layout.scale.mm_per_col_px
        assert [item.label for item in found] == ["septum: length"]
        assert found[0].value == pytest.approx(40 * across_mm)
        assert (found[0].uncertainty or 0) > 0


def test_a_view_named_before_any_proposal_stands_until_the_clip_is_placed() -> None:
    """And not where it was taken out later."""
    view, other = "left_apical_five_chamber", "right_parasternal_long_axis_four_chamber"
    clips = draft().study.clips
    judged = JudgeBlind(clip="clip01", view=view, verdicts=())
    for act, expected in (
        (None, view),
        (PlaceClip(clip="clip01", view=other), other),
        (TakeClipOut(clip="clip01"), ""),
    ):
        found = marks_of(state_after(judged, *([act] if act else [])), clips).get("clip01")
        assert (found.view if found else "") == expected
