"""Earlier visits of the same animal: its other studies, by the day on which it was examined."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from sqlalchemy import func, select

from fanlight.store.earlier import earlier_studies
from fanlight.store.store import Store
from fanlight.store.studies import StoredStudy, read_study
from fanlight.store.tables import ASSEMBLIES, STUDIES
from fanlight.study import Identity, same_words
from fanlight.study.codec import from_bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """One study of an animal and the day of it."""

    study: str  # id
    day: date
    is_day_received: bool  # no file names the day of the examination: it is the day on which the study came


def visits_before(store: Store, study: str, most: int) -> tuple[Visit, ...]:
    """Return the visits of the same animal on days before that of a study, the newest first.

    A re-scan of the same day is no other visit. Numbers are held against each other, so more is asked than for laying
    pictures side by side: the same case, or a case number or an owner that both state and that is the same. Of a study
    whose files do not name its day nobody knows what came before it: it has no earlier visit.

    Parameters
    ----------
    store : Store
    study : str
        Id.
    most : int
        So many at most.
    """
    others = earlier_studies(store, study)
    if not others:
        return ()
    own = read_study(store, study)
    known = _identities(store, (own, *others))
    mine = known.get(study)
    if mine is None or mine.examined_at is None:
        return ()
    found = [
        _visit(item, known[item.id])
        for item in others
        if item.id in known and _is_surely_same(mine, known[item.id], is_one_case=item.thread == own.thread)
    ]
    before = [item for item in found if item.day < mine.examined_at.date()]
    return tuple(sorted(before, key=lambda item: item.day, reverse=True)[:most])


def last_assembly(store: Store) -> tuple[int, int]:
    """Return a mark that changes whenever a study comes or its files are read: visits may be others then."""
    with store.database.read() as connection:
        newest = connection.execute(select(func.max(ASSEMBLIES.c.seq))).scalar()
        studies = connection.execute(select(func.max(STUDIES.c.seq))).scalar()
    return newest or 0, studies or 0


def _identities(store: Store, studies: Iterable[StoredStudy]) -> dict[str, Identity]:
    """Return who each study is of, where its files are known."""
    listed = [item.id for item in studies]
    newest = select(func.max(ASSEMBLIES.c.seq)).where(ASSEMBLIES.c.study.in_(listed)).group_by(ASSEMBLIES.c.study)
    with store.database.read() as connection:
        rows = connection.execute(
            select(ASSEMBLIES.c.study, ASSEMBLIES.c.identity).where(ASSEMBLIES.c.seq.in_(newest))
        ).all()
    return {row.study: from_bytes(row.identity.encode(), Identity) if row.identity else Identity() for row in rows}


def _is_surely_same(one: Identity, other: Identity, *, is_one_case: bool) -> bool:
    """Whether two studies are of one animal; what both state and differs in tells them apart whatever else is alike."""
    names, numbers, owners = (
        [text.strip(" ,") for text in pair]
        for pair in (
            (one.animal_name, other.animal_name), (one.case_number, other.case_number), (one.owner, other.owner),
        )
    )  # fmt: skip
    if all(names) and not same_words(*names):
        return False
    if all(numbers):
        return numbers[0] == numbers[1]
    return is_one_case or (all(owners) and same_words(*owners))


def _visit(study: StoredStudy, who: Identity) -> Visit:
    stated = who.examined_at
    day = stated.date() if stated is not None else study.made_at.astimezone().date()
    return Visit(study=study.id, day=day, is_day_received=stated is None)
