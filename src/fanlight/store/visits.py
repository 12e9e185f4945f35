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
from fanlight.study import Identity
from fanlight.study.codec import from_bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """One study of an animal and the day of it."""

    study: str  # id
    day: date
    is_day_received: bool  # no file names the day of the examination: it is the day on which the study came


def visits_before(store: Store, study: str, most: int) -> tuple[Visit, ...]:
    """Return the visits of the same animal on days before that of a study, the newest first.

    A re-scan of the same day is no other visit.

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
    days = _days(store, (read_study(store, study), *others))
    found = [days[item.id] for item in others if item.id in days and days[item.id].day < days[study].day]
    return tuple(sorted(found, key=lambda item: item.day, reverse=True)[:most])


def last_assembly(store: Store) -> tuple[int, int]:
    """Return a mark that changes whenever a study comes or its files are read: visits may be others then."""
    with store.database.read() as connection:
        newest = connection.execute(select(func.max(ASSEMBLIES.c.seq))).scalar()
        studies = connection.execute(select(func.max(STUDIES.c.seq))).scalar()
    return newest or 0, studies or 0


def _days(store: Store, studies: Iterable[StoredStudy]) -> dict[str, Visit]:
    """Return the day of each study whose files are known."""
    listed = {item.id: item for item in studies}
    newest = select(func.max(ASSEMBLIES.c.seq)).where(ASSEMBLIES.c.study.in_(listed)).group_by(ASSEMBLIES.c.study)
    with store.database.read() as connection:
        rows = connection.execute(
            select(ASSEMBLIES.c.study, ASSEMBLIES.c.identity).where(ASSEMBLIES.c.seq.in_(newest))
        ).all()
    return {row.study: _visit(listed[row.study], row.identity) for row in rows}


def _visit(study: StoredStudy, identity: str) -> Visit:
    stated = from_bytes(identity.encode(), Identity).examined_at if identity else None
    day = stated.date() if stated is not None else study.made_at.astimezone().date()
    return Visit(study=study.id, day=day, is_day_received=stated is None)
