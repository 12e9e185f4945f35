"""What people did is kept once, in order, and can be undone."""

from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from datetime import UTC, datetime
from multiprocessing import get_context
from pathlib import Path

import pytest

from fanlight.store import (
    CallStep,
    DocumentKind,
    EntryError,
    RefusedActionError,
    Store,
    UnknownRowError,
    UsedIdError,
    add_entry,
    add_study,
    calls_of,
    entries_of,
    new_id,
    open_store,
    read_action,
    study_state,
    undo_entry,
)
from fanlight.store.actions import AcknowledgeCall, OpenCall, PlaceClip, RecordCall, Sign, TakeClipOut
from measure._store_samples import sample_id

PLACED = PlaceClip(clip="a", view="long")
LATER = PlaceClip(clip="a", view="short")


def test_entries_come_back_in_order_with_who_and_when(store: Store, study: str) -> None:
    for action in (PLACED, TakeClipOut(clip="b")):
        add_entry(store, study, action, author="M. Linden", entry=new_id())
    first, second = entries_of(store, study)

    assert (read_action(first), read_action(second)) == (PLACED, TakeClipOut(clip="b"))
    assert (first.author, first.clip, second.clip) == ("M. Linden", "a", "b")
    assert datetime(2026, 11, 25, 8, tzinfo=UTC) < first.at < second.at


def test_a_repeated_request_adds_nothing(store: Store, study: str) -> None:
    once = add_entry(store, study, PLACED, author="M", entry=sample_id("e"))
    again = add_entry(store, study, PLACED, author="M", entry=sample_id("e"))

    assert again == once
    assert entries_of(store, study) == (once,)


def test_an_id_cannot_stand_for_something_else(store: Store, study: str) -> None:
    add_entry(store, study, PLACED, author="M", entry=sample_id("e"))

    with pytest.raises(UsedIdError, match="used before with another payload"):
        add_entry(store, study, LATER, author="M", entry=sample_id("e"))
    with pytest.raises(UsedIdError, match="another author"):
        add_entry(store, study, PLACED, author="N", entry=sample_id("e"))
    assert len(entries_of(store, study)) == 1


def test_undo_and_redo(store: Store, study: str) -> None:
    add_entry(store, study, PLACED, author="M", entry=new_id())
    later = add_entry(store, study, LATER, author="M", entry=new_id())
    undo = undo_entry(store, study, later.id, author="M", entry=new_id())

    assert study_state(store, study).placements == {"a": PLACED}
    undo_entry(store, study, undo.id, author="M", entry=new_id())
    assert study_state(store, study).placements == {"a": LATER}
    assert len(entries_of(store, study)) == 4


def test_two_tabs_that_undo_the_same_entry_undo_it_once(store: Store, study: str) -> None:
    entry = add_entry(store, study, PLACED, author="M", entry=new_id())
    first = undo_entry(store, study, entry.id, author="M", entry=new_id())
    second = undo_entry(store, study, entry.id, author="M", entry=new_id())
    repeated = undo_entry(store, study, entry.id, author="M", entry=first.id)

    assert first == second == repeated
    undo_entry(store, study, first.id, author="M", entry=new_id())
    assert study_state(store, study).placements == {"a": PLACED}


def test_only_an_entry_of_the_study_can_be_undone(store: Store, study: str) -> None:
    other = add_study(store, new_id(), title="other").id
    entry = add_entry(store, other, PLACED, author="M", entry=new_id())

    with pytest.raises(UnknownRowError, match="has no entry"):
        undo_entry(store, study, entry.id, author="M", entry=new_id())
    with pytest.raises(UnknownRowError, match="has no entry"):
        undo_entry(store, study, new_id(), author="M", entry=new_id())


def test_an_entry_needs_its_study_an_author_and_a_uuid(store: Store, study: str) -> None:
    with pytest.raises(UnknownRowError, match="no such study"):
        add_entry(store, new_id(), PLACED, author="M", entry=new_id())
    with pytest.raises(ValueError, match="author must not be empty"):
        add_entry(store, study, PLACED, author=" ", entry=new_id())
    with pytest.raises(ValueError, match="UUID"):
        add_entry(store, study, PLACED, author="M", entry="1")
    assert entries_of(store, study) == ()


