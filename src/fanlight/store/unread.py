"""What came after the newest draft was begun: files, a request sheet, scales, modes. The draft does not rest on it."""

from __future__ import annotations

from typing import Any

from sqlalchemy import ColumnElement, ScalarSelect, and_, exists, func, or_, select

from fanlight.store.actions import UNDO
from fanlight.store.store import Store
from fanlight.store.tables import ENTRIES, FILES, REVIEWS, STANDING, STUDIES

_SCALES = ("set scale", "set strip scale", "name mode")  # acts by which a clip is read otherwise


def moment(store: Store, study: str) -> str:
    """Return the moment from which on nothing that comes for a study was seen; ask before looking at what is there.

    In a write of its own: what was being written is there when this returns. A clock that was set back does not make
    it earlier than what is there.
    """
    with store.database.write() as connection:
        file = connection.execute(select(func.max(FILES.c.received_at)).where(FILES.c.study == study)).scalar()
        entry = connection.execute(select(func.max(ENTRIES.c.at)).where(ENTRIES.c.study == study)).scalar()
        return max(store.now(), file or "", entry or "")


def unread_files(store: Store, study: str) -> frozenset[str]:
    """Return the names of files that came after the newest draft was begun; of all files when there is no draft."""
    begun_at = select(REVIEWS.c.at).where(REVIEWS.c.study == study).order_by(REVIEWS.c.seq.desc()).limit(1)
    with store.database.read() as connection:
        at = connection.execute(begun_at).scalar() or ""
        names = select(FILES.c.name).where(FILES.c.study == study, FILES.c.received_at > at)
        return frozenset(connection.execute(names).scalars())


def is_unread(store: Store, study: str) -> bool:
    """Return whether a study has files, and no draft that rests on all of them and on all scales."""
    with store.database.read() as connection:
        return connection.execute(select(STUDIES.c.id).where(STUDIES.c.id == study, unread_of())).first() is not None


def unread_studies(store: Store) -> tuple[str, ...]:
    """Return the studies that are to be read, in the order of the list; what was closed unread is left alone."""
    wanted = select(STUDIES.c.id).join(STANDING, STANDING.c.study == STUDIES.c.id)
    wanted = wanted.where(unread_of(), or_(~STANDING.c.is_closed, _begun_at().is_not(None)))
    with store.database.read() as connection:
        order = (STANDING.c.is_closed, STANDING.c.rank, STANDING.c.made_at, STANDING.c.study)
        return tuple(connection.execute(wanted.order_by(*order)).scalars())


def unread_of() -> ColumnElement[bool]:
    """Return the condition on a row of `studies` that it has files, and something that its newest draft lacks."""
    newest_file = select(FILES.c.received_at).where(FILES.c.study == STUDIES.c.id).order_by(FILES.c.seq.desc()).limit(1)
    begun = _begun_at()
    target = ENTRIES.alias()
    # An undo of an undo may bring a scale back: reading once too often does no harm.
    is_scale = or_(
        ENTRIES.c.action.in_(_SCALES),
        and_(
            ENTRIES.c.action == UNDO,
            exists().where(target.c.id == ENTRIES.c.undoes, target.c.action.in_((*_SCALES, UNDO))),
        ),
    )
    newer_scale = exists().where(ENTRIES.c.study == STUDIES.c.id, ENTRIES.c.at > begun, is_scale)
    came = newest_file.scalar_subquery()
    return and_(came.is_not(None), or_(begun.is_(None), came > begun, newer_scale))


def _begun_at() -> ScalarSelect[Any]:
    begun = select(REVIEWS.c.at).where(REVIEWS.c.study == STUDIES.c.id).order_by(REVIEWS.c.seq.desc()).limit(1)
    return begun.correlate(STUDIES).scalar_subquery()
