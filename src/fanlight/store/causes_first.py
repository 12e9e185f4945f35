"""What was said of causes before proposals were shown, and which acts end that for a study. Taken from the log alone.

What is written after the first of these acts never counts as said before, whatever is taken back later: the proposals
were seen. What was said before stays as it was at that moment, also when somebody takes it back afterwards.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import takewhile

from sqlalchemy import select

from fanlight.store.actions import NAMES
from fanlight.store.cause_actions import SayCauses, UncoverStudy
from fanlight.store.clip_actions import AcceptFinding, AcceptFindings, JudgeBlind, OverruleFinding
from fanlight.store.entry import Entry, read_action
from fanlight.store.log import entries_of
from fanlight.store.newest_sheet import studies_with_sheets
from fanlight.store.packed import unpack
from fanlight.store.paper_actions import ChooseCorrection, JudgeChange, OrderCorrections
from fanlight.store.state import live_entries
from fanlight.store.store import Store
from fanlight.store.tables import ENTRIES, REVIEWS, STUDIES
from fanlight.study import StudyReview
from fanlight.study.codec import to_bytes

# Acts that uncover a study, or can only be about a proposal that was seen.
_ENDS = (
    UncoverStudy, AcceptFinding, AcceptFindings, OverruleFinding, JudgeBlind, ChooseCorrection, OrderCorrections,
    JudgeChange,
)  # fmt: skip
ENDS_COVER = frozenset(name for name, kind in NAMES.items() if kind in _ENDS)
_SAYS = next(name for name, kind in NAMES.items() if kind is SayCauses)


@dataclass(frozen=True, slots=True, kw_only=True)
class SaidFirst:
    """What was said of causes while a study was covered, and by whom."""

    said: SayCauses
    entry: Entry


@dataclass(frozen=True, slots=True, kw_only=True)
class BlindStudy:
    """One study that was judged before its proposals were shown."""

    study: str
    trainee: str
    practice: str
    first: SaidFirst
    engine: tuple[str, ...] | None  # causes of the draft that was covered; None: no kept draft has its digest


def is_seen(entries: Iterable[Entry]) -> bool:
    """Return whether the proposals of a study were shown, by the log, whether that act was taken back or not."""
    return any(entry.action in ENDS_COVER for entry in entries)


def said_first(entries: Iterable[Entry]) -> SaidFirst | None:
    """Return what was said last before the proposals were shown and was not taken back by then; None: nothing was."""
    before = takewhile(lambda entry: entry.action not in ENDS_COVER, entries)
    for entry in reversed(live_entries(before)):
        if entry.action == _SAYS:
            action = read_action(entry)
            assert isinstance(action, SayCauses)
            return SaidFirst(said=action, entry=entry)
    return None


def digest_of(review: StudyReview) -> str:
    """Return a digest of the causes and corrections of a draft: which ones were not shown can be told by it later."""
    return hashlib.sha256(to_bytes((review.causes, review.corrections))).hexdigest()


def blind_studies(store: Store) -> tuple[BlindStudy, ...]:
    """Return all studies of which somebody spoke of the causes first, in the order in which they came."""
    spoken = select(ENTRIES.c.study).where(ENTRIES.c.action == _SAYS).distinct()
    wanted = studies_with_sheets().where(STUDIES.c.id.in_(spoken)).order_by(STUDIES.c.seq)
    with store.database.read() as connection:
        rows = connection.execute(wanted).all()
    found = []
    for row in rows:
        first = said_first(entries_of(store, row.id))
        if first is not None:
            engine = _covered_causes(store, row.id, first.said.not_shown)
            found.append(
                BlindStudy(study=row.id, trainee=row.trainee, practice=row.practice, first=first, engine=engine)
            )
    return tuple(found)


def _covered_causes(store: Store, study: str, digest: str) -> tuple[str, ...] | None:
    """Return the causes of the draft that has this digest; drafts are kept for ever, and one may be read anew."""
    drafts = select(REVIEWS.c.value).where(REVIEWS.c.study == study).order_by(REVIEWS.c.seq.desc())
    with store.database.read() as connection:
        values = [bytes(value) for value in connection.execute(drafts).scalars()]
    for value in values:
        draft = unpack(value, StudyReview)
        if draft is not None and digest_of(draft) == digest:
            return tuple(item.cause for item in draft.causes)
    return None
