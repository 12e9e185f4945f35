"""Which causes the drafts of all studies name, with trainee and practice: what several hands have in common."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import func, select

from fanlight.store.action_words import ChangeWord
from fanlight.store.feed import latest_review
from fanlight.store.log import study_state
from fanlight.store.store import Store
from fanlight.store.tables import ASSEMBLIES, STUDIES
from fanlight.study import CauseFound


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyCauses:
    """The causes that the newest draft of one study names, less those of which a mentor threw the change out."""

    study: str
    trainee: str
    practice: str
    causes: tuple[CauseFound, ...] | None  # None: not read yet, or to be read anew by this version


def causes_by_study(store: Store) -> tuple[StudyCauses, ...]:
    """Return all studies of which the files are known, in the order in which they came; drafts are read one by one."""
    sheet = ASSEMBLIES.alias()
    newest_sheet = select(func.max(sheet.c.seq)).where(sheet.c.study == STUDIES.c.id).scalar_subquery()
    sheets = (
        select(STUDIES.c.id, ASSEMBLIES.c.trainee, ASSEMBLIES.c.practice)
        .select_from(STUDIES.join(ASSEMBLIES, ASSEMBLIES.c.seq == newest_sheet))
        .order_by(STUDIES.c.seq)
    )
    with store.database.read() as connection:
        rows = connection.execute(sheets).all()
    return tuple(
        StudyCauses(study=row.id, trainee=row.trainee, practice=row.practice, causes=_causes(store, row.id))
        for row in rows
    )


def _causes(store: Store, study: str) -> tuple[CauseFound, ...] | None:
    draft = latest_review(store, study)
    if draft is None:
        return None
    said = study_state(store, study).changes
    return tuple(
        item
        for item in draft.causes
        if (word := said.get(item.cause)) is None or word.word is not ChangeWord.THROWN_OUT
    )
