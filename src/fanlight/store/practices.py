"""Which causes the drafts of all studies name, with trainee and practice: what several hands have in common."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.store.action_words import ChangeWord
from fanlight.store.feed import latest_review
from fanlight.store.log import study_state
from fanlight.store.newest_sheet import studies_with_sheets
from fanlight.store.store import Store
from fanlight.store.tables import STUDIES
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
    with store.database.read() as connection:
        rows = connection.execute(studies_with_sheets().order_by(STUDIES.c.seq)).all()
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
