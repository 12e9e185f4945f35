"""What is said between practice and mentor, on the thread of a case."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, RowMapping, select

from fanlight.store.action_words import MessageKind
from fanlight.store.errors import UnknownRowError
from fanlight.store.store import Store, checked_id, insert_once, need_study, row_by_id, time_of
from fanlight.store.tables import MESSAGES


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """One message. Never changed; a correction is another one."""

    id: str
    study: str  # the study of the thread that it is about
    thread: str
    at: datetime
    kind: MessageKind
    author: str
    words: str
    answers: str  # id of the message that this one answers; "" for none


def add_message(
    store: Store, study: str, kind: MessageKind, words: str, *, author: str, message: str, answers: str = ""
) -> Message:
    """Put a message on the thread of a study; a repeated request adds nothing.

    Parameters
    ----------
    message : str
        UUID that the page made.
    answers : str
        Id of a message of the same thread.
    """
    message = checked_id(message)
    if not author.strip():
        raise ValueError("author must not be empty; enter a name first")
    with store.database.write() as connection:
        return write_message(store, connection, study, kind, words, author=author, message=message, answers=answers)


def write_message(
    store: Store, connection: Connection, study: str, kind: MessageKind, words: str, *, author: str, message: str,
    answers: str,
) -> Message:  # fmt: skip
    """Put a message on the thread within a transaction."""
    thread = need_study(connection, study)["thread"]
    if answers:
        question = row_by_id(connection, MESSAGES, answers)
        if question is None or question["thread"] != thread:
            raise UnknownRowError(f"study {study}", f"its thread has no message {answers}", "Load the study anew.")
    said = {"study": study, "thread": thread, "kind": kind.value, "author": author, "words": words,
            "answers": answers or None}  # fmt: skip
    insert_once(connection, MESSAGES, message, said, {"at": store.now()})
    row = row_by_id(connection, MESSAGES, message)
    assert row is not None
    return message_of(row)


def messages_of(store: Store, study: str) -> tuple[Message, ...]:
    """Return all messages of the case that a study belongs to, oldest first."""
    with store.database.read() as connection:
        thread = need_study(connection, study)["thread"]
        rows = connection.execute(select(MESSAGES).where(MESSAGES.c.thread == thread).order_by(MESSAGES.c.seq))
        return tuple(message_of(row) for row in rows.mappings())


def message_of(row: RowMapping) -> Message:
    """Return the message that a row holds."""
    return Message(
        id=row["id"],
        study=row["study"],
        thread=row["thread"],
        at=time_of(row["at"]),
        kind=MessageKind(row["kind"]),
        author=row["author"],
        words=row["words"],
        answers=row["answers"] or "",
    )
