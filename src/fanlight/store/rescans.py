"""Requests for more images, and the re-scans that answer them."""

from __future__ import annotations

import uuid
from collections.abc import Iterable

from sqlalchemy import Connection, Select, select

from fanlight.store.action_words import MessageKind
from fanlight.store.messages import Message, message_of, write_message
from fanlight.store.store import Store, need_study
from fanlight.store.tables import MESSAGES, STUDIES

BY_ITSELF = "Fanlight"  # stands as the author of what no person wrote
# Ids of what is written by itself are made from what it is about, so that twice adds nothing.
_RESCANS = uuid.UUID("5d2c4b0e-7c3b-5b1e-8f4a-2f6d9a1c0b77")


def open_requests(store: Store, studies: Iterable[str]) -> dict[str, tuple[Message, ...]]:
    """Return, by study, the requests for more images about it that no re-scan has answered, oldest first."""
    these = tuple(studies)
    threads = select(STUDIES.c.thread).where(STUDIES.c.id.in_(these))
    asked = _unanswered().where(MESSAGES.c.thread.in_(threads), MESSAGES.c.study.in_(these))
    found: dict[str, tuple[Message, ...]] = {}
    with store.database.read() as connection:
        rows = connection.execute(asked).mappings().all()
    for row in rows:
        found[row["study"]] = (*found.get(row["study"], ()), message_of(row))
    return found


def _unanswered() -> Select[*tuple[object, ...]]:
    answer = MESSAGES.alias()
    is_answered = (
        select(answer.c.seq)
        .where(answer.c.thread == MESSAGES.c.thread, answer.c.answers == MESSAGES.c.id)
        .where(answer.c.kind == MessageKind.RESCAN.value)
        .exists()
    )
    asked = MESSAGES.c.kind == MessageKind.MORE_IMAGES.value
    return select(MESSAGES).where(asked, ~is_answered).order_by(MESSAGES.c.seq)


def note_rescan(store: Store, study: str) -> tuple[Message, ...]:
    """Say on the thread that a study answers what was asked for before it came; twice adds nothing.

    Returns the messages that are new. A study that answers no other gives none.
    """
    with store.database.write() as connection:
        row = need_study(connection, study)
        if not row["parent"] or _was_noted(connection, study):
            return ()
        before = STUDIES.alias()
        older = select(before.c.id).where(before.c.thread == row["thread"], before.c.seq < row["seq"])
        asked = _unanswered().where(MESSAGES.c.thread == row["thread"], MESSAGES.c.at < row["made_at"])
        asked = asked.where(MESSAGES.c.study.in_(older))
        answered = [item["id"] for item in connection.execute(asked).mappings().all()]
        words = f"{row['title'] or 'A re-scan'} came."
        return tuple(
            write_message(
                store, connection, study, MessageKind.RESCAN, words, author=BY_ITSELF,
                message=str(uuid.uuid5(_RESCANS, f"{study} {request}")), answers=request,
            )
            for request in answered or [""]
        )  # fmt: skip


def _was_noted(connection: Connection, study: str) -> bool:
    said = select(MESSAGES.c.seq).where(MESSAGES.c.study == study, MESSAGES.c.kind == MessageKind.RESCAN.value)
    return connection.execute(said.where(MESSAGES.c.author == BY_ITSELF).limit(1)).first() is not None
