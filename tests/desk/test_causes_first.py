"""Covered studies: nothing that is proposed is shown until the causes were said, and what is said then is kept."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from fanlight.desk import Desk, blind, causes_first
from fanlight.desk.as_left import as_left
from fanlight.desk.blind import is_drawn_whole
from fanlight.desk.decided import SENT_MARKS, for_papers
from fanlight.desk.engine import EngineState
from fanlight.measure.marked import GIVEN_BY
from fanlight.reference.causes import read_causes
from fanlight.reference.criteria import read_criteria
from fanlight.reference.load import load_house
from fanlight.review.conclude import conclude
from fanlight.store import Store, blind_studies, digest_of, entries_of, latest_review, new_id, read_study
from fanlight.study import (
    ENGINE,
    DrawnMark,
    FileMarks,
    House,
    MarkKind,
    Measurement,
    Mode,
    StudyReview,
    ViewReading,
    ViewSource,
)
from tests.desk.browser import Browser
from tests.desk.drafts import MISSED, draft, house_rows, keep, state_after

CLIP, STRIP = "clip01", "clip02"
MARK: dict[str, Any] = {"mark": "m", "frame": 0, "kind": "point", "points": [[10.0, 12.0]], "landmark": "LV_APEX"}
VIEWS = ("right_parasternal_long_axis_four_chamber", "left_apical_four_chamber")
SHORT = "right_parasternal_short_axis_chordae"
READ, OWN = "9.7 mm", "16.8 mm"  # the engine's number on the strip, the mentor's of 60 px of 0.28 mm
ENDS = ((100.0, 150.0), (100.0, 210.0))


def house_of(folder: Path, share: float, since: str = "2020-01-01") -> House:
    file = folder / "house.toml"
    file.write_text(
        f'[desk.settings]\nblind_share = 0.0\ncauses_first_share = {share}\ncauses_first_since = "{since}"\n'
    )
    return load_house(file)


@pytest.fixture
def covering(store: Store, tmp_path: Path) -> Iterator[Desk]:
    """A desk that covers every study."""
    with Desk(store, house_of(tmp_path, 1.0)) as opened:
        yield opened


@pytest.fixture
def page(covering: Desk) -> Iterator[Browser]:
    made = Browser(covering)
    assert made.enter().status_code == 204
    yield made
    made.close()


@pytest.fixture
def study(store: Store) -> str:
    return keep(store, draft())


def shown(browser: Browser, study: str) -> dict[str, Any]:
    """What a page gets to see that could lead a mentor."""
    whole, one = browser.get(f"/api/studies/{study}").json(), browser.get(f"/api/studies/{study}/clips/{CLIP}").json()
    review = whole["review"]
    return {
        "findings": [item["findings"] for item in whole["readings"]],
        "of one clip": [one["findings"], one["verdicts"], one["picture"], one["measured"]],
        "causes": review["causes"],
        "corrections": review["corrections"],
        "priorities": review["priorities"],
        "study": review["study_findings"],
        "changes": browser.get(f"/api/studies/{study}/changes").json()["changes"],
        "points": browser.get(f"/api/studies/{study}/corrections").json()["corrections"],
        "lines": browser.get(f"/api/studies/{study}/clips/{STRIP}/lines").json().get("lines", []),
        "numbers": [item for item in review["measurements"] if item["given_by"] == ENGINE],
        "papers": [words for kind in ("summary", "letter") for words in led(paper(browser, study, kind))],
    }


def paper(browser: Browser, study: str, kind: str) -> str:
    answer = browser.get(f"/api/studies/{study}/letter?kind={kind}")
    assert answer.status_code == 200, answer.text
    return answer.text


def led(text: str) -> list[str]:
    """Return what of a paper tells what the engine found: of the gain, which clips 1 to 3 miss, and on the strip."""
    low = read_criteria(house_rows())[MISSED].low
    assert low is not None
    told = (low.means.rstrip("."), low.means[1:].rstrip("."), "the engine's finding", "the engine&#x27;s finding", READ)
    return [words for words in told if words in text]


def with_strip(sent: tuple[DrawnMark, ...] = ()) -> StudyReview:
    """Return the draft whose second clip is an M-mode that the engine measured, the file naming its view."""
    whole = draft()
    found = Measurement(
        name="lvwd", label="LVWd", value=9.7, unit="mm", uncertainty=0.6, frames=(89,), given_by=ENGINE,
        method="mean of 4 of 5; timed by R waves", clip=STRIP,
    )  # fmt: skip
    view = ViewReading(view=SHORT, source=ViewSource.SERIES_TEXT, probability=1.0, reason="")
    first, strip, *others = whole.readings
    strip = replace(
        strip, view=view, mode=replace(strip.mode, mode=Mode.M_MODE), measured=(found,), measured_as=(SHORT, None)
    )
    marks = FileMarks(name=first.clip.name, drawn=sent)
    study = replace(whole.study, marks=(marks,) if sent else ())
    return conclude(study, (first, strip, *others), (), house_rows(), marks={CLIP: marks})


def placed_and_marked(browser: Browser, study: str) -> None:
    """Let the mentor place strip and clip, and measure the ventricle on the clip."""
    for clip in (CLIP, STRIP):
        assert browser.act(study, "place clip", clip, view=SHORT).status_code == 200
    drawn = browser.act(
        study, "draw mark", CLIP, mark="m", frame=0, kind="line", points=[list(end) for end in ENDS], label="LVIDd"
    )
    assert drawn.status_code == 200, drawn.text


def first(browser: Browser, study: str) -> Any:
    return browser.get(f"/api/studies/{study}/state").json()["causes_first"]


def test_a_covered_study_shows_nothing_that_is_proposed(page: Browser, study: str, store: Store) -> None:
    """And everything as soon as it is uncovered."""
    before = shown(page, study)
    assert first(page, study)["is_covered"] is True
    assert not any(any(part) for part in before.values())

    assert page.act(study, "uncover study").status_code == 200

    after = shown(page, study)
    assert first(page, study)["is_covered"] is False
    assert any(after["findings"])
    assert [after["causes"][0]["cause"], after["corrections"][0]["cause"]] == ["gain_low", "gain_low"]
    assert any(after["of one clip"])
    assert len(page.get(f"/api/studies/{study}").json()["blind"]) == 0
    assert blind_studies(store) == ()  # nobody said anything first


def test_papers_of_a_covered_study_tell_the_persons_numbers_and_nothing_of_the_engine(
    page: Browser, store: Store
) -> None:
    """Placing a strip and drawing on a clip call no number of the engine's up, and no finding weighs the person's."""
    study = keep(store, with_strip())
    placed_and_marked(page, study)
    before = shown(page, study)

    assert not any(any(part) for part in before.values())
    assert OWN in paper(page, study, "summary")
    assert "6 stills and clips read: 6 not judged." in paper(page, study, "summary")
    page.act(study, "uncover study")
    after = shown(page, study)
    assert READ in after["papers"]
    assert any("finding" in words for words in after["papers"])
    assert [item["name"] for item in after["numbers"]] == ["lvwd"]


def test_the_practices_own_numbers_wait_too(page: Browser, store: Store) -> None:
    """The draft weighed them by what it found."""
    line = DrawnMark(kind=MarkKind.LINE, frame=0, points=((100.0, 150.0), (100.0, 250.0)), label="LVIDd")
    study = keep(store, with_strip((line,)))
    page.act(study, "place clip", CLIP, view=SHORT)

    def by_hand() -> set[str]:
        review = page.get(f"/api/studies/{study}").json()["review"]
        return {item["given_by"] for item in review["measurements"] if item["given_by"].startswith(GIVEN_BY)}

    assert by_hand() == set()
    page.act(study, "uncover study")
    assert by_hand() == {SENT_MARKS}
    for hidden, is_there in ((frozenset({CLIP}), False), (frozenset[str](), True)):
        on_paper = for_papers(as_left(with_strip((line,)), state_after(), house_rows(), hidden)).measurements
        assert (SENT_MARKS in {item.given_by for item in on_paper}) is is_there


def test_what_is_said_is_kept_with_what_was_not_shown(page: Browser, study: str, store: Store) -> None:
    answer = page.act(study, "say causes", through=["gain_low"], some=["depth_large"])

    assert answer.json()["causes_first"]["is_covered"] is True  # uncovering is an act of its own
    said = answer.json()["causes_first"]["said"]
    assert (said["author"], [item["title"] for item in said["through"]]) == ("M. Linden", ["overall gain too low"])
    (kept,) = blind_studies(store)
    engine = latest_review(store, study)
    assert engine is not None
    assert (kept.first.said.through, kept.first.said.some) == (("gain_low",), ("depth_large",))
    assert kept.first.said.not_shown == digest_of(engine)
    assert kept.engine == tuple(item.cause for item in engine.causes)
    assert ("gain_low", "") in kept.first.said.asked
    facts = {fact for cause, fact in kept.first.said.asked if cause == "breathing_hard"}
    assert facts == {"breathing_normal"}  # as the sheet says


def test_what_a_page_claims_was_hidden_or_asked_is_not_believed(page: Browser, study: str, store: Store) -> None:
    page.act(study, "say causes", through=["gain_low"], some=[], asked=[["depth_large", ""]], not_shown="mine")

    (kept,) = blind_studies(store)
    assert kept.first.said.not_shown != "mine"
    assert len(kept.first.said.asked) > 1


def test_the_same_request_again_is_the_same_act(page: Browser, study: str, store: Store) -> None:
    key = new_id()
    said = [page.act(study, "say causes", key=key, through=["gain_low"], some=[]) for _ in range(2)]
    shows = new_id()
    said += [page.act(study, "uncover study", key=shows) for _ in range(2)]
    said += [page.act(study, "say causes", key=key, through=["gain_low"], some=[])]

    assert [item.status_code for item in said] == [200] * 5
    assert [item.action for item in entries_of(store, study)] == ["say causes", "uncover study"]


def test_what_is_said_afterwards_is_refused(page: Browser, study: str, store: Store) -> None:
    page.act(study, "say causes", through=["gain_low"], some=[])
    page.act(study, "uncover study")
    late = page.act(study, "say causes", through=["depth_large"], some=[])
    again = page.act(study, "uncover study")

    assert (late.status_code, again.status_code) == (409, 409)
    assert "was not said before proposals were shown" in late.json()["error"]["what"]
    assert blind_studies(store)[0].first.said.through == ("gain_low",)


def test_taking_back_that_it_was_shown_covers_nothing_again(page: Browser, study: str) -> None:
    shows = page.act(study, "uncover study").json()["entry"]["id"]
    body = {"id": new_id(), "author": "M. Linden", "entry": shows}
    assert page.post(f"/api/studies/{study}/undo", body).status_code == 200

    assert first(page, study)["is_covered"] is False
    assert page.act(study, "say causes", through=[], some=[]).status_code == 409


REFUSED = [
    ("accept finding", CLIP, {"criterion": MISSED}),
    ("accept findings", CLIP, {"criteria": [MISSED]}),
    ("overrule finding", CLIP, {"criterion": MISSED, "verdict": "met", "reason": "seen"}),
    ("judge blind", CLIP, {"view": "", "verdicts": []}),
    ("choose correction", "", {"criterion": MISSED, "side": "low", "is_kept": True}),
    ("order corrections", "", {"order": [[MISSED, "low"]]}),
    ("judge change", "", {"cause": "gain_low", "word": "kept"}),
    ("draw mark", CLIP, {**MARK, "proposed_spread_px": 1.5}),
]


@pytest.mark.parametrize(("action", "clip", "payload"), REFUSED, ids=[item[0] for item in REFUSED])
def test_nothing_is_said_of_a_proposal_that_nobody_saw(
    page: Browser, study: str, store: Store, action: str, clip: str, payload: dict[str, Any]
) -> None:
    answer = page.act(study, action, clip, **payload)

    assert answer.status_code == 409
    assert "stays covered until its causes were said" in answer.json()["error"]["what"]
    assert entries_of(store, study) == ()


def test_nor_of_the_study_as_a_whole(page: Browser, study: str) -> None:
    body = {"id": new_id(), "author": "M. Linden", "action": "accept finding"}
    answer = page.post(f"/api/studies/{study}/entries", {**body, "payload": {"clip": "", "criterion": "ladder"}})

    assert answer.status_code == 409
    assert "stays covered until its causes were said" in answer.json()["error"]["what"]


def test_clips_are_placed_and_urgency_flagged_meanwhile(page: Browser, study: str) -> None:
    placed = page.act(study, "place clip", CLIP, view="right_parasternal_long_axis_four_chamber")
    flagged = page.act(study, "flag urgency", is_urgent=True, said_by="mentor", reason="fluid")
    drawn = page.act(study, "draw mark", CLIP, **MARK)

    assert (placed.status_code, flagged.status_code, drawn.status_code) == (200, 200, 200)
    assert first(page, study)["is_covered"] is True


def test_only_causes_that_the_clips_could_show_are_asked_about(page: Browser, study: str, house: House) -> None:
    """The clips of this study are pictures: nothing of a strip is asked."""
    asked = first(page, study)["asked"]

    rows = read_causes(house)
    modes = {item.mode.mode for item in draft().readings} - {None}
    assert [item["cause"] for item in asked]
    assert all(set(rows[item["cause"]].modes) & modes for item in asked)
    assert "spectral_sweep_slow" not in {item["cause"] for item in asked}
    assert all(item["title"] and item["when"] for item in asked)


@pytest.mark.parametrize("done", ["sign", "keep a landmark"])
def test_who_signed_or_kept_a_landmark_while_nothing_was_covered_has_seen_it(
    browser: Browser, page: Browser, study: str, done: str
) -> None:
    if done == "sign":
        body = {"id": new_id(), "author": "M. Linden", "kind": "summary", "exercise": None}
        assert browser.post(f"/api/studies/{study}/sign", body).status_code == 200
    else:
        assert browser.act(study, "draw mark", CLIP, **MARK, proposed_spread_px=1.5).status_code == 200

    assert first(page, study)["is_covered"] is False
    assert page.act(study, "say causes", through=[], some=[]).status_code == 409


def seen_as(view: str) -> StudyReview:
    """A draft of which each clip was recognised as this view."""
    now, made = ViewReading(view=view, source=ViewSource.RECOGNISED, probability=0.9), draft()
    return replace(made, readings=tuple(replace(item, view=now) for item in made.readings))


def test_which_causes_are_asked_about_does_not_tell_what_was_recognised(
    page: Browser, store: Store, house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A cause of one view only is asked about, whatever view was recognised, until a person names another."""
    rows = read_causes(house)
    rows = {**rows, "gain_low": replace(rows["gain_low"], views=VIEWS[:1])}
    monkeypatch.setattr(causes_first, "read_causes", lambda _: rows)
    for view in VIEWS:
        study = keep(store, seen_as(view))
        assert "gain_low" in {item["cause"] for item in first(page, study)["asked"]}
        for item in draft().readings:
            assert page.act(study, "place clip", item.clip.key, view=VIEWS[1]).status_code == 200
        asked = {item["cause"] for item in first(page, study)["asked"]}
        assert "gain_low" not in asked
        assert "gain_high" in asked


