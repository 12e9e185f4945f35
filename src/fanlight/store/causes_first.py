"""What was said of causes before proposals were shown, and which acts end that for a study. Taken from the log alone.

What is written after the first of these acts never counts as said before, whatever is taken back later: the proposals
were seen. What was said before stays as it was at that moment, also when somebody takes it back afterwards.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import takewhile

from sqlalchemy import select

from fanlight.store.actions import NAMES, Action
from fanlight.store.cause_actions import SayCauses, UncoverStudy
from fanlight.store.clip_actions import AcceptFinding, AcceptFindings, JudgeBlind, OverruleFinding
from fanlight.store.entry import Entry, read_action
from fanlight.store.log import entries_of
from fanlight.store.mark_actions import DrawMark
from fanlight.store.newest_sheet import studies_with_sheets
from fanlight.store.packed import unpack
from fanlight.store.paper_actions import ChooseCorrection, JudgeChange, OrderCorrections, Sign
from fanlight.store.state import live_entries
from fanlight.store.store import Store
from fanlight.store.tables import ENTRIES, REVIEWS, STUDIES
from fanlight.study import StudyReview
from fanlight.study.codec import to_bytes

# Acts that uncover a study, can only be about a proposal that was seen, or close the work on it: who signs a study that
# was opened while nothing was covered has had its proposals before the eyes, and the log tells no better.
_ENDS = (
    UncoverStudy, AcceptFinding, AcceptFindings, OverruleFinding, JudgeBlind, ChooseCorrection, OrderCorrections,
    JudgeChange, Sign,
)  # fmt: skip
_END_NAMES = frozenset(name for name, kind in NAMES.items() if kind in _ENDS)
_SAYS = next(name for name, kind in NAMES.items() if kind is SayCauses)
_DRAWS = next(name for name, kind in NAMES.items() if kind is DrawMark)


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
    engine: (
        tuple[str, ...] | None
    )  # causes that the covered draft held more likely than not; None: no such draft is kept


def ends_cover(action: Action) -> bool:
    """Return whether an act shows the proposals of a study, or tells that they were seen."""
    return isinstance(action, _ENDS) or (isinstance(action, DrawMark) and action.proposed_spread_px is not None)


def _ends(entry: Entry) -> bool:
    """Return the same of an act in the log: also of one that was taken back, which no other reader looks into."""
    if entry.action == _DRAWS:
        return json.loads(entry.payload).get("proposed_spread_px") is not None
    return entry.action in _END_NAMES


def is_seen(entries: Iterable[Entry]) -> bool:
    """Return whether the proposals of a study were shown, by the log, whether that act was taken back or not."""
    return any(_ends(entry) for entry in entries)


def said_first(entries: Iterable[Entry]) -> SaidFirst | None:
    """Return what was said last before the proposals were shown and was not taken back by then; None: nothing was."""
    before = takewhile(lambda entry: not _ends(entry), entries)
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
