"""The letters that one trainee was sent before a study came, and the parts that were signed with them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sqlalchemy import Row, select, tuple_

from fanlight.store.action_words import DocumentKind
from fanlight.store.documents import Document, read_document
from fanlight.store.newest_sheet import studies_with_sheets
from fanlight.store.store import Store, need_study
from fanlight.store.tables import ASSEMBLIES, DOCUMENTS, STUDIES
from fanlight.study import name_key

_SPELLED = tuple_(ASSEMBLIES.c.trainee, ASSEMBLIES.c.practice)


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


def last_letter(store: Store, study: str) -> Document | None:
    """Return the newest letter to the same trainee at the same practice, about an earlier study; None without one.

    What it asked for lies in the state of its study: `study_state(store, letter.study)`.
    """
    with store.database.read() as connection:
        need_study(connection, study)
    return last_letters(store, (study,)).get(study)


def last_letters(store: Store, studies: Iterable[str]) -> dict[str, Document]:
    """Return the last letter of each study that has one, as `last_letter` does; names are told apart by `name_key`."""
    sheets = studies_with_sheets()
    with store.database.read() as connection:
        mine = connection.execute(sheets.where(STUDIES.c.id.in_(tuple(studies)))).all()
        people = {_whose(row) for row in mine if name_key(row.trainee)}
        spelled = connection.execute(select(ASSEMBLIES.c.trainee, ASSEMBLIES.c.practice).distinct()).all()
        ways = [tuple(who) for who in spelled if tuple(map(name_key, who)) in people]
        # Letters first: few studies of many have one, and a list must not read the sheets of all.
        letters = connection.execute(
            sheets.join(DOCUMENTS, DOCUMENTS.c.study == STUDIES.c.id)
            .add_columns(DOCUMENTS.c.id.label("letter"))
            .where(DOCUMENTS.c.kind == DocumentKind.LETTER.value, _SPELLED.in_(ways))
            .order_by(STUDIES.c.seq, DOCUMENTS.c.version)
        ).all()
    written = [(each.seq, _whose(each), each.letter) for each in letters]
    newest = {
        row.id: [letter for seq, whose, letter in written if seq < row.seq and whose == _whose(row)][-1:]
        for row in mine
    }
    return {study: read_document(store, found[0]) for study, found in newest.items() if found}


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
