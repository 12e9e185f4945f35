"""Studies wait by urgency that people set, then by age, until their papers are signed and calls acknowledged."""

from datetime import UTC, datetime

import pytest

from fanlight.review.events import ClipFinished, ReviewFinished, StudyAssembled
from fanlight.store import (
    DocumentKind,
    NewPart,
    Party,
    Store,
    add_entry,
    add_file,
    add_study,
    closed_studies,
    documents_of,
    new_id,
    record_event,
    sign_document,
    undo_entry,
    waiting_studies,
)
from fanlight.store.actions import AcknowledgeCall, FlagUrgency, OpenCall, RecordCall, SetClosed
from fanlight.store.standing import rebuild_standing
from measure._store_samples import HOUSE, sample_id, sample_reading, sample_review, sample_study


def _flag(store: Store, study: str, is_urgent: bool, said_by: Party = Party.MENTOR) -> str:
    flag = FlagUrgency(is_urgent=is_urgent, said_by=said_by, reason="breathes fast since noon")
    return add_entry(store, study, flag, author="M", entry=new_id()).id


def _sign(store: Store, study: str, kind: DocumentKind) -> None:
    part = NewPart(name="paper.html", media_type="text/html", data=b"x")
    sign_document(store, study, kind, [part], author="M", document=new_id())


def _waiting(store: Store) -> list[str]:
    return [item.title for item in waiting_studies(store).studies]


@pytest.fixture
def three(store: Store) -> dict[str, str]:
    return {title: add_study(store, sample_id(title), title=title).id for title in ("first", "second", "third")}


def test_the_oldest_waits_first(store: Store, three: dict[str, str]) -> None:
    assert _waiting(store) == ["first", "second", "third"]


def test_what_people_flag_comes_first_and_its_undoing_brings_it_back(store: Store, three: dict[str, str]) -> None:
    flag = _flag(store, three["third"], is_urgent=True, said_by=Party.PRACTICE)
    assert _waiting(store) == ["third", "first", "second"]
    line = waiting_studies(store).studies[0]
    assert (line.urgent_said_by, line.urgent_reason) == (Party.PRACTICE, "breathes fast since noon")
    undo = undo_entry(store, three["third"], flag, author="M", entry=new_id())
    assert _waiting(store) == ["first", "second", "third"]
    undo_entry(store, three["third"], undo.id, author="M", entry=new_id())
    assert _waiting(store) == ["third", "first", "second"]
    _flag(store, three["third"], is_urgent=False)
    assert _waiting(store) == ["first", "second", "third"]


def test_the_request_sheet_flags_until_a_person_says_otherwise(store: Store, three: dict[str, str]) -> None:
    record_event(store, three["second"], StudyAssembled(study=sample_study(1, urgent=True)), house=HOUSE)
    assert _waiting(store) == ["second", "first", "third"]
    assert waiting_studies(store).studies[0].urgent_said_by is Party.PRACTICE
    _flag(store, three["second"], is_urgent=False)
    assert _waiting(store) == ["first", "second", "third"]
    assert [item.urgent_said_by for item in waiting_studies(store).studies] == [None, None, None]


def test_a_study_without_a_trainee_closes_with_its_summary(store: Store, three: dict[str, str]) -> None:
    record_event(store, three["first"], StudyAssembled(study=sample_study(1)), house=HOUSE)
    _sign(store, three["first"], DocumentKind.LETTER)
    assert "first" in _waiting(store)
    _sign(store, three["first"], DocumentKind.SUMMARY)

    assert _waiting(store) == ["second", "third"]
    assert [item.title for item in closed_studies(store).studies] == ["first"]


def test_a_study_with_a_trainee_waits_for_its_letter_too(store: Store, three: dict[str, str]) -> None:
    record_event(store, three["first"], StudyAssembled(study=sample_study(1, trainee="T. Rowan")), house=HOUSE)
    _sign(store, three["first"], DocumentKind.SUMMARY)
    assert "first" in _waiting(store)
    _sign(store, three["first"], DocumentKind.LETTER)
    assert "first" not in _waiting(store)


