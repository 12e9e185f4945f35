"""What a letter advised, signed with it as data; and what became of the advice of all letters before this study."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from fanlight.coach.record import record_of, record_with
from fanlight.desk.changes import in_letter
from fanlight.desk.desk import Desk
from fanlight.reference.letter import read_letter_limits
from fanlight.review.follow_up import followed
from fanlight.store import (
    AdviceWord,
    Document,
    NewPart,
    Store,
    StudyState,
    letters_before,
    part_bytes,
    read_study,
)
from fanlight.study import FollowUp, Outcome, StudyRecord, StudyReview
from fanlight.study.codec import from_bytes, to_plain

NAME = "record.json"
_FORM = 1
_SAID = {AdviceWord.MENDED: Outcome.MENDED, AdviceWord.NOT_MENDED: Outcome.STILL_THERE}


def record_part(desk: Desk, study: str, review: StudyReview, state: StudyState) -> NewPart | None:
    """Return what the letter advises and how each criterion stood; None where the sheet names no trainee.

    Parameters
    ----------
    review : StudyReview
        Of `for_papers`: what the mentor decided, in the words of the letter.
    """
    if not review.study.request.trainee.strip():
        return None
    kept = tuple(
        replace(item.correction, correction=item.own or item.correction.correction)
        for item in in_letter(review, state, desk.house)
        if item.correction is not None and not item.correction.withheld
    )
    record = record_of(replace(review, corrections=kept), read_letter_limits(desk.house).sure_from)
    record = replace(record, said=_said(state, _last(letters_before(desk.store, study))))
    text = json.dumps({"form": _FORM, **to_plain(record)}, indent=1, ensure_ascii=False)
    return NewPart(name=NAME, media_type="application/json", data=f"{text}\n".encode())


def follow_up(desk: Desk, study: str, review: StudyReview, state: StudyState) -> FollowUp:
    """Return what became of earlier advice, from what was decided in this study and signed in those before.

    A letter that was signed without a record does not count. The order in which studies came is the order in which
    they are held against each other, whatever date their files name.
    """
    letters = letters_before(desk.store, study)
    kept = [(versions[-1], record) for versions in letters if (record := _read(desk.store, versions[-1])) is not None]
    if not kept:
        return FollowUp()
    # What was said is of the last letter; where that has no record, of none that counts.
    said = _said(state, _last(letters)) if kept[-1][0] == letters[-1][-1] else ()
    sure_from = read_letter_limits(desk.house).sure_from
    now = record_with(review.study, (), review.readings, review.study_findings, sure_from)
    return followed(
        [replace(record, examined_at=_came(desk.store, letter.study)) for letter, record in kept],
        replace(now, examined_at=_came(desk.store, study), said=said), review.readings, desk.house,
    )  # fmt: skip


def _came(store: Store, study: str) -> datetime:
    return read_study(store, study).made_at


def _last(letters: tuple[tuple[Document, ...], ...]) -> frozenset[str]:
    """Return the ids under which the last letter may have been spoken of: an addendum may have come meanwhile."""
    return frozenset(item.id for item in letters[-1]) if letters else frozenset()


def _said(state: StudyState, letters: Iterable[str]) -> tuple[tuple[str, Outcome], ...]:
    """Return what the mentor says became of each point of the last letter; the exercise is no advice."""
    there = frozenset(letters)
    return tuple(
        (about, _SAID[said.word])
        for (letter, about), said in state.advice.items()
        if letter in there and said.word in _SAID
    )


def _read(store: Store, letter: Document) -> StudyRecord | None:
    """Return the record that was signed with a letter; None without one, or in a form that came later."""
    data = part_bytes(store, letter, NAME)
    if data is None:
        return None
    plain = json.loads(data)
    if plain.pop("form", None) != _FORM:
        return None
    return from_bytes(json.dumps(plain).encode(), StudyRecord)
