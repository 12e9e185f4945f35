"""Letter and summary: living previews, and signing, which freezes bytes and keeps their hash."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanlight.desk.addendum import changed_since
from fanlight.desk.advice_record import follow_up, record_part
from fanlight.desk.as_left import as_left
from fanlight.desk.blind import hidden_of
from fanlight.desk.changes import kept_changes
from fanlight.desk.changes_page import plain_changes
from fanlight.desk.decided import for_papers
from fanlight.desk.desk import Desk
from fanlight.desk.frames import FrameReaders
from fanlight.desk.last_letter import asked_before, since_last
from fanlight.desk.mentor_words import mentor_words
from fanlight.desk.movement_pictures import kept_movements, plain_movement
from fanlight.desk.points import letter_points
from fanlight.desk.sign_checks import check, check_read, refused
from fanlight.desk.unconfirmed import with_unconfirmed
from fanlight.reference.bibliography import read_bibliography
from fanlight.reference.letter import read_excerpt_limits
from fanlight.report import words
from fanlight.report.document import Document as Paper
from fanlight.report.excerpt import CutPassage, Cutting
from fanlight.report.html import render_html
from fanlight.report.letter import build_letter
from fanlight.report.mentor import Signature
from fanlight.report.moving import with_excerpts
from fanlight.report.passage import Passage
from fanlight.report.pdf import render_pdf
from fanlight.report.summary import build_summary
from fanlight.report.write import fit_letter
from fanlight.store import (
    Document,
    DocumentKind,
    Entry,
    MovedError,
    NewPart,
    UnknownRowError,
    UsedIdError,
    add_entry,
    documents_of,
    entries_of,
    fold,
    need_newest,
    read_document,
    sign_document,
)
from fanlight.store.actions import SetExercise
from fanlight.study import StudyReview
from fanlight.study.codec import to_plain

_TRIES = 3  # engineering judgement: who acts in a study again and again while it is signed can wait


@dataclass(frozen=True, slots=True, kw_only=True)
class Signing:
    """What a page sends to have a paper signed."""

    id: str  # UUID made by the page: the paper's
    author: str
    kind: DocumentKind
    exercise: SetExercise | None = None
    supersedes: str = ""  # id of the newest version that the author has seen


@dataclass(frozen=True, slots=True)
class _StudyFrames:
    """Pictures of one study, for the report."""

    readers: FrameReaders
    study: str

    def frame(self, clip: str, frame: int) -> NDArray[np.uint8] | None:
        return self.readers.pixels(self.study, clip, frame)

    def cut(self, passage: Passage, cutting: Cutting) -> CutPassage:
        return self.readers.cut(self.study, passage, cutting)


def preview(desk: Desk, study: str, kind: DocumentKind) -> str:
    """Return the paper as it stands now, as one HTML page: decided findings only, and not signed."""
    draft = _need_draft(desk, study)
    return render_html(_paper(desk, study, draft, entries_of(desk.store, study), kind, None))


def corrections(desk: Desk, study: str) -> list[dict[str, Any]]:
    """Return the corrections that could stand in the letter, in its order; `draft` has the words that were proposed."""
    draft = desk.own_draft(study)
    if draft is None:
        return []
    log = entries_of(desk.store, study)
    review, state = decided_in(desk, study, draft, log), fold(log)
    bare = {
        (item.criterion, item.side): item for item, _ in letter_points(review, replace(state, texts={}), desk.house)
    }
    return [
        {**to_plain(item), "stands": stands, "draft": to_plain(bare[(item.criterion, item.side)])}
        for item, stands in letter_points(review, state, desk.house)
    ]


def changes(desk: Desk, study: str) -> list[dict[str, Any]]:
    """Return the few changes that would resolve most of the findings that were decided, and what they rest on."""
    draft = desk.own_draft(study)
    if draft is None:
        return []
    log = entries_of(desk.store, study)
    return plain_changes(decided_in(desk, study, draft, log), fold(log), desk.house)


def decided_in(desk: Desk, study: str, draft: StudyReview, log: Sequence[Entry]) -> StudyReview:
    """Return what of a draft is decided, as a log stood at some time."""
    hidden = hidden_of(desk, study, (item.clip.key for item in draft.readings), log)
    return for_papers(as_left(draft, fold(log), desk.house, hidden))


def movement(desk: Desk, study: str, cause: str) -> dict[str, Any]:
    """Return the pictures of one change, if it is a movement of the probe."""
    draft = _need_draft(desk, study)
    log = entries_of(desk.store, study)
    return plain_movement(decided_in(desk, study, draft, log), fold(log), desk.house, cause)


def sign(desk: Desk, study: str, signing: Signing) -> Document:
    """Freeze a paper and keep it; the same request again returns the same paper.

    Raises
    ------
    DeskError
        When something stands in the way; it names what, and what to do.
    """
    for left in reversed(range(_TRIES)):
        if (there := _signed_before(desk, study, signing)) is not None:
            return there
        try:
            return _sign_once(desk, study, signing)
        except (MovedError, UsedIdError):  # an act, or the same request again, came while the paper was being made
            if not left:
                raise
    raise AssertionError("the last try returns or raises")


def _sign_once(desk: Desk, study: str, signing: Signing) -> Document:
    """Make the paper and sign it; MovedError when anything was done meanwhile, as it may stand in the way."""
    if not signing.author.strip():
        raise refused("a signature needs a name", "author", "Enter your name first.")
    draft = _need_draft(desk, study)
    log = entries_of(desk.store, study)
    state = fold(log)
    exercise = signing.exercise or state.exercise
    need_newest(desk.store, study, signing.kind, signing.supersedes)
    check(desk, study, draft, state, signing.kind, exercise)
    if signing.exercise is not None and signing.exercise != state.exercise:
        entry = str(uuid.uuid5(uuid.UUID(signing.id), f"exercise {len(log)}"))
        add_entry(desk.store, study, signing.exercise, author=signing.author, entry=entry)
        log = entries_of(desk.store, study)
        state = fold(log)
        check(desk, study, draft, state, signing.kind, exercise)
    earlier = [item for item in documents_of(desk.store, study) if item.kind is signing.kind]
    signature = _signature(desk, study, draft, log, signing, earlier)
    paper = _paper(desk, study, draft, log, signing.kind, signature)
    parts = _frozen(desk, study, paper, signing.kind)
    if signing.kind is DocumentKind.LETTER:
        record = record_part(desk, study, decided_in(desk, study, draft, log), state)
        parts += [record] if record else []
    check_read(desk, study)  # a file may have come meanwhile, which is no entry
    if desk.draft(study) != draft:
        raise MovedError(f"study {study}", "it was read again meanwhile", "Look at the paper and sign again.")
    return sign_document(
        desk.store, study, signing.kind, parts, author=signing.author, document=signing.id,
        supersedes=signing.supersedes, last_entry=log[-1].id if log else "",
    )  # fmt: skip


def _signed_before(desk: Desk, study: str, signing: Signing) -> Document | None:
    try:
        there = read_document(desk.store, signing.id)
    except UnknownRowError:
        return None
    if (there.study, there.kind, there.author) != (study, signing.kind, signing.author):
        raise refused("this id stands for another signed paper", "id", "Load the study anew and sign again.")
    return there


def _need_draft(desk: Desk, study: str) -> StudyReview:
    draft = desk.draft(study)
    if draft is None:
        raise refused("its files are not read yet", f"study {study}", "Wait until the first clip was read.")
    return draft


def _signature(
    desk: Desk, study: str, draft: StudyReview, log: Sequence[Entry], signing: Signing, earlier: list[Document]
) -> Signature:
    """Return the line under the paper; an addendum also says what it replaces and what it changed."""
    on = words.when(datetime.now().astimezone())
    if not earlier:
        return Signature(author=signing.author, on=on)
    last = earlier[-1]
    at = last.signed_at.astimezone()

    def build(held: Sequence[Entry]) -> Paper:
        return _paper(desk, study, draft, held, signing.kind, None)

    return Signature(
        author=signing.author, on=on, version=len(earlier) + 1,
        replaces=f"{last.author} signed on {words.when(at)} at {at:%H:%M}",
        changed=changed_since(desk.store, study, last, build(log), build),
    )  # fmt: skip


def _paper(
    desk: Desk, study: str, draft: StudyReview, log: Sequence[Entry], kind: DocumentKind, signature: Signature | None
) -> Paper:
    now = datetime.now().astimezone()
    hidden = hidden_of(desk, study, (item.clip.key for item in draft.readings), log)
    state = fold(log)
    left = as_left(draft, state, desk.house, hidden)
    review = with_unconfirmed(for_papers(left), left)
    advice = (
        since_last(asked_before(desk, study, waits=True), state) if kind is DocumentKind.LETTER and state.advice else ()
    )
    if kind is DocumentKind.LETTER:
        review = replace(review, follow_up=follow_up(desk, study, review, state))
    changes = kept_changes(review, state, desk.house) if kind is DocumentKind.LETTER else ()
    mentor = mentor_words(draft, left.state, desk.house, kind, signature, advice, changes)
    if kind is DocumentKind.LETTER:
        causes, moves = kept_movements(review, state, desk.house)
        mentor = replace(mentor, change_causes=causes)
        frames = _StudyFrames(desk.frames, study)
        return build_letter(review, frames, now, mentor, read_excerpt_limits(desk.house), moves)
    citations = {key: work.words() for key, work in read_bibliography(desk.house).items()}
    return build_summary(review, citations, desk.house, now, mentor)


def _frozen(desk: Desk, study: str, paper: Paper, kind: DocumentKind) -> list[NewPart]:
    """Return PDF and HTML of a paper; the letter keeps to its two pages in both, and plays its excerpts in HTML."""
    if kind is DocumentKind.LETTER:
        paper, pdf = fit_letter(paper)
        moving = with_excerpts(paper, _StudyFrames(desk.frames, study), read_excerpt_limits(desk.house))
        page = render_html(moving)
    else:
        pdf, page = render_pdf(paper)[0], render_html(paper)
    return [
        NewPart(name=f"{kind.value}.pdf", media_type="application/pdf", data=pdf),
        NewPart(name=f"{kind.value}.html", media_type="text/html", data=page.encode()),
    ]
