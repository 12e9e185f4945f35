"""Numbers that the engine took by itself, on papers: always with their error, and as nobody's word yet."""

from __future__ import annotations

from collections.abc import Mapping

from fanlight.report import words
from fanlight.report.document import Block, Grid, Heading, Items, Paragraph, Voice
from fanlight.report.measurements import meaning_of, standing_blocks
from fanlight.study import StudyReview, Unconfirmed
from fanlight.study.sentence import capital
from fanlight.validity.measured import is_bound

TITLE = "Measured by the engine, not confirmed"
_SUMMARY = (
    "A program took these numbers by itself, and nobody has looked at where it laid its lines: they are to be "
    "confirmed. ± is one standard deviation, held against simulated animals only. They are no finding and name no "
    "disease: measure them by hand before anything rests on them. The veterinarian decides."
)
AGAIN = "Numbers to measure again"
_LETTER = (
    "Calipers that the engine laid by itself, not confirmed, say otherwise or lie near a limit. Either number may be "
    "the wrong one: set the calipers once more. This says nothing of disease; that is for the veterinarian."
)


def unconfirmed_blocks(review: StudyReview, symbols: Mapping[str, str]) -> list[Block]:
    """Return the numbers for the clinical summary, none where there are none."""
    if not review.unconfirmed.numbers:
        return []
    rows = tuple(
        (
            f"{symbols.get(item.name, item.label)} (by the engine, not confirmed, {item.clip})",
            words.with_error(item.value, item.unit, item.uncertainty),
            f"{capital(item.validity.split(':')[0])}. {meaning_of(item)}" if is_bound(item) else meaning_of(item),
        )
        for item in review.unconfirmed.numbers
        if item.value is not None
    )
    return [
        Heading(text=TITLE, level=3),
        Grid(head=("Quantity", "Value", "Meaning, and by which source"), rows=rows, widths=(0.34, 0.16, 0.5)),
        *standing_blocks(review.unconfirmed.numbers, symbols),
        Paragraph(text=_SUMMARY, voice=Voice.CAUTION),
    ]


def look_again_blocks(told: Unconfirmed) -> list[Block]:
    """Return, for the letter, which numbers the engine's calipers contradict and which lie near a limit."""
    if not told.look_again:
        return []
    return [
        Heading(text=AGAIN),
        Items(entries=told.look_again, voice=Voice.ENGINE),
        Paragraph(text=_LETTER, voice=Voice.CAUTION),
    ]
