"""The few changes that would resolve most of what was decided, and the mentor's word on each. Pure.

They are drawn from decided findings alone, so they come and go with them. A word belongs to a cause: where nothing
that was decided points to the cause any more, the word stands and is told as such, and the letter is silent.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from fanlight.coach.causes.corrections import choose_corrections
from fanlight.reference.causes import read_cause_limits, read_causes
from fanlight.reference.criteria import read_criteria
from fanlight.report.causes import advice_words, correction_words, level_words, likely_words
from fanlight.report.words import clips as clips_in_words
from fanlight.store import ChangeWord, DocumentKind, StudyState
from fanlight.study import CauseFound, Correction, House, StudyReview


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A change that is proposed, or of which the mentor said something."""

    cause: str
    title: str
    word: ChangeWord
    correction: Correction | None  # None: nothing that was decided points to it any more
    found: CauseFound | None  # what it rests on; None where no cause of the table is behind it
    own: str = ""  # the mentor's words for it


def changes_of(review: StudyReview, state: StudyState, house: House) -> tuple[Change, ...]:
    """Return the proposed changes in their order, then those that the mentor spoke of and that are not proposed now.

    Parameters
    ----------
    review : StudyReview
        Of `for_papers`: decided findings only.
    """
    proposed = {item.cause: item for item in review.corrections}
    found = {item.cause: item for item in review.causes}
    rows = read_causes(house)
    changes = []
    for cause in (*proposed, *(cause for cause in state.changes if cause not in proposed)):
        behind = found.get(cause)
        correction = proposed.get(cause)
        if behind is not None:
            # "Either … or" is said of what nobody has spoken of: the mentor's word settles it.
            open_ones = tuple(each for each in behind.alternatives if each not in state.changes)
            behind = replace(behind, alternatives=open_ones)
            correction = _correction(behind, review, house)
        title = correction.title if correction else rows[cause].title if cause in rows else cause
        said = state.changes.get(cause)
        changes.append(
            Change(
                cause=cause, title=title, word=said.word if said else ChangeWord.NOT_SAID, correction=correction,
                found=behind if correction else None, own=state.texts.get((DocumentKind.LETTER, part_of(cause)), ""),
            )
        )  # fmt: skip
    return tuple(changes)


def _correction(found: CauseFound, review: StudyReview, house: House) -> Correction | None:
    """Return what to do about a cause, however sure it is: the mentor is the one who says that it acts."""
    limits = replace(read_cause_limits(house), console_from=0.0, hand_from=0.0)
    rows, criteria = read_causes(house), read_criteria(house)
    return next(iter(choose_corrections((found,), rows, limits, criteria, review.study.request.breathing)), None)


def part_of(cause: str) -> str:
    """Return the name under which the words of a change are edited."""
    return f"change:{cause}"


def kept_changes(review: StudyReview, state: StudyState, house: House) -> tuple[str, ...]:
    """Return, as the letter prints them, the changes that the mentor kept and that decided findings still point to."""
    return tuple(
        correction_words(item.correction, review, item.own)
        for item in changes_of(review, state, house)
        if item.word is ChangeWord.KEPT and item.correction is not None
    )


def plain_changes(review: StudyReview, state: StudyState, house: House) -> list[dict[str, Any]]:
    """Return the changes as a page shows them, with cause, evidence and what else it may be."""
    return [_plain(item, review, house) for item in changes_of(review, state, house)]


def _plain(item: Change, review: StudyReview, house: House) -> dict[str, Any]:
    numbers = {reading.clip.key: reading.clip.number for reading in review.readings}
    shown = {"cause": item.cause, "title": item.title, "word": item.word.value, "own": item.own}
    if item.correction is None:
        return {**shown, "is_stale": True}
    return {
        **shown,
        "is_stale": False,
        "level": level_words(item.correction.level),
        "likely": likely_words(item.found.probability) if item.found else "",
        "is_habit": item.correction.is_habit,
        "is_withheld": bool(item.correction.withheld),
        "is_movement": item.found is None,  # told from where the probe stood; it has pictures
        "words": advice_words(item.correction),
        "resolves": item.correction.resolves,
        "where": clips_in_words(numbers[key] for key in item.correction.clips),
        "evidence": list(_evidence(item.found, numbers, house)) if item.found else [],
        "alternatives": list(_alternatives(item.found, review, house)) if item.found else [],
    }


def _evidence(found: CauseFound, numbers: dict[str, int], house: House) -> Iterator[dict[str, Any]]:
    criteria = read_criteria(house)
    for each in found.explains:
        title = criteria[each.criterion].title
        yield {"clip": each.clip, "number": numbers[each.clip], "criterion": each.criterion, "title": title}


def _alternatives(found: CauseFound, review: StudyReview, house: House) -> Iterator[dict[str, str]]:
    rows = read_causes(house)
    others = {item.cause: item for item in review.causes}
    for cause in found.alternatives:
        other = others.get(cause)
        advised = _correction(replace(other, alternatives=()), review, house) if other else None
        yield {"cause": cause, "title": rows[cause].title, "words": advice_words(advised) if advised else ""}
