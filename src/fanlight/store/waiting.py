"""Lists of studies: those that wait, and those that are closed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Integer, RowMapping, ScalarSelect, Select, Text, bindparam, func, select, tuple_

from fanlight.store.action_words import Fate, Party
from fanlight.store.store import Store, time_of
from fanlight.store.tables import ASSEMBLIES, FATES, FILES, READINGS, REVIEWS, STANDING, STUDIES
from fanlight.store.unread import unread_of
from fanlight.study import Identity, Patient
from fanlight.study.codec import from_bytes

PAGE = 25  # engineering judgement: a screen's worth of lines


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedStudy:
    """One line of a list."""

    id: str
    title: str
    made_at: datetime
    parent: str
    thread: str
    urgent_said_by: Party | None  # None: nobody flagged it, which never means that nothing is urgent
    urgent_reason: str
    trainee: str  # "" for a plain second reading
    identity: Identity
    patient: Patient
    n_files: int
    n_refused: int  # files and members of a zip
    n_clips: int
    n_read: int
    has_draft: bool
    is_unread: bool  # it has files, and no draft that rests on all of them and on all scales


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyPage:
    """Some lines of a list, and where the next ones begin."""

    studies: tuple[ListedStudy, ...]
    n_all: int
    after: str  # give it for the next page; "" on the last


def waiting_studies(store: Store, *, limit: int = PAGE, after: str = "") -> StudyPage:
    """Return studies that are not closed: flagged urgent by people first, then by age, oldest first.

    Parameters
    ----------
    limit : int
        Lines on a page.
    after : str
        `StudyPage.after` of the page before.
    """
    return _page(store, False, limit, after)


def closed_studies(store: Store, *, limit: int = PAGE, after: str = "") -> StudyPage:
    """Return studies whose papers are signed and whose calls are acknowledged, in the same order."""
    return _page(store, True, limit, after)


def _page(store: Store, is_closed: bool, limit: int, after: str) -> StudyPage:
    if limit < 1:
        raise ValueError(f"limit must be 1 or more, got {limit}")
    place = (STANDING.c.rank, STANDING.c.made_at, STANDING.c.study)
    kept = STANDING.c.is_closed == is_closed
    lines = select(STANDING).where(kept).order_by(*place).limit(limit + 1)
    if after:
        rank, made_at, study = _cursor(after)
        here = (bindparam(None, rank, Integer), bindparam(None, made_at, Text), bindparam(None, study, Text))
        lines = lines.where(tuple_(*place) > tuple_(*here))
    with store.database.read() as connection:
        n_all = connection.execute(select(func.count()).select_from(STANDING).where(kept)).scalar_one()
        keys = connection.execute(lines).mappings().all()
        shown = [row["study"] for row in keys[:limit]]
        found = {row["id"]: row for row in connection.execute(_FACTS, {"studies": shown}).mappings()}
    last = keys[limit - 1] if len(keys) > limit else None
    return StudyPage(
        studies=tuple(_line(found[row["study"]], row) for row in keys[:limit]),
        n_all=n_all,
        after=f"{last['rank']} {last['made_at']} {last['study']}" if last else "",
    )


def _cursor(after: str) -> tuple[int, str, str]:
    try:
        rank, made_at, study = after.split(" ")
        return int(rank), made_at, study
    except ValueError:
        raise ValueError(f"after must come from the page before, got {after!r}") from None


def _facts() -> Select[*tuple[Any, ...]]:
    each = ASSEMBLIES.alias()
    newest = select(func.max(each.c.seq)).where(each.c.study == STUDIES.c.id).scalar_subquery()
    files = select(func.count()).select_from(FILES).where(FILES.c.study == STUDIES.c.id).scalar_subquery()
    refused = _refused()
    read = select(func.count(READINGS.c.clip.distinct())).where(READINGS.c.study == STUDIES.c.id).scalar_subquery()
    drafts = select(func.count()).select_from(REVIEWS).where(REVIEWS.c.study == STUDIES.c.id).scalar_subquery()
    return (
        select(
            STUDIES, ASSEMBLIES.c.n_clips, ASSEMBLIES.c.trainee, ASSEMBLIES.c.identity, ASSEMBLIES.c.patient,
            files.label("n_files"), refused.label("n_refused"), read.label("n_read"), drafts.label("n_drafts"),
            unread_of().label("is_unread"),
        )
        .select_from(STUDIES.outerjoin(ASSEMBLIES, ASSEMBLIES.c.seq == newest))
        .where(STUDIES.c.id.in_(bindparam("studies", expanding=True)))
    )  # fmt: skip


def _refused() -> ScalarSelect[Any]:
    """Return how many files were refused and not read since."""
    later = FATES.alias()
    was_read = select(later.c.seq).where(
        later.c.study == FATES.c.study, later.c.name == FATES.c.name, later.c.seq > FATES.c.seq,
        later.c.fate == Fate.PROBED.value,
    )  # fmt: skip
    refused = select(func.count(FATES.c.name.distinct())).where(
        FATES.c.study == STUDIES.c.id, FATES.c.fate == Fate.REFUSED.value, ~was_read.exists()
    )
    return refused.scalar_subquery()


_FACTS = _facts()


def _line(row: RowMapping, standing: RowMapping) -> ListedStudy:
    return ListedStudy(
        id=row["id"],
        title=row["title"],
        made_at=time_of(row["made_at"]),
        parent=row["parent"] or "",
        thread=row["thread"],
        urgent_said_by=Party(standing["said_by"]) if standing["said_by"] else None,
        urgent_reason=standing["reason"],
        trainee=row["trainee"] or "",
        identity=from_bytes(row["identity"].encode(), Identity) if row["identity"] else Identity(),
        patient=from_bytes(row["patient"].encode(), Patient) if row["patient"] else Patient(),
        n_files=row["n_files"],
        n_refused=row["n_refused"],
        n_clips=row["n_clips"] or 0,
        n_read=row["n_read"],
        has_draft=row["n_drafts"] > 0,
        is_unread=bool(row["is_unread"]),
    )