def test_a_signature_without_its_document_is_refused(store: Store, study: str) -> None:
    sign = Sign(document=DocumentKind.LETTER, document_id="d", version=1, sha256="x")

    with pytest.raises(RefusedActionError, match="a signature comes with its document"):
        add_entry(store, study, sign, author="M", entry=new_id())


def test_an_entry_that_cannot_be_read_is_named_until_it_is_undone(store: Store, study: str) -> None:
    """As one that a newer program wrote."""
    with store.database.write() as connection:
        connection.exec_driver_sql(
            "INSERT INTO entries (id, study, clip, at, author, action, payload)"
            " VALUES (?, ?, '', ?, 'M', 'dance', '{}')",
            ("e9", study, store.now()),
        )

    with pytest.raises(EntryError, match="entry e9, action 'dance': no action has this name"):
        study_state(store, study)
    undo_entry(store, study, "e9", author="M", entry=new_id())
    assert study_state(store, study).placements == {}


def test_calls_are_recorded_step_by_step(store: Store, study: str) -> None:
    called_at = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)
    call = RecordCall(call="k", whom="Dr Aster", called_at=called_at, said="drain today")
    with pytest.raises(RefusedActionError, match="no call k was opened"):
        add_entry(store, study, call, author="M", entry=new_id())
    for action in (OpenCall(call="k", finding="effusion"), call, AcknowledgeCall(call="k", by_whom="Dr Aster")):
        add_entry(store, study, action, author="M", entry=new_id())
    rows = calls_of(store, study)

    assert [row.step for row in rows] == [CallStep.OPENED, CallStep.MADE, CallStep.ACKNOWLEDGED]
    assert (rows[1].at, rows[1].whom, rows[1].words) == (called_at, "Dr Aster", "drain today")
    assert study_state(store, study).open_calls == ()


def test_undoing_an_acknowledgement_opens_the_call_again_and_keeps_its_row(store: Store, study: str) -> None:
    add_entry(store, study, OpenCall(call="k", finding="effusion"), author="M", entry=new_id())
    add_entry(
        store, study, RecordCall(call="k", whom="w", called_at=datetime.now(tz=UTC), said="s"), author="M",
        entry=new_id(),
    )  # fmt: skip
    heard = add_entry(store, study, AcknowledgeCall(call="k", by_whom="w"), author="M", entry=new_id())
    undo_entry(store, study, heard.id, author="M", entry=new_id())

    assert len(study_state(store, study).open_calls) == 1
    assert len(calls_of(store, study)) == 3


def test_threads_may_share_a_store(store: Store, study: str) -> None:
    def work(k: int) -> str:
        return add_entry(store, study, PlaceClip(clip=f"c{k}", view="v"), author="M", entry=sample_id("e", k)).id

    with ThreadPoolExecutor(4) as pool:
        made = set(pool.map(work, range(24)))

    assert {entry.id for entry in entries_of(store, study)} == made
    assert len(made) == 24


def _open_and_write(folder: Path, who: str) -> list[str]:
    with open_store(folder) as store:
        study = add_study(store, sample_id("both"), title="t").id
        return [
            add_entry(store, study, PlaceClip(clip=f"{who}{k}", view="v"), author=who, entry=new_id()).id
            for k in range(15)
        ]


def test_two_programs_may_make_and_fill_the_same_store(tmp_path: Path) -> None:
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        told = [pool.submit(_open_and_write, tmp_path / "store", who) for who in "ab"]
        made = [key for answer in told for key in answer.result()]

    with open_store(tmp_path / "store") as store:
        entries = entries_of(store, sample_id("both"))
    assert sorted(entry.id for entry in entries) == sorted(made)
    assert len({entry.clip for entry in entries}) == 30
