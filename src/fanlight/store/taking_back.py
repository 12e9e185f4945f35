"""Which entry the keys for undo and redo mean. Pure: the log in, an entry out."""

from __future__ import annotations

from collections.abc import Iterable

from fanlight.store.entry import Entry
from fanlight.store.state import live_entries, live_undos

SIGN = "sign"


def next_undo(entries: Iterable[Entry]) -> Entry | None:
    """Return the newest act that holds and can be taken back; None when there is none.

    What was signed stays, and so does what was done before it: a signature is the floor.
    """
    live = live_entries(entries)
    return live[-1] if live and live[-1].action != SIGN else None


def next_redo(entries: Iterable[Entry]) -> Entry | None:
    """Return the undo that is to be undone, the last one first; None when nothing was taken back since the last act."""
    log = list(entries)
    acts = {entry.id for entry in log if not entry.undoes}
    since = max((place for place, entry in enumerate(log) if not entry.undoes), default=-1)
    undos = {undo.id for target, undo in live_undos(log).items() if target in acts}
    return next((entry for entry in reversed(log[since + 1 :]) if entry.id in undos), None)
