"""The few changes as a page shows them: cause or movement, what it rests on, and what else it may be. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Any

from fanlight.coach.causes.animal import known_of
from fanlight.coach.movements.named import Named
from fanlight.desk.changes import Change, changes_of, correction_of
from fanlight.desk.marks_file import lying_on
from fanlight.plane.kept import set_by_hand
from fanlight.plane.pose.gather import Gathered, gather
from fanlight.reference.cause_priors import fact_behind, prior_key, read_cause_priors
from fanlight.reference.causes import read_causes
from fanlight.reference.criteria import read_criteria
from fanlight.reference.movements import read_movements
from fanlight.reference.plane import read_plane_tables
from fanlight.reference.views import read_views
from fanlight.report.causes import advice_words, level_words, likely_words
from fanlight.report.stands import how_sure, offset_words, pair_words
from fanlight.report.words import clips as clips_in_words
from fanlight.review.advise import moves_of
from fanlight.review.hand_scale import by_hand_scale
from fanlight.store import StudyState
from fanlight.study import CauseFound, Explained, House, Landmark, StudyReview


def plain_changes(review: StudyReview, state: StudyState, house: House) -> list[dict[str, Any]]:
    """Return the changes as a page shows them, with cause, evidence and what else it may be.

    Parameters
    ----------
    review : StudyReview
        Of `for_papers`: decided findings only.
    """
    return [_plain(item, review, state, house) for item in changes_of(review, state, house)]


def _plain(item: Change, review: StudyReview, state: StudyState, house: House) -> dict[str, Any]:
    numbers = {reading.clip.key: reading.clip.number for reading in review.readings}
    shown = {
        "cause": item.cause, "title": item.title, "word": item.word.value, "own": item.own,
        "has_room": item.has_room,
    }  # fmt: skip
    if item.correction is None:
        return {**shown, "is_stale": True}
    return {
        **shown,
        "is_stale": False,
        "level": level_words(item.correction.level),
        "likely": _likely(item, house),
        "prior_from": _prior_from(item, review, house),
        "is_habit": item.correction.is_habit,
        "is_withheld": bool(item.correction.withheld),
        "is_tried": bool(item.correction.to_try),
        "is_movement": item.moved is not None,  # told from where the probe stood; it has pictures
        "words": advice_words(item.correction),
        "resolves": item.correction.resolves,
        "where": clips_in_words(numbers[key] for key in item.correction.clips),
        "evidence": list(_evidence(item.found.explains if item.found else item.correction.explains, numbers, house)),
        "stands_on": list(_stands_on(item.moved.named, review, state, house)) if item.moved else [],
        "alternatives": list(_alternatives(item, review, house)),
    }


def _likely(item: Change, house: House) -> str:
    if item.found is not None:
        return likely_words(item.found.probability)
    if item.moved is None:
        return ""
    return how_sure(item.moved.candidate.probability, read_movements(house).limits.named_from)


def _prior_from(item: Change, review: StudyReview, house: House) -> str:
    """Return where the probability beforehand comes from, if it was re-fitted; "" where it is as shipped."""
    if item.found is None:
        return ""
    known = known_of(review.study.patient, review.study.request, house)
    fact = fact_behind(read_causes(house)[item.found.cause], known)
    fitted = read_cause_priors(house).get(prior_key(item.found.cause, fact))
    return fitted.said if fitted is not None else ""


def _evidence(explains: Iterable[Explained], numbers: dict[str, int], house: House) -> Iterator[dict[str, Any]]:
    criteria = read_criteria(house)
    for each in explains:
        title = criteria[each.criterion].title
        yield {"clip": each.clip, "number": numbers[each.clip], "criterion": each.criterion, "title": title}


def _stands_on(
    named: Iterable[Named], review: StudyReview, state: StudyState, house: House
) -> Iterator[dict[str, Any]]:
    """Yield clip by clip where the probe stood, and the landmarks that tell it."""
    views, tables = read_views(house), read_movements(house)
    settings, marks = house.kept("planes", read_plane_tables).settings, set_by_hand(lying_on(state, review.study))
    for item in named:
        (reading,) = by_hand_scale((review.reading(item.clip),), marks)
        got = gather(reading, marks.get(item.clip), settings, tables.limits)
        seen = got.seen.seen if isinstance(got, Gathered) else ()
        yield {
            "clip": item.clip,
            "number": reading.clip.number,
            "view": views[item.view].title if item.view in views else item.view,
            "said": _said(item, review, tables.limits.named_from),
            "landmarks": [mark.value for mark in Landmark if any(one.landmark is mark for one in seen)],
            "given_by": got.given_by.value if isinstance(got, Gathered) else "",
        }


def _said(item: Named, review: StudyReview, sure_from: float) -> str:
    if item.other is None:
        return offset_words(item.offset, sure_from)
    clips = (clip for stand in review.stands for clip in stand.clips if clip.clip == item.clip)
    first = next(pair for clip in clips for pair in clip.pairs)  # the one that is named
    return pair_words(first, sure_from)


def _alternatives(item: Change, review: StudyReview, house: House) -> Iterator[dict[str, str]]:
    if item.found is not None:
        yield from _other_causes(item.found, review, house)
    if item.moved is not None:
        yield from _other_movements(item.moved.named, review, house)


def _other_causes(found: CauseFound, review: StudyReview, house: House) -> Iterator[dict[str, str]]:
    rows = read_causes(house)
    others = {item.cause: item for item in review.causes}
    for cause in found.alternatives:
        other = others.get(cause)
        advised = correction_of(replace(other, alternatives=()), review, house) if other else None
        yield {"cause": cause, "title": rows[cause].title, "words": advice_words(advised) if advised else ""}


def _other_movements(named: Iterable[Named], review: StudyReview, house: House) -> Iterator[dict[str, str]]:
    """Yield the movement that would explain the same pictures as well; it can be kept in the place of the either-or."""
    moves = moves_of(review.stands, review.readings, house, review.study.request.breathing)
    keys = {moves.tables.rows[item.other].key for item in named if item.other is not None}
    for each in moves.others:
        correction = each.candidate.correction
        if correction.cause in keys:
            yield {"cause": correction.cause, "title": correction.title, "words": advice_words(correction)}
