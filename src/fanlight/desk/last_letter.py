"""What the last letter to a trainee asked for: first of all, was it done?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import partial

from fanlight.desk.as_left import as_left
from fanlight.desk.blind import hidden_of
from fanlight.desk.changes import in_letter
from fanlight.desk.decided import for_papers
from fanlight.desk.desk import Desk
from fanlight.desk.hub import ALL
from fanlight.desk.later import NotYetError
from fanlight.reference.views import read_views
from fanlight.store import (
    AdviceWord,
    DerivedKind,
    Document,
    Entry,
    StudyState,
    entries_of,
    fold,
    keep_derived,
    last_letter,
    last_letters,
    latest_review,
    read_derived,
    review_at,
)
from fanlight.store.actions import SetExercise, Sign
from fanlight.store.entry import read_action
from fanlight.study import Side, StudyReview, about_cause


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedCorrection:
    """One correction of a letter."""

    criterion: str
    side: Side
    title: str
    correction: str

    @property
    def about(self) -> str:
        """The name under which "judge advice" knows it."""
        return f"{self.criterion}:{Side(self.side).value}"


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedChange:
    """One of the few changes with which a letter opened."""

    cause: str
    title: str
    correction: str

    @property
    def about(self) -> str:
        """The name under which "judge advice" knows it."""
        return about_cause(self.cause)


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedFor:
    """What one signed letter asked of its trainee."""

    letter: str  # id of the signed paper
    study: str
    signed_at: str
    animal: str
    corrections: tuple[AskedCorrection, ...]
    exercise: SetExercise | None
    exercise_title: str  # of its view
    changes: tuple[AskedChange, ...] = ()


def asked_before(desk: Desk, study: str, *, waits: bool = False) -> AskedFor | None:
    """Return what the newest letter to the same trainee asked for; None when there is none.

    Parameters
    ----------
    waits : bool
        Work it out at once where it is not known yet; else None is returned, and an event tells when it is.
    """
    asked = asked_before_each(desk, (study,)).get(study)
    letter = last_letter(desk.store, study) if asked is None and waits else None
    return asked if letter is None else asked_for(desk, letter)


def asked_before_each(desk: Desk, studies: Iterable[str]) -> dict[str, AskedFor]:
    """Return what the last letter asked for, of each study that has one and whose letter is worked out already."""
    letters = last_letters(desk.store, studies)
    known = _known(desk, letters.values())
    found: dict[str, AskedFor] = {}
    for study, letter in letters.items():
        asked = known.get(letter.id)
        if asked is not None:
            found[study] = asked
        else:  # a name for each study: each of their pages waits to hear of it
            desk.later.want((DerivedKind.LETTER, letter.id, study), partial(_work_out, desk, letter, study))
    return found


def _basis(letter: Document) -> str:
    return f"whole draft with its changes, letter {letter.sha256}"


def _known(desk: Desk, letters: Iterable[Document]) -> dict[str, AskedFor]:
    """Return what was worked out already, by the letter's id."""
    bases = {letter.id: _basis(letter) for letter in letters}
    kept = read_derived(desk.store, DerivedKind.LETTER, bases)
    known = {key: item.unpacked(AskedFor) for key, item in kept.items() if item.basis == bases[key]}
    return {key: asked for key, asked in known.items() if asked is not None}


def said_of_letter(desk: Desk, study: str, asked: AskedFor | None) -> dict[str, str]:
    """Return what a study's mentor said became of each point of that letter; a point nobody spoke of is not there."""
    if asked is None:
        return {}
    # Only these are read: a page of the list has no time for everything that was ever said.
    entries = [entry for entry in entries_of(desk.store, study) if entry.undoes or entry.action == "judge advice"]
    return {about: said.word.value for (letter, about), said in fold(entries).advice.items() if letter == asked.letter}


