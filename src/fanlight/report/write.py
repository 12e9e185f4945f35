"""Write a review: letter, summary and study sheet as HTML and PDF, and everything as JSON."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Protocol

from fanlight.reference.bibliography import read_bibliography
from fanlight.reference.criteria import read_criteria
from fanlight.reference.letter import read_excerpt_limits
from fanlight.reference.views import read_views
from fanlight.report.annotate import FrameSource
from fanlight.report.document import Advice, Block, Document, Moved, Paragraph, Voice
from fanlight.report.excerpt import PassageSource
from fanlight.report.html import render_html
from fanlight.report.json_file import review_as_plain, review_schema
from fanlight.report.letter import build_letter
from fanlight.report.movement.shown import movements_shown
from fanlight.report.moving import with_excerpts
from fanlight.report.pdf import render_pdf
from fanlight.report.study_sheet import build_study_sheet
from fanlight.report.summary import build_summary
from fanlight.study import House, StudyReview

LETTER_PAGES = 2
_USUAL_PT, _SMALL_PT = 10.0, 9.4  # of a letter's text
NO_ROOM = "Its pictures found no room on two pages; the desk shows them."


class PictureSource(FrameSource, PassageSource, Protocol):
    """Port: frames and passages of reviewed clips."""


def fit_letter(letter: Document) -> tuple[Document, bytes]:
    """Return the letter and its PDF, cut to two pages: smaller type first, then fewer pictures, then fewer
    points.

    A last page that smaller type saves held a few lines and nothing else: it is saved as well. A point that is left out
    of the letter stays on the study sheet; the letter says so.
    """
    shown = letter
    pdf, pages = render_pdf(shown, _USUAL_PT)
    if pages > 1:
        smaller, n_smaller = render_pdf(shown, _SMALL_PT)
        if n_smaller < pages or pages > LETTER_PAGES:
            pdf, pages = smaller, n_smaller
    if pages <= LETTER_PAGES:
        return shown, pdf
    # The simulated pairs go first: the words stand, and the drawing says which way. Then stills of what was scanned.
    moves = [place for place, item in enumerate(letter.blocks) if isinstance(item, Moved)]
    points = [place for place, item in enumerate(letter.blocks) if isinstance(item, Advice)]
    shorter = [
        *((_without_pair, place) for place in reversed(moves)),
        *((_without_figure, place) for place in reversed(points)),
        *((_without_drawing, place) for place in reversed(moves)),
    ]
    for shorten, place in shorter:
        if (less := shorten(shown, place)) == shown:
            continue
        shown = less
        pdf, pages = render_pdf(shown, _SMALL_PT)
        if pages <= LETTER_PAGES:
            return shown, pdf
    dropped = 0
    while points and pages > LETTER_PAGES:
        last = points.pop()
        dropped += 1
        note = Paragraph(text=f"{dropped} further point(s) stand on the study sheet.", voice=Voice.QUIET)
        rest = shown.blocks[last + 1 + (dropped > 1) :]
        shown = replace(shown, blocks=(*shown.blocks[:last], note, *rest))
        pdf, pages = render_pdf(shown, _SMALL_PT)
    return shown, pdf


def _without_figure(document: Document, place: int) -> Document:
    item = document.blocks[place]
    assert isinstance(item, Advice)
    return _with_block(document, place, replace(item, figure=None))


def _without_pair(document: Document, place: int) -> Document:
    item = document.blocks[place]
    assert isinstance(item, Moved)
    return _with_block(document, place, replace(item, pictures=(), note=NO_ROOM) if item.pictures else item)


def _without_drawing(document: Document, place: int) -> Document:
    item = document.blocks[place]
    assert isinstance(item, Moved)
    return _with_block(document, place, replace(item, drawings=(), pictures=(), note=NO_ROOM))


def _with_block(document: Document, place: int, block: Block) -> Document:
    return replace(document, blocks=(*document.blocks[:place], block, *document.blocks[place + 1 :]))


def write_review(
    review: StudyReview, house: House, frames: PictureSource, folder: Path, written_at: datetime
) -> tuple[Path, ...]:
    """Write all files of a review into a folder and return them, the letter first.

    Parameters
    ----------
    review : StudyReview
        The engine's draft.
    house : House
        Tables that the review was made with.
    frames : PictureSource
        Where pictures and moving excerpts come from.
    folder : Path
        Made when missing; files of an earlier run are replaced.
    written_at : datetime
        Printed on each page.

    Raises
    ------
    OSError
        When the folder cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    criteria = read_criteria(house)
    titles: Mapping[str, str] = {key: view.title for key, view in read_views(house).items()}
    citations = {key: work.words() for key, work in read_bibliography(house).items()}
    excerpts = read_excerpt_limits(house)
    movements = movements_shown(review, house)
    letter, letter_pdf = fit_letter(build_letter(review, frames, written_at, excerpts=excerpts, movements=movements))
    summary = build_summary(review, citations, house, written_at)
    sheet = build_study_sheet(review, criteria, dict(titles), citations, frames, house, written_at)
    written: list[Path] = []

    def write(name: str, data: bytes) -> None:
        # Whole or not at all: a reader never sees half a letter.
        final, part = folder / name, folder / f".{name}.part"
        part.write_bytes(data)
        part.replace(final)
        written.append(final)

    write("letter.pdf", letter_pdf)
    write("letter.html", render_html(with_excerpts(letter, frames, excerpts)).encode())
    for document in (summary, sheet):
        write(f"{document.key}.pdf", render_pdf(document)[0])
        write(f"{document.key}.html", render_html(document).encode())
    write("review.json", json.dumps(review_as_plain(review), indent=1, ensure_ascii=False).encode())
    write("review.schema.json", json.dumps(review_schema(), indent=1).encode())
    return tuple(written)
