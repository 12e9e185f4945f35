"""Other studies of the same animal: those of its case, and those whose files name the same animal and practice."""

from __future__ import annotations

from sqlalchemy import Connection, func, select

from fanlight.store.store import Store, need_study
from fanlight.store.studies import StoredStudy, study_of
from fanlight.store.tables import ASSEMBLIES, STUDIES
from fanlight.study import Identity, same_words
from fanlight.study.codec import from_bytes


def earlier_studies(store: Store, study: str) -> tuple[StoredStudy, ...]:
    """Return other studies of the same animal: earlier ones first, the newest of them first, then later ones.

    Files that name no animal or no practice tie nothing together; owners that differ tell two animals apart,
    unless both carry one case number.
    """
    with store.database.read() as connection:
        mine = need_study(connection, study)
        same = _same_animal(connection, study)
        others = select(STUDIES).where(
            (STUDIES.c.thread == mine["thread"]) | STUDIES.c.id.in_(same), STUDIES.c.id != study
        )
        rows = connection.execute(others.order_by(STUDIES.c.seq)).mappings().all()
    before = [row for row in rows if row["seq"] < mine["seq"]]
    after = [row for row in rows if row["seq"] > mine["seq"]]
    return tuple(study_of(row) for row in (*reversed(before), *after))


def _same_animal(connection: Connection, study: str) -> list[str]:
    newest = select(func.max(ASSEMBLIES.c.seq)).where(ASSEMBLIES.c.study == study).scalar_subquery()
    mine = connection.execute(select(ASSEMBLIES.c.identity).where(ASSEMBLIES.c.seq == newest)).scalar()
    who = from_bytes(mine.encode(), Identity) if mine else Identity()
    if not who.animal_name.strip() or not who.practice.strip():
        return []
    there = select(ASSEMBLIES.c.study, ASSEMBLIES.c.identity).where(ASSEMBLIES.c.practice == who.practice.strip())
    # A practice may have thousands of studies: only rows whose text holds the plain words of the name are opened.
    plain = [word for word in who.animal_name.casefold().replace(",", " ").split() if word.isascii() and word.isalnum()]
    return sorted(
        {
            row.study
            for row in connection.execute(there)
            if all(word in row.identity.casefold() for word in plain)
            if row.identity and _is_same(who, from_bytes(row.identity.encode(), Identity))
        }
    )


def _is_same(one: Identity, other: Identity) -> bool:
    if not same_words(one.animal_name, other.animal_name):
        return False
    is_one_case = bool(one.case_number.strip()) and one.case_number.strip() == other.case_number.strip()
    is_stated = bool(one.owner.strip(" ,")) and bool(other.owner.strip(" ,"))
    return is_one_case or not is_stated or same_words(one.owner, other.owner)