def test_of_clips_that_were_taken_out_nothing_is_asked(page: Browser, study: str) -> None:
    for item in draft().readings:
        assert page.act(study, "take clip out", item.clip.key).status_code == 200

    assert first(page, study)["asked"] == []


def test_a_cause_that_does_not_exist_is_refused(page: Browser, study: str) -> None:
    answer = page.act(study, "say causes", through=["gain_lo"], some=[])

    assert answer.status_code == 400
    assert "there is no cause 'gain_lo'" in answer.json()["error"]["what"]


def test_causes_are_said_when_all_clips_were_read(
    page: Browser, covering: Desk, study: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(covering.engine, "state", lambda _: EngineState(state="reading"))
    answer = page.act(study, "say causes", through=[], some=[])

    assert answer.status_code == 409
    assert "still being read" in answer.json()["error"]["what"]


def test_a_study_that_is_not_covered_says_nothing_of_causes(browser: Browser, study: str) -> None:
    """As shipped: no study is covered."""
    assert first(browser, study) == {"is_covered": False, "said": None, "asked": []}
    assert browser.act(study, "say causes", through=["gain_low"], some=[]).status_code == 409


def test_what_was_judged_before_the_share_was_set_is_not_covered(
    browser: Browser, page: Browser, study: str, store: Store
) -> None:
    """Somebody has seen its proposals: nothing that is said now is said before."""
    assert browser.act(study, "accept finding", CLIP, criterion=MISSED).status_code == 200

    assert first(page, study)["is_covered"] is False
    assert blind_studies(store) == ()


def test_studies_are_drawn_and_none_from_before_the_day(store: Store, tmp_path: Path) -> None:
    """A larger share covers those of a smaller one too."""
    studies = [keep(store, draft()) for _ in range(12)]

    def drawn(share: float, since: str = "2020-01-01") -> set[str]:
        with Desk(store, house_of(tmp_path, share, since)) as desk:
            return {study for study in studies if is_drawn_whole(desk, study)}

    tomorrow = read_study(store, studies[-1]).made_at.astimezone().date() + timedelta(days=1)
    assert drawn(0.0) == set()
    assert drawn(0.3) <= drawn(0.7) <= drawn(1.0) == set(studies)
    assert drawn(1.0, tomorrow.isoformat()) == set()


@pytest.mark.parametrize(("zone", "is_covered"), [("UTC-12", True), ("UTC+12", False)])
def test_the_day_is_the_one_where_the_desk_stands(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, zone: str, is_covered: bool
) -> None:
    """At noon in UTC of the day before it is that day already twelve hours to the east (POSIX writes east as minus)."""
    made = replace(read_study(store, keep(store, draft())), made_at=datetime(2026, 11, 30, 12, 30, tzinfo=UTC))
    monkeypatch.setattr(blind, "read_study", lambda *_: made)
    monkeypatch.setenv("TZ", zone)
    time.tzset()
    try:
        with Desk(store, house_of(tmp_path, 1.0, "2026-12-01")) as desk:
            assert is_drawn_whole(desk, made.id) is is_covered
    finally:
        monkeypatch.delenv("TZ")
        time.tzset()


def test_the_list_shows_no_path_of_a_covered_study(page: Browser, study: str) -> None:
    line = next(item for item in page.get("/api/waiting").json()["studies"] if item["id"] == study)

    assert line["path"] == []
