"""The few changes that would resolve most of what was decided, and the mentor's word on each. Pure.

They are drawn from decided findings and from landmarks that people named, so they come and go with them. A word belongs
to a cause: where nothing points to it any more, the word stands and is told as such, and the letter is silent. The
letter opens with so many as the House allows; what was thrown out makes room for the next.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from fanlight.coach.causes.corrections import as_a_try, choose_corrections
from fanlight.coach.held import held_changes
from fanlight.coach.movements.advise import Advised, title_of
from fanlight.reference.causes import read_cause_limits, read_causes, read_try_words
from fanlight.reference.criteria import read_criteria
from fanlight.reference.handling import read_handling
from fanlight.reference.movements import read_movements
from fanlight.report.causes import correction_words
from fanlight.review.advise import Moves, moves_of
from fanlight.store import ChangeWord, DocumentKind, StudyState
from fanlight.study import CauseFound, Correction, House, StudyReview


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A change that is proposed, or of which the mentor said something."""

    cause: str
    title: str
    word: ChangeWord
    correction: Correction | None  # None: nothing that was decided points to it any more
    found: CauseFound | None = None  # what it rests on; None where no cause of the table is behind it
    moved: Advised | None = None  # what it rests on, where the pose of the probe is behind it
    own: str = ""  # the mentor's words for it
    has_room: bool = True  # False: it was kept, and those before it fill the letter

    @property
    def is_in_letter(self) -> bool:
        """Whether the letter opens with it."""
        return self.word is ChangeWord.KEPT and self.correction is not None and self.has_room


@dataclass(frozen=True, slots=True, kw_only=True)
class _Known:
    """What a study points to, and how it is ranked."""

    review: StudyReview
    house: House
    found: Mapping[str, CauseFound]
    moved: Mapping[str, Advised]  # movements, and what may stand in the place of one
    moves: Moves

    def ranked(self, without: Collection[str] = ()) -> list[str]:
        """Return all that is sure enough to be proposed: one of hand and one of console first."""
        limits = replace(read_cause_limits(self.house), most=len(self.found) + len(self.moved) + 1)
        causes = (item for item in self.review.causes if item.cause not in without)
        moves = (item.candidate for item in self.moves.said if item.candidate.correction.cause not in without)
        rows, criteria = read_causes(self.house), read_criteria(self.house)
        chosen = choose_corrections(
            causes, rows, limits, criteria, self.review.study.request.breathing, tuple(moves),
            to_try=read_try_words(self.house),
        )  # fmt: skip
        return [item.cause for item in chosen]

    def is_there(self, cause: str) -> bool:
        """Return whether something points to it, and something can be done about it."""
        found = self.found.get(cause)
        is_cause = found is not None and correction_of(found, self.review, self.house) is not None
        return is_cause or cause in self.moved


def changes_of(review: StudyReview, state: StudyState, house: House) -> tuple[Change, ...]:
    """Return what is proposed in its order, each that the mentor spoke of in its place, and last what is gone.

    Parameters
    ----------
    review : StudyReview
        Of `for_papers`: decided findings only.
    """
    known = _known(review, house)
    said = {cause: item.word for cause, item in state.changes.items()}
    out = {cause for cause, word in said.items() if word is ChangeWord.THROWN_OUT}
    order = known.ranked(out)
    order += [cause for cause, word in said.items() if word is ChangeWord.KEPT and cause not in order]
    kept = [cause for cause in order if cause in said and known.is_there(cause)]
    most = read_cause_limits(house).most
    proposed = [cause for cause in order if cause not in said][: max(most - len(kept), 0)]
    listed = [cause for cause in order if cause in kept or cause in proposed]
    for place, cause in enumerate(known.ranked()):  # it stays where the mentor's hand left it
        if cause in out:
            listed.insert(min(place, len(listed)), cause)
    listed += [cause for cause in said if cause not in listed]
    return tuple(_change(cause, known, state, listed, has_room=cause not in kept[most:]) for cause in listed)


def _known(review: StudyReview, house: House) -> _Known:
    moves = moves_of(review.stands, review.readings, house, review.study.request.breathing)
    moved = {item.candidate.correction.cause: item for item in (*moves.others, *moves.said)}
    found = {item.cause: item for item in review.causes}
    return _Known(review=review, house=house, found=found, moved=moved, moves=moves)


def _change(cause: str, known: _Known, state: StudyState, listed: Collection[str], *, has_room: bool) -> Change:
    said = state.changes.get(cause)
    behind, moved = known.found.get(cause), known.moved.get(cause)
    correction = moved.candidate.correction if moved else None
    if behind is not None:
        # "Either … or" is said of what nobody has spoken of: the mentor's word settles it.
        open_ones = tuple(each for each in behind.alternatives if each not in state.changes and each not in listed)
        is_tried = read_cause_limits(known.house).is_worth_a_try(behind, read_causes(known.house)[cause])
        behind = replace(behind, alternatives=open_ones)
        correction = correction_of(behind, known.review, known.house)
        if correction is not None and is_tried:
            correction = as_a_try(correction, read_try_words(known.house))
    return Change(
        cause=cause, title=correction.title if correction else _title(cause, known.house),
        word=said.word if said else ChangeWord.NOT_SAID, correction=correction,
        found=behind if correction else None, moved=moved, has_room=has_room,
        own=state.texts.get((DocumentKind.LETTER, part_of(cause)), ""),
    )  # fmt: skip


def _title(cause: str, house: House) -> str:
    """Return the title of what nothing points to now."""
    rows = read_causes(house)
    if cause in rows:
        return rows[cause].title
    return title_of(cause, read_movements(house)) or f'a change that this house does not know any more ("{cause}")'


def correction_of(found: CauseFound, review: StudyReview, house: House) -> Correction | None:
    """Return what to do about a cause, however sure it is: the mentor is the one who says that it acts."""
    limits = replace(read_cause_limits(house), console_from=0.0, hand_from=0.0)
    rows, criteria = read_causes(house), read_criteria(house)
    breathing = review.study.request.breathing
    chosen = choose_corrections((found,), rows, limits, criteria, breathing)
    return next(iter(held_changes(chosen, breathing, read_handling(house))), None)


def part_of(cause: str) -> str:
    """Return the name under which the words of a change are edited."""
    return f"change:{cause}"


def in_letter(review: StudyReview, state: StudyState, house: House) -> tuple[Change, ...]:
    """Return the changes that the letter opens with: kept by the mentor, pointed to by decided findings, not too many.

    Parameters
    ----------
    review : StudyReview
        Of `for_papers`: decided findings only.
    """
    return tuple(item for item in changes_of(review, state, house) if item.is_in_letter)


def kept_changes(review: StudyReview, state: StudyState, house: House) -> tuple[str, ...]:
    """Return the changes that the letter opens with, as it prints them."""
    return tuple(
        correction_words(item.correction, review, item.own)
        for item in in_letter(review, state, house)
        if item.correction is not None
    )


def no_room(review: StudyReview, state: StudyState, house: House, cause: str) -> tuple[str, ...]:
    """Return the titles of the kept changes that leave no room for this one; none where there is room."""
    others = [item.title for item in in_letter(review, state, house) if item.cause != cause]
    return tuple(others) if len(others) >= read_cause_limits(house).most else ()
