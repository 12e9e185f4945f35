"""A request for more images waits until a re-scan answers it; both can be found from each other."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

from fanlight.store import (
    Message,
    MessageKind,
    Store,
    add_message,
    add_study,
    messages_of,
    new_id,
    note_rescan,
    open_requests,
    open_store,
)


def _ask(store: Store, study: str, words: str = "Once more, deeper.") -> Message:
    return add_message(store, study, MessageKind.MORE_IMAGES, words, author="M. Linden", message=new_id())


def test_a_rescan_answers_what_was_asked_for_before_it_came(store: Store) -> None:
    first = add_study(store, new_id(), title="Juno").id
    asked = _ask(store, first)
    again = add_study(store, new_id(), title="Juno, 3 March", parent=first).id
    assert open_requests(store, (first, again)) == {first: (asked,)}
    said = note_rescan(store, again)

    assert [(item.kind, item.study, item.answers) for item in said] == [(MessageKind.RESCAN, again, asked.id)]
    assert open_requests(store, (first, again)) == {}
    assert note_rescan(store, again) == ()
    assert messages_of(store, first) == (asked, *said) == messages_of(store, again)


def test_two_requests_are_answered_by_one_rescan_and_a_later_one_waits(store: Store) -> None:
    first = add_study(store, new_id(), title="Juno").id
    both = [_ask(store, first, words) for words in ("deeper", "the apex")]
    again = add_study(store, new_id(), title="again", parent=first).id
    later = _ask(store, first, "and colour")

    assert [item.answers for item in note_rescan(store, again)] == [item.id for item in both]
    assert open_requests(store, (first,)) == {first: (later,)}


def test_a_reply_is_no_rescan(store: Store) -> None:
    first = add_study(store, new_id(), title="Juno").id
    asked = _ask(store, first)
    add_message(store, first, MessageKind.REPLY, "Tomorrow.", author="T", message=new_id(), answers=asked.id)

    assert open_requests(store, (first,)) == {first: (asked,)}


def test_a_rescan_that_nobody_asked_for_is_told_too_and_a_new_study_is_not(store: Store) -> None:
    first = add_study(store, new_id(), title="Juno").id
    again = add_study(store, new_id(), title="", parent=first).id

    assert note_rescan(store, first) == ()
    assert [(item.answers, item.words) for item in note_rescan(store, again)] == [("", "A re-scan came.")]


def test_other_cases_are_not_answered(store: Store) -> None:
    first, other = (add_study(store, new_id(), title=title).id for title in ("Juno", "Bruno"))
    asked = _ask(store, other)
    note_rescan(store, add_study(store, new_id(), title="again", parent=first).id)

    assert open_requests(store, (first, other)) == {other: (asked,)}


def test_times_are_compared_as_moments(tmp_path: Path) -> None:
    """A request in the very moment after the study was made is not answered by it."""
    now = [datetime(2026, 3, 3, 9, 59, 59, 999_999, tzinfo=UTC)]
    with open_store(tmp_path, clock=lambda: now[0]) as store:
        first = add_study(store, new_id(), title="Juno").id
        again = add_study(store, new_id(), title="again", parent=first).id
        now[0] += timedelta(microseconds=1)
        asked = _ask(store, first)
        note_rescan(store, again)

        assert open_requests(store, (first,)) == {first: (asked,)}
