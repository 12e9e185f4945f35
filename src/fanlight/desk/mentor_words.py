"""What the mentor said, as letter and summary print it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fanlight.desk.mentor_ticks import shown_in_clips
from fanlight.reference.criteria import read_criteria
from fanlight.reference.letter import read_letter_limits
from fanlight.reference.views import read_views
from fanlight.report import words
from fanlight.report.mentor import Cited, MentorWords, Signature
from fanlight.store import DocumentKind, JudgedStructure, Judgement, StudyState
from fanlight.store.actions import AddFinding, OverruleFinding, SetExercise
from fanlight.study import Criterion, House, StudyReview, Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class _Names:
    criteria: Mapping[str, Criterion]
    titles: Mapping[str, str]
    numbers: Mapping[str, int]

    def place(self, clip: str) -> str:
        if not clip:
            return "The study as a whole"
        number = self.numbers.get(clip)
        return f"Clip {number}" if number else "A clip that is no longer there"


def mentor_words(
    draft: StudyReview,
    state: StudyState,
    house: House,
    kind: DocumentKind,
    signature: Signature | None = None,
    since_last: tuple[str, ...] = (),
    changes: tuple[str, ...] = (),
) -> MentorWords:
    """Return the mentor's part of a paper.

    Parameters
    ----------
    draft : StudyReview
        Says how clips are numbered.
    kind : DocumentKind
        The exercise stands in the letter, structures in the summary.
    signature : Signature, optional
        None while it is not signed.
    since_last : tuple of str
        What became of the last letter's advice; stands in the letter.
    changes : tuple of str
        The changes that were kept, in words; they open the letter.
    """
    views = read_views(house)
    names = _Names(
        criteria=read_criteria(house),
        titles={key: view.title for key, view in views.items()},
        numbers={clip.key: clip.number for clip in draft.study.clips},
    )
    is_letter = kind is DocumentKind.LETTER
    judged = {name: item for name, item in state.structures.items() if item.judgement is not Judgement.NOT_ASSESSED}
    added = [_added(item, names) for item in state.added.values()]
    overruled = [
        _overruled(item, names) for item in state.decisions.values() if is_letter and isinstance(item, OverruleFinding)
    ]
    return MentorWords(
        opening=state.texts.get((kind, "opening"), ""),
        closing=state.texts.get((kind, "closing"), ""),
        since_last=since_last if is_letter else (),
        changes=changes if is_letter else (),
        findings=tuple(added + overruled),
        cited=tuple(
            Cited(clip=item.clip, title=words.first_sentences(item.words, 1).rstrip("."), evidence=item.evidence)
            for item in state.added.values()
            if is_letter and item.clip
        ),
        shown=shown_in_clips(draft, state, views),
        views_max=read_letter_limits(house).views_max,
        structures=tuple(
            (str(name), f"{item.judgement}{f': {item.words}' if item.words else ''}") for name, item in judged.items()
        ),
        not_assessed=tuple(str(name) for name in JudgedStructure if name not in judged),
        exercise=exercise_words(state.exercise, names.titles) if is_letter and state.exercise else "",
        signature=signature,
    )


def _added(item: AddFinding, names: _Names) -> str:
    return f"{names.place(item.clip)}: {item.words}"


def _overruled(item: OverruleFinding, names: _Names) -> str:
    criterion = names.criteria.get(item.criterion)
    title = criterion.title if criterion else item.criterion
    verdict = "not to be judged" if item.verdict is Verdict.NOT_ASSESSABLE else str(item.verdict)
    return f"{names.place(item.clip)}, {title[:1].lower()}{title[1:]}: {verdict}. {item.reason}"


def exercise_words(item: SetExercise, titles: Mapping[str, str]) -> str:
    """Return the next exercise in a sentence."""
    due = f", until {item.due.day} {item.due:%B %Y}" if item.due else ""
    view = titles.get(item.view, item.view)
    sought = item.look_for.rstrip(".")
    return f"{words.count(item.repetitions, 'time')} the view “{view}”{due}. Look for: {sought}."