def _work_out(desk: Desk, letter: Document, for_study: str) -> None:
    if letter.id not in _known(desk, (letter,)):
        asked = asked_for(desk, letter)
        if asked is None:
            if desk.engine.state(letter.study).state == "idle":
                return  # its draft must be made anew, and nobody is at it
            raise NotYetError
        keep_derived(desk.store, DerivedKind.LETTER, letter.id, basis=_basis(letter), value=asked)
    desk.hub.publish(ALL, "study", {"id": for_study})
    desk.hub.publish(for_study, "last letter", {"letter": letter.id})


def _whole_draft(desk: Desk, letter: Document) -> StudyReview | None:
    """Return the draft that the letter was signed on; where it cannot be read any more, the newest whole one."""
    signed_on = review_at(desk.store, letter.study, letter.signed_at)
    if signed_on is not None or desk.engine.state(letter.study).state != "idle":
        return signed_on
    return latest_review(desk.store, letter.study)


def asked_for(desk: Desk, letter: Document) -> AskedFor | None:
    """Return what a letter asked for, as it stood when it was signed; None while its study has no whole draft."""
    draft = _whole_draft(desk, letter)
    if draft is None:
        return None
    log = _until_signed(entries_of(desk.store, letter.study), letter.id)
    state = fold(log)
    hidden = hidden_of(desk, letter.study, (item.clip.key for item in draft.readings), log)
    review = for_papers(as_left(draft, state, desk.house, hidden))
    views = read_views(desk.house)
    exercise = state.exercise
    return AskedFor(
        letter=letter.id,
        study=letter.study,
        signed_at=letter.signed_at.isoformat(),
        animal=draft.study.identity.animal_name,
        corrections=tuple(
            AskedCorrection(
                criterion=item.criterion, side=Side(item.side), title=item.title,
                correction="" if item.withheld else item.correction,
            )
            for item in review.priorities
        ),
        changes=tuple(
            AskedChange(cause=item.cause, title=item.title, correction=item.own or item.correction.correction)
            for item in in_letter(review, state, desk.house)
            if item.correction is not None and not item.correction.withheld
        ),
        exercise=exercise,
        exercise_title=views[exercise.view].title if exercise and exercise.view in views else "",
    )  # fmt: skip


def _until_signed(entries: tuple[Entry, ...], letter: str) -> tuple[Entry, ...]:
    for place, entry in enumerate(entries):
        if entry.action == "sign":
            action = read_action(entry)
            if isinstance(action, Sign) and action.document_id == letter:
                return entries[: place + 1]
    return entries


def since_last(asked: AskedFor | None, state: StudyState) -> tuple[str, ...]:
    """Return, in sentences for the new letter, what the mentor says became of what was asked for; nothing else.

    What is mended or done comes first; what is not is asked for again, in the words of the letter before.
    """
    if asked is None:
        return ()
    points: tuple[AskedChange | AskedCorrection, ...] = (*asked.changes, *asked.corrections)
    said = [(_word(state, asked, item.about), item.title, item.correction) for item in points]
    if asked.exercise is not None:
        exercise = asked.exercise
        title = f"The exercise, {exercise.repetitions} × {asked.exercise_title or exercise.view}"
        said.append((_word(state, asked, "exercise"), title, f"Look for: {exercise.look_for}"))
    good = [f"{title}: {_GOOD[word]}" for word, title, _ in said if word in _GOOD]
    again = [f"{title}: {_AGAIN[word]} {words}".strip() for word, title, words in said if word in _AGAIN]
    return (*good, *again)


_GOOD = {AdviceWord.MENDED: "mended, well done.", AdviceWord.DONE: "done, well done."}
_AGAIN = {AdviceWord.NOT_MENDED: "not mended yet; once more:", AdviceWord.NOT_DONE: "not done yet; it still stands."}


def _word(state: StudyState, asked: AskedFor, about: str) -> AdviceWord:
    judged = state.advice.get((asked.letter, about))
    return judged.word if judged is not None else AdviceWord.NOT_SAID
