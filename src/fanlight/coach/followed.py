"""What became of the advice of earlier studies: tried, mended, still there, or not to be told."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from itertools import pairwise

from fanlight.study import (
    AdviceGiven,
    ClipReading,
    Criterion,
    FollowedAdvice,
    FollowUp,
    MetNow,
    Outcome,
    Side,
    Standing,
    StudyRecord,
    Verdict,
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

    An advice is mended when each of its criteria is met now in clips of the kind (mode and view) in which it was
    missed then; it was tried where such clips were judged. What a person said of it goes before. Its record counts,
    over all earlier studies that gave it, what the study after each of them showed.

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
    last = chosen[-1]
    order = dict.fromkeys(item.about for record in reversed(chosen) for item in record.advice)
    return FollowUp(
        since=last.examined_at,
        advice=tuple(_followed(about, chosen, now, readings, share, sure_from) for about in order),
        met_now=_met_now(last, now, readings, criteria, titles, share, sure_from),
        not_followed=not_followed,
    )


def _of_same_trainee(
    earlier: Iterable[StudyRecord], now: StudyRecord
) -> tuple[tuple[StudyRecord, ...], tuple[str, ...]]:
    chosen, left = [], []
    for record in dict.fromkeys(earlier):
        day = _day(record.examined_at)
        if not now.trainee.strip() or not record.trainee.strip():
            which = "that study" if now.trainee.strip() else "this study"
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
    practices = {item.practice.strip().casefold() for item in (one, other)} - {""}
    return one.trainee.split() == other.trainee.split() and len(practices) < 2


def _is_before(then: datetime, now: datetime | None) -> bool:
    return now is None or _bare(then) < _bare(now)


def _bare(at: datetime | None) -> datetime:
    """Return a time as the clock on the wall showed it: machines write it with a zone or without."""
    return datetime.min if at is None else at.replace(tzinfo=None)


def _day(at: datetime | None) -> str:
    return "an undated study" if at is None else f"{at.day} {at:%B %Y}"


def _followed(
    about: str,
    records: Sequence[StudyRecord],
    now: StudyRecord,
    readings: Sequence[ClipReading],
    share: float,
    sure_from: float,
) -> FollowedAdvice:
    given = [
        (advice, record, after)
        for record, after in pairwise((*records, now))
        for advice in [item for item in record.advice if item.about == about][:1]  # a study gives it once
    ]
    outcomes = [
        dict(after.said).get(about) or _outcome(advice, record.standings, after.standings, share)
        for advice, record, after in given
    ]
    advice, record, _ = given[-1]
    is_last = record is records[-1]
    places = [place for _, place in _places(advice, record.standings)]
    return FollowedAdvice(
        advice=advice,
        outcome=outcomes[-1] if is_last else None,
        tried_in=_clips_of(places, readings, sure_from) if is_last else (),
        given=len(given),
        mended=outcomes.count(Outcome.MENDED),
        not_told=outcomes.count(Outcome.NOT_TOLD),
        is_said=is_last and about in dict(now.said),
    )


def _places(advice: AdviceGiven, standings: Iterable[Standing]) -> list[tuple[Side, Standing]]:
    """Return where its criteria were missed, and on which side."""
    return [
        (side, place)
        for place in standings
        for criterion, side in advice.signs
        if place.criterion == criterion and place.missed(side)
    ]


def _outcome(advice: AdviceGiven, then: Iterable[Standing], now: Sequence[Standing], share: float) -> Outcome:
    told = [(side, found) for side, place in _places(advice, then) if (found := _same_kind(place, now)).judged]
    if not told:
        return Outcome.NOT_TOLD
    left = [(side, found) for side, found in told if not found.is_met(share)]
    if not left:
        return Outcome.MENDED
    turned = all(not found.missed(side) and found.low + found.high for side, found in left)
    return Outcome.OVERDONE if turned else Outcome.STILL_THERE


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
