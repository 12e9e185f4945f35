"""What became of the advice of earlier studies: tried, mended, still there, or not to be told."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import pairwise

from fanlight.study import (
    MODE_WORDS,
    AdviceGiven,
    ClipReading,
    Criterion,
    FollowedAdvice,
    FollowUp,
    MetNow,
    Mode,
    Outcome,
    Side,
    Standing,
    StudyRecord,
    Verdict,
    name_key,
)

_JUDGED = (Verdict.MET, Verdict.BORDERLINE, Verdict.MISSED)


def follow(
    earlier: Sequence[StudyRecord],
    now: StudyRecord,
    readings: Sequence[ClipReading],
    criteria: Mapping[str, Criterion],
    titles: Mapping[str, str],
    share: float,
    sure_from: float,
) -> FollowUp:
    """Hold a study against the earlier ones of the same trainee at the same practice.

    An advice is mended when each of its criteria is met now in clips of each kind (mode and view) in which it was
    missed then, and all of these could be judged; mended in part where that holds of some. It was tried where such
    clips were judged. What a person said of it goes before. Its record counts, over all earlier studies that gave it,
    what the study after each of them showed.

    Parameters
    ----------
    earlier : sequence of StudyRecord
        In any order; those of other trainees, of no earlier day, or without a trainee do not count and are named.
    now : StudyRecord
        This study; its advice is not looked at.
    readings : sequence of ClipReading
        Of this study.
    criteria : mapping of str to Criterion
        By key.
    titles : mapping of str to str
        Title of each view by its key.
    share : float
        A criterion counts as met when at least this share of the clips on which it was judged meets it.
    sure_from : float
        Smallest confidence of a finding that counts, 0 to 1.
    """
    chosen, not_followed = _of_same_trainee(earlier, now)
    if not chosen:
        return FollowUp(not_followed=not_followed)
    chosen, now = tuple(_sensible(record, criteria) for record in chosen), _sensible(now, criteria)
    last, names = chosen[-1], _Names(criteria=criteria, titles=titles)
    order = dict.fromkeys(item.about for record in reversed(chosen) for item in record.advice)
    return FollowUp(
        since=last.examined_at,
        advice=tuple(_followed(about, chosen, now, readings, names, share, sure_from) for about in order),
        met_now=_met_now(last, now, readings, criteria, titles, share, sure_from),
        not_followed=not_followed,
    )


def _of_same_trainee(
    earlier: Iterable[StudyRecord], now: StudyRecord
) -> tuple[tuple[StudyRecord, ...], tuple[str, ...]]:
    chosen, left = [], []
    for record in dict.fromkeys(earlier):
        day = _day(record.examined_at)
        if not name_key(now.trainee) or not name_key(record.trainee):
            which = "that study" if name_key(now.trainee) else "this study"
            left.append(f"The advice of {day} is not followed up: the request sheet of {which} names no trainee.")
        elif not _is_same(record, now):
            left.append(f"The advice of {day} is not followed up: it went to another trainee.")
        elif record.examined_at is None or not _is_before(record.examined_at, now.examined_at):
            left.append(f"The advice of {day} is not followed up: that study is no earlier than this one.")
        elif not record.advice and not record.standings:
            left.append(f"The advice of {day} is not followed up: its review holds neither advice nor findings.")
        else:
            chosen.append(record)
    chosen.sort(key=lambda item: _bare(item.examined_at))
    return tuple(chosen), tuple(left)


def _sensible(record: StudyRecord, criteria: Mapping[str, Criterion]) -> StudyRecord:
    """Return a record without what the House does not know, and without clips where the whole study is judged."""
    kept = (
        item
        for item in record.standings
        if (row := criteria.get(item.criterion)) is not None and (item.mode is None or not row.study_level)
    )
    return replace(record, standings=tuple(kept))


def _is_same(one: StudyRecord, other: StudyRecord) -> bool:
    """Whether two studies were scanned by one person; a practice that is not stated parts nobody."""
    practices = {name_key(item.practice) for item in (one, other)} - {""}
    return name_key(one.trainee) == name_key(other.trainee) and len(practices) < 2


def _is_before(then: datetime, now: datetime | None) -> bool:
    return now is None or _bare(then) < _bare(now)


def _bare(at: datetime | None) -> datetime:
    """Return a time as the clock on the wall showed it: machines write it with a zone or without."""
    return datetime.min if at is None else at.replace(tzinfo=None)


def _day(at: datetime | None) -> str:
    return "an undated study" if at is None else f"{at.day} {at:%B %Y}"


def _followed(
    about: str, records: Sequence[StudyRecord], now: StudyRecord, readings: Sequence[ClipReading], names: _Names,
    share: float, sure_from: float,
) -> FollowedAdvice:  # fmt: skip
    given = [
        (advice, record, after)
        for record, after in pairwise((*records, now))
        for advice in [item for item in record.advice if item.about == about][:1]  # a study gives it once
    ]
    outcomes = [
        dict(after.said).get(about) or _outcome(_became(advice, record.standings, after.standings, share))
        for advice, record, after in given
    ]
    advice, record, _ = given[-1]
    is_last = record is records[-1]
    found = _became(advice, record.standings, now.standings, share) if is_last else ()
    met, left, unjudged = names.told(found)
    return FollowedAdvice(
        advice=advice,
        outcome=outcomes[-1] if is_last else None,
        tried_in=_clips_of([item.place for item in found], readings, sure_from),
        given=len(given),
        mended=outcomes.count(Outcome.MENDED),
        not_told=outcomes.count(Outcome.NOT_TOLD),
        is_said=is_last and about in dict(now.said),
        partly=outcomes.count(Outcome.PARTLY) + outcomes.count(Outcome.BORDERLINE),
        met_in=met,
        left_in=left,
        not_judged_in=unjudged,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Became:
    """One criterion in one kind of clips in which it was missed, and what it is there now."""

    place: Standing  # then
    now: Outcome  # never PARTLY


@dataclass(frozen=True, slots=True, kw_only=True)
class _Names:
    """How criteria and views are called."""

    criteria: Mapping[str, Criterion]
    titles: Mapping[str, str]

    def told(self, found: Sequence[_Became]) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
        """Return in words what is met now, what is not, and what could not be judged."""
        several = len({item.place.criterion for item in found}) > 1
        parts: tuple[dict[str, None], ...] = ({}, {}, {})
        for item in found:
            part = {Outcome.MENDED: 0, Outcome.NOT_TOLD: 2}.get(item.now, 1)
            parts[part][self._place(item.place, several=several)] = None
        return tuple(parts[0]), tuple(parts[1]), tuple(parts[2])

    def _place(self, place: Standing, *, several: bool) -> str:
        mode = MODE_WORDS[place.mode] if place.mode else "the study as a whole"
        view = self.titles.get(place.view, place.view) or mode
        where = view if place.mode in (None, Mode.TWO_D) or view == mode else f"{view}, {mode}"
        return f"{self.criteria[place.criterion].title} ({where})" if several else where


def _became(
    advice: AdviceGiven, then: Iterable[Standing], now: Sequence[Standing], share: float
) -> tuple[_Became, ...]:
    """Return what became of each criterion in each kind of clips in which it was missed."""
    return tuple(
        _Became(place=place, now=_now(side, _same_kind(place, now), share))
        for place in then
        for criterion, side in advice.signs
        if place.criterion == criterion and place.missed(side)
    )


def _now(side: Side, found: Standing, share: float) -> Outcome:
    if not found.judged:
        return Outcome.NOT_TOLD
    if found.is_met(share):
        return Outcome.MENDED
    if found.met + found.borderline >= share * found.judged:
        return Outcome.BORDERLINE
    return Outcome.OVERDONE if not found.missed(side) else Outcome.STILL_THERE


def _outcome(found: Sequence[_Became]) -> Outcome:
    """Return what became of an advice: mended only where all that it was about could be judged and is met."""
    told = {item.now for item in found} - {Outcome.NOT_TOLD}
    if not told:
        return Outcome.NOT_TOLD
    if Outcome.MENDED in told:
        return Outcome.MENDED if {item.now for item in found} == {Outcome.MENDED} else Outcome.PARTLY
    return next(each for each in (Outcome.STILL_THERE, Outcome.OVERDONE, Outcome.BORDERLINE) if each in told)


def _same_kind(place: Standing, standings: Iterable[Standing]) -> Standing:
    """Return how the criterion stands now in all clips of that kind together."""
    same = [item for item in standings if item.criterion == place.criterion and place.is_kind_of(item.mode, item.view)]
    return Standing(
        criterion=place.criterion, mode=place.mode, view=place.view, met=sum(item.met for item in same),
        borderline=sum(item.borderline for item in same), low=sum(item.low for item in same),
        high=sum(item.high for item in same),
    )  # fmt: skip


def _clips_of(places: Sequence[Standing], readings: Iterable[ClipReading], sure_from: float) -> tuple[str, ...]:
    return tuple(
        reading.clip.key
        for reading in readings
        if any(
            item.criterion == place.criterion and item.verdict in _JUDGED and item.confidence >= sure_from
            for place in places
            if place.is_kind_of(reading.mode.mode, reading.view.view)
            for item in reading.findings
        )
    )


def _met_now(
    last: StudyRecord,
    now: StudyRecord,
    readings: Sequence[ClipReading],
    criteria: Mapping[str, Criterion],
    titles: Mapping[str, str],
    share: float,
    sure_from: float,
) -> tuple[MetNow, ...]:
    """Return what was missed last time, not only once among many, and is met now; the weightiest first."""
    places: dict[str, list[Standing]] = {}
    for place in last.standings:
        criterion = criteria.get(place.criterion)
        is_praise = criterion is not None and criterion.weight > 0 and bool(criterion.right)
        was_missed = place.low + place.high > 0 and not place.is_met(share)
        if is_praise and was_missed and _same_kind(place, now.standings).is_met(share):
            places.setdefault(place.criterion, []).append(place)
    return tuple(
        MetNow(
            criterion=key, words=criteria[key].right, clips=_clips_of(found, readings, sure_from),
            views=tuple(dict.fromkeys(titles.get(place.view, place.view) for place in found if place.view)),
        )
        for key, found in sorted(places.items(), key=lambda each: (-criteria[each[0]].weight, each[0]))
    )  # fmt: skip
