"""Record of calls about urgent findings: whom, when, what was said, and that it was understood."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from sqlalchemy import Connection, select

from fanlight.store.actions import AcknowledgeCall, Action, OpenCall, RecordCall
from fanlight.store.entry import Entry
from fanlight.store.errors import RefusedActionError
from fanlight.store.store import Store, text_of, time_of
from fanlight.store.tables import CALLS


class CallStep(StrEnum):
    """How far a call has come."""

    OPENED = "opened"
    MADE = "made"
    ACKNOWLEDGED = "acknowledged"


@dataclass(frozen=True, slots=True, kw_only=True)
class CallRow:
    """One step of a call. Stays when its entry is undone: the state then no longer counts it."""

    entry: str
    call: str
    step: CallStep
    at: datetime  # when it was called; else when it was entered
    whom: str  # who was called, or who acknowledged; "" when it was opened
    words: str  # the finding, what was said, or the acknowledgement
    author: str


def keep_call(connection: Connection, study: str, action: Action, entry: Entry) -> None:
    """Write the row of a call's step; do nothing for other actions."""
    match action:
        case OpenCall():
            step, at, whom, words = CallStep.OPENED, entry.at, "", action.finding
        case RecordCall():
            step, at, whom, words = CallStep.MADE, action.called_at, action.whom, action.said
        case AcknowledgeCall():
            step, at, whom, words = CallStep.ACKNOWLEDGED, entry.at, action.by_whom, action.words
        case _:
            return
    opened = select(CALLS.c.seq).where(
        CALLS.c.study == study, CALLS.c.call == action.call, CALLS.c.step == CallStep.OPENED
    )
    if step is not CallStep.OPENED and connection.execute(opened).first() is None:
        found = f"no call {action.call} was opened"
        raise RefusedActionError(f"study {study}", found, "Open the call with the urgent finding first.")
    connection.execute(
        CALLS.insert().values(
            entry=entry.id, study=study, call=action.call, step=step.value, at=text_of(at), whom=whom, words=words,
            author=entry.author,
        )
    )  # fmt: skip


def calls_of(store: Store, study: str) -> tuple[CallRow, ...]:
    """Return every step of every call of a study, in the order in which they were entered."""
    with store.database.read() as connection:
        rows = connection.execute(select(CALLS).where(CALLS.c.study == study).order_by(CALLS.c.seq)).mappings()
        return tuple(
            CallRow(
                entry=row["entry"], call=row["call"], step=CallStep(row["step"]), at=time_of(row["at"]),
                whom=row["whom"], words=row["words"], author=row["author"],
            )
            for row in rows
        )  # fmt: skip
