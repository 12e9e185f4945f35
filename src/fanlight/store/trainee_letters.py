"""The letters that one trainee was sent before a study came, and the parts that were signed with them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sqlalchemy import Row, select

from fanlight.store.action_words import DocumentKind
from fanlight.store.documents import Document, read_document
from fanlight.store.newest_sheet import studies_with_sheets
from fanlight.store.store import Store, need_study
from fanlight.store.tables import DOCUMENTS, STUDIES
from fanlight.study import name_key


def letters_before(store: Store, study: str) -> tuple[tuple[Document, ...], ...]:
    """Return, for each earlier study of the same trainee at the same practice, its letter's versions, newest last.

    Studies are in the order in which they came; those without a signed letter are left out. Empty where the request
    sheet of this study names no trainee.
    """
    whose = studies_with_sheets()
    with store.database.read() as connection:
        place = need_study(connection, study)["seq"]
        mine = connection.execute(whose.where(STUDIES.c.id == study)).first()
        if mine is None or not name_key(mine.trainee):
            return ()
        who = _whose(mine)
        # No database folds names as the rest of the project does (study/names.py).
        before = connection.execute(whose.where(STUDIES.c.seq < place).order_by(STUDIES.c.seq))
        studies = [row.id for row in before if _whose(row) == who]
        signed = select(DOCUMENTS.c.study, DOCUMENTS.c.id).where(
            DOCUMENTS.c.kind == DocumentKind.LETTER.value, DOCUMENTS.c.study.in_(studies)
        )
        rows = connection.execute(signed.order_by(DOCUMENTS.c.version)).all()
    versions = {each: tuple(row.id for row in rows if row.study == each) for each in studies}
    return tuple(_read(store, ids) for ids in versions.values() if ids)


def _whose(row: Row[Any]) -> tuple[str, str]:
    """Return trainee and practice as names are told apart."""
    return name_key(row.trainee), name_key(row.practice)


def _read(store: Store, ids: Iterable[str]) -> tuple[Document, ...]:
    return tuple(read_document(store, each) for each in ids)


def part_bytes(store: Store, document: Document, name: str) -> bytes | None:
    """Return the bytes of one part of a signed paper; None when it was signed without one.

    Raises
    ------
    DamagedError
        When they are no longer as they were written.
    """
    part = next((item for item in document.parts if item.name == name), None)
    return None if part is None else store.originals.read(part.sha256)
