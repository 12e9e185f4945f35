"""What stands in the way of a signature, the gravest first."""

from __future__ import annotations

from collections.abc import Collection
from http import HTTPStatus

from fanlight.desk.desk import Desk
from fanlight.desk.errors import DeskError
from fanlight.reference.views import read_views
from fanlight.report import words
from fanlight.store import DocumentKind, StudyState, is_unread, unread_clips, unread_files
from fanlight.store.actions import SetExercise
from fanlight.study import StudyReview

_NAMED = 6  # engineering judgement: as many names as a person reads in a message
_AGAIN = "Have the study read again, then sign."


def refused(what: str, where: str, remedy: str) -> DeskError:
    """Return the error for a signature that cannot be given."""
    return DeskError(HTTPStatus.CONFLICT, what, where, remedy)


def check(
    desk: Desk, study: str, draft: StudyReview, state: StudyState, kind: DocumentKind, exercise: SetExercise | None
) -> None:
    """Raise what stands in the way of a signature."""
    if draft.study.mismatches:
        raise refused(
            f"files disagree about {words.differing(draft.study.mismatches)}: {'; '.join(draft.study.mismatches)}",
            "animal",
            "Find out which animal this is, and send the study again without the files of the other one.",
        )
    check_read(desk, study)
    if state.open_calls:
        finding = state.open_calls[0].opened.finding.rstrip(".")
        raise refused(
            f"an urgent finding waits for its call: {finding}",
            "call",
            "Call, write down whom and what was said, and that it was understood; then sign.",
        )
    if kind is DocumentKind.LETTER:
        _check_letter(desk, state, exercise)


def check_read(desk: Desk, study: str) -> None:
    """Raise when not all that was sent is read. A file that was refused stands in no way: it is named, and done."""
    engine = desk.engine.state(study)
    if engine.state != "idle":
        raise refused("clips are still being read", f"study {study}", "Sign when all clips were read.")
    if engine.error is not None:
        unread = _unread(desk, study)
        left = f"; not read: {_some(unread)}" if unread else ""
        raise refused(f"the engine gave up on this study: {engine.error.what}{left}", f"study {study}", _AGAIN)
    if is_unread(desk.store, study):
        names = _some(unread_files(desk.store, study)) or "a scale that was marked"
        raise refused(f"not read yet: {names}", f"study {study}", _AGAIN)


def _unread(desk: Desk, study: str) -> frozenset[str]:
    clips = unread_clips(desk.store, study, house=desk.house.fingerprint()) or ()
    return unread_files(desk.store, study) | {clip.name for clip in clips}


def _some(names: Collection[str]) -> str:
    shown = sorted(names)[:_NAMED]
    more = len(names) - len(shown)
    return ", ".join(shown) + (f" and {more} more" if more else "")


def _check_letter(desk: Desk, state: StudyState, exercise: SetExercise | None) -> None:
    if DocumentKind.SUMMARY not in state.signed:
        raise refused("the summary is not signed yet", "summary", "Sign the summary first: an animal waits for it.")
    if exercise is None:
        raise refused(
            "the next exercise is missing", "exercise", "Say which view, what to look for, how often and by when."
        )
    if exercise.view not in read_views(desk.house):
        raise refused(f"there is no view {exercise.view!r}", "exercise", "Choose a view of the list.")
