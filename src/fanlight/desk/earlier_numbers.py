"""Numbers of earlier visits of the same animal, as they stand there: laid beside a draft, so that change is told."""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

from fanlight.desk.as_left import as_left
from fanlight.desk.blind import hidden_of
from fanlight.desk.decided import for_papers, for_screen
from fanlight.store import Visit, entries_of, fold, last_assembly, latest_review, path_bases, visits_before
from fanlight.study import EarlierValue, Measurement, StudyReview
from fanlight.validity.meaning.by_way import newest_that_hold
from fanlight.validity.meaning.change import earlier_values
from fanlight.validity.meaning.inputs import taken_on

if TYPE_CHECKING:
    from fanlight.desk.desk import Desk

_T = TypeVar("_T")
_VISITS = 4  # engineering judgement: earlier visits of one animal that are looked at, the newest
_KEPT = 64  # engineering judgement: studies whose visits, and visits whose numbers, are held in memory


class EarlierNumbers:
    """Visits and their numbers, each worked out once, and again when something was read or done there."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._visits: OrderedDict[str, tuple[tuple[int, int], tuple[Visit, ...]]] = OrderedDict()
        self._values: OrderedDict[str, tuple[str, tuple[EarlierValue, ...]]] = OrderedDict()

    def beside(self, desk: Desk, study: str, draft: StudyReview) -> StudyReview:
        """Return a draft whose request holds the numbers of earlier visits, for `validity.meaning`.

        Before all was read and every clip that is judged first was judged, only those of quantities that were given
        with the study: any other would be told as measured then and not again, which nobody knows yet.
        """
        found = self.of(desk, study)
        if not found:
            return draft
        clips = [item.clip.key for item in draft.readings]
        if desk.engine.state(study).state != "idle" or hidden_of(desk, study, clips, entries_of(desk.store, study)):
            sent = (*draft.study.machine_measurements, *draft.study.request.trainee_measurements)
            given = {item.quantity for item in sent}
            found = tuple(item for item in found if item.quantity in given)
        request = draft.study.request
        told = replace(request, earlier=(*request.earlier, *found))
        return replace(draft, study=replace(draft.study, request=told))

    def of(self, desk: Desk, study: str) -> tuple[EarlierValue, ...]:
        """Return the numbers of the newest earlier visits that hold, and of newer ones those that do not.

        As a person left them there: a number that was marked by hand or kept counts as it stands. Of clips that are
        judged first, and of a covered study, nothing of the engine's is among them. What its clinical summary would
        not print is kept off this study's as well. A study that is still being read has no numbers yet.
        """
        visits = self._visits_of(desk, study)
        bases = path_bases(desk.store, [item.study for item in visits], house=desk.house.fingerprint())
        each = [self._numbers(desk, item, str(bases[item.study])) for item in visits if item.study in bases]
        return newest_that_hold(desk.house, each)

    def _visits_of(self, desk: Desk, study: str) -> tuple[Visit, ...]:
        mark = last_assembly(desk.store)  # read first: what comes meanwhile makes it old
        with self._lock:
            kept = self._visits.get(study)
        if kept is not None and kept[0] == mark:
            return kept[1]
        visits = visits_before(desk.store, study, _VISITS)
        with self._lock:
            _put(self._visits, study, (mark, visits))
        return visits

    def _numbers(self, desk: Desk, visit: Visit, basis: str) -> tuple[EarlierValue, ...]:
        with self._lock:
            kept = self._values.get(visit.study)
        if kept is not None and kept[0] == basis:
            return kept[1]
        values = _numbers_of(desk, visit)
        with self._lock:
            _put(self._values, visit.study, (basis, values))
        return values


def _put(kept: OrderedDict[str, _T], key: str, value: _T) -> None:
    kept[key] = value
    kept.move_to_end(key)
    while len(kept) > _KEPT:
        kept.popitem(last=False)


def _numbers_of(desk: Desk, visit: Visit) -> tuple[EarlierValue, ...]:
    draft = latest_review(desk.store, visit.study)
    if draft is None:
        return ()
    log = entries_of(desk.store, visit.study)
    hidden = hidden_of(desk, visit.study, [item.clip.key for item in draft.readings], log)
    left = as_left(draft, fold(log), desk.house, hidden)
    papers, screen = for_papers(left), for_screen(left)
    printed = {_key(item) for item in papers.measurements if item.value is not None or item.validity}
    more = (replace(item, sheet_only=True) for item in screen.measurements if _key(item) not in printed)
    told = (item for item in papers.measurements if _key(item) in printed)
    values = [
        *earlier_values(told, desk.house, draft.study.identity, visit.day, taken_on(papers.readings)),
        *earlier_values(more, desk.house, draft.study.identity, visit.day, taken_on(screen.readings)),
    ]
    return tuple(replace(item, is_day_received=visit.is_day_received) for item in values)


def _key(item: Measurement) -> tuple[str, str, str, str, tuple[int, ...]]:
    return item.name, item.label, item.given_by, item.clip, item.frames
