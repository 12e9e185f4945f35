"""The keys for undo and redo do what an editor's do."""

from datetime import UTC, datetime

from hypothesis import given, settings
from hypothesis import strategies as st

from fanlight.store import DocumentKind, Entry, live_entries, next_redo, next_undo
from fanlight.store.actions import UNDO, Action, PlaceClip, Sign
from fanlight.store.entry import write_action


def _entry(place: int, name: str, payload: str = "{}", undoes: str = "") -> Entry:
    at = datetime(2026, 11, 25, tzinfo=UTC)
    return Entry(
        id=f"e{place}", study="s", clip="", at=at, author="M", action=name, payload=payload, undoes=undoes
    )  # fmt: skip


def _acted(log: list[Entry], action: Action) -> list[Entry]:
    return [*log, _entry(len(log), *write_action(action))]


def _pressed(log: list[Entry], target: Entry | None) -> list[Entry]:
    return log if target is None else [*log, _entry(len(log), UNDO, undoes=target.id)]


@settings(max_examples=150, deadline=None)
@given(st.lists(st.sampled_from(["act", "undo", "redo"]), max_size=24))
def test_undo_and_redo_walk_as_on_two_stacks(keys: list[str]) -> None:
    """The model: undo moves an act from one stack to the other, redo moves it back, an act clears the second."""
    log: list[Entry] = []
    done: list[str] = []
    taken: list[str] = []
    for key in keys:
        if key == "act":
            log = _acted(log, PlaceClip(clip="a", view=f"v{len(log)}"))
            done.append(log[-1].id)
            taken.clear()
        elif key == "undo":
            log = _pressed(log, next_undo(log))
            if done:
                taken.append(done.pop())
        else:
            log = _pressed(log, next_redo(log))
            if taken:
                done.append(taken.pop())

        assert [entry.id for entry in live_entries(log)] == done
        assert (next_undo(log) is None) == (not done)
        assert (next_redo(log) is None) == (not taken)


def test_a_signature_is_the_floor() -> None:
    log = _acted([], PlaceClip(clip="a", view="v"))
    log = _acted(log, Sign(document=DocumentKind.LETTER, document_id="d", version=1, sha256="x"))

    assert next_undo(log) is None
    assert next_undo(_acted(log, PlaceClip(clip="a", view="w"))) is not None