def test_a_study_does_not_close_without_its_call(store: Store, three: dict[str, str]) -> None:
    study = three["first"]
    add_entry(store, study, OpenCall(call="k", finding="effusion"), author="M", entry=new_id())
    _sign(store, study, DocumentKind.SUMMARY)
    assert "first" in _waiting(store)
    call = RecordCall(call="k", whom="Dr Aster", called_at=datetime(2026, 11, 25, tzinfo=UTC), said="today")
    add_entry(store, study, call, author="M", entry=new_id())
    assert "first" in _waiting(store)
    add_entry(store, study, AcknowledgeCall(call="k", by_whom="Dr Aster"), author="M", entry=new_id())
    assert "first" not in _waiting(store)


def test_a_line_says_how_far_the_study_is(store: Store, three: dict[str, str]) -> None:
    whole = sample_study(3, "s", trainee="T. Rowan")
    add_file(store, three["first"], file=new_id(), name="x", chunks=[b"y"])
    for _ in range(2):  # read twice: the numbers are those of the newest
        record_event(store, three["first"], StudyAssembled(study=whole), house=HOUSE)
    for house in (HOUSE, "another"):
        record_event(
            store, three["first"], ClipFinished(reading=sample_reading(whole.clips[0]), from_cache=False), house=house
        )
    line = waiting_studies(store).studies[0]

    assert (line.n_files, line.n_clips, line.n_read, line.has_draft) == (1, 3, 1, False)
    assert (line.identity, line.patient, line.trainee) == (whole.identity, whole.patient, "T. Rowan")
    record_event(store, three["first"], ReviewFinished(review=sample_review(whole)), house=HOUSE)
    assert waiting_studies(store).studies[0].has_draft
    assert waiting_studies(store).studies[1].n_clips == 0


@pytest.mark.parametrize("limit", [1, 2, 3, 4])
def test_pages_hold_each_study_once(store: Store, three: dict[str, str], limit: int) -> None:
    _flag(store, three["second"], is_urgent=True)
    seen: list[str] = []
    after = ""
    while True:
        page = waiting_studies(store, limit=limit, after=after)
        assert page.n_all == 3
        assert len(page.studies) <= limit
        seen += [item.title for item in page.studies]
        after = page.after
        if not after:
            break

    assert seen == ["second", "first", "third"]


def test_a_page_mark_of_ones_own_is_refused(store: Store) -> None:
    with pytest.raises(ValueError, match="after must come from the page before, got 'x'"):
        waiting_studies(store, after="x")
    with pytest.raises(ValueError, match="limit must be 1 or more"):
        waiting_studies(store, limit=0)


def test_how_studies_stand_can_be_derived_anew(store: Store, three: dict[str, str]) -> None:
    _flag(store, three["third"], is_urgent=True)
    _sign(store, three["first"], DocumentKind.SUMMARY)
    before = (waiting_studies(store), closed_studies(store))
    with store.database.write() as connection:
        connection.exec_driver_sql("DELETE FROM standing")
    rebuild_standing(store)

    assert (waiting_studies(store), closed_studies(store)) == before
    assert [item.title for item in before[0].studies] == ["third", "second"]


def test_a_mentor_closes_and_opens_again_and_a_signature_settles_it_anew(store: Store, three: dict[str, str]) -> None:
    def close(is_closed: bool) -> str:
        closing = SetClosed(is_closed=is_closed, reason="sent twice")
        return add_entry(store, three["second"], closing, author="M", entry=new_id()).id

    act = close(True)
    assert _waiting(store) == ["first", "third"]
    undo_entry(store, three["second"], act, author="M", entry=new_id())
    assert _waiting(store) == ["first", "second", "third"]
    _sign(store, three["second"], DocumentKind.SUMMARY)
    assert _waiting(store) == ["first", "third"]
    close(False)
    assert _waiting(store) == ["first", "second", "third"]
    part = NewPart(name="paper.html", media_type="text/html", data=b"y")
    newest = documents_of(store, three["second"])[-1].id
    sign_document(
        store, three["second"], DocumentKind.SUMMARY, [part], author="M", document=new_id(), supersedes=newest
    )
    assert _waiting(store) == ["first", "third"]


def test_an_open_call_keeps_a_study_waiting_whoever_closed_it(store: Store, three: dict[str, str]) -> None:
    add_entry(store, three["first"], SetClosed(is_closed=True), author="M", entry=new_id())
    add_entry(store, three["first"], OpenCall(call="k", finding="fluid"), author="M", entry=new_id())

    assert _waiting(store) == ["first", "second", "third"]
