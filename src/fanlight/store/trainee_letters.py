"""The letters that one trainee was sent before a study came, and the parts that were signed with them."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy import select

from fanlight.store.action_words import DocumentKind
from fanlight.store.documents import Document, read_document
from fanlight.store.newest_sheet import studies_with_sheets
from fanlight.store.store import Store, need_study
from fanlight.store.tables import ASSEMBLIES, DOCUMENTS, STUDIES


def letters_before(store: Store, study: str) -> tuple[tuple[Document, ...], ...]:
    """Return, for each earlier study of the same trainee at the same practice, its letter's versions, newest last.

    Studies are in the order in which they came; those without a signed letter are left out. Empty where the request
    sheet of this study names no trainee.
    """
    whose = studies_with_sheets()
    with store.database.read() as connection:
        place = need_study(connection, study)["seq"]
        mine = connection.execute(whose.where(STUDIES.c.id == study)).first()
        if mine is None or not mine.trainee:
            return ()
        same = whose.where(
            STUDIES.c.seq < place, ASSEMBLIES.c.trainee == mine.trainee, ASSEMBLIES.c.practice == mine.practice
        )
        studies = [row.id for row in connection.execute(same.order_by(STUDIES.c.seq))]
        signed = select(DOCUMENTS.c.study, DOCUMENTS.c.id).where(
            DOCUMENTS.c.kind == DocumentKind.LETTER.value, DOCUMENTS.c.study.in_(studies)
        )
        rows = connection.execute(signed.order_by(DOCUMENTS.c.version)).all()
    versions = {each: tuple(row.id for row in rows if row.study == each) for each in studies}
    return tuple(_read(store, ids) for ids in versions.values() if ids)


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
