"""What the numbers of a study mean together, on paper: stages and scores, support of a limit, change, discordances."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from fanlight.report.document import Block, Grid, Heading, Items, Paragraph, Voice
from fanlight.study import GradingResult, Meaning, Remark
from fanlight.study.sentence import capital

_KEY = re.compile(r"\b[A-Z][A-Z0-9_]{2,}\b")  # as the bibliography writes its keys
TITLE = "What the numbers mean together"
# Said wherever a stage or a score stands.
GRADED = (
    "Stages, scores and grades follow from what the mentor named and from the numbers above; they support the "
    "veterinarian's judgement and replace none. Decide no treatment by one of them alone."
)


def waiting_words(meaning: Meaning) -> str:
    """Return why stages and scores stay empty, "" where lesion, failure status and treatment are named."""
    if not meaning.waits_for:
        return ""
    *first, last = meaning.waits_for
    names = f"{', '.join(first)} and {last}" if first else last
    return f"Stages and scores stay empty until the mentor has named {names} (on the desk, or [named] in a marks file)."


def remark_words(item: Remark) -> str:
    """Return a remark with the slip that its numbers show, and its source."""
    likely = f" Likely: {item.likely}." if item.likely else ""
    return f"{item.words}{likely}{f' [{item.citation}]' if item.citation else ''}"


def result_words(item: GradingResult) -> str:
    """Return a grading's result, or that it is empty and why."""
    return item.result or f"empty: {item.reason}"


def meaning_blocks(meaning: Meaning, citations: Mapping[str, str], *, whole: bool = False) -> list[Block]:
    """Return what the numbers mean together.

    Parameters
    ----------
    meaning : Meaning
        Of a study.
    citations : mapping of str to str
        Printed form of each source by its key.
    whole : bool
        For the study sheet. Else, for the clinical summary, what rests on numbers that are kept off it is left out,
        and so is what tells of a reading rather than of the heart.
    """
    gradings = [item for item in meaning.gradings if whole or not item.sheet_only]
    remarks = [item for item in meaning.remarks if whole or not (item.sheet_only or item.about_reading)]
    waiting = waiting_words(meaning) if whole or meaning.named else ""
    if not gradings and not remarks and not waiting:
        return []
    blocks: list[Block] = [Heading(text=TITLE)]
    if remarks:
        blocks.append(Items(entries=tuple(remark_words(item) for item in remarks), voice=Voice.ENGINE))
    if waiting:
        blocks.append(Paragraph(text=waiting, voice=Voice.QUIET))
    if gradings:
        blocks.append(Paragraph(lead="Named by", text=f"{meaning.named}.", voice=Voice.GIVEN))
        rows = tuple((item.title, capital(result_words(item)), _inputs(item), _source(item)) for item in gradings)
        head = ("Stage or score", "Result", "Inputs", "Source and caution")
        blocks.append(Grid(head=head, rows=rows, widths=(0.14, 0.24, 0.31, 0.31)))
        blocks.append(Paragraph(text=GRADED, voice=Voice.CAUTION))
    return [*blocks, *_sources(gradings, remarks, citations)]


def _inputs(item: GradingResult) -> str:
    used = f"Used: {'; '.join(item.used)}." if item.used else "Used: what was named."
    missing = f"Missing: {'; '.join(item.missing)}." if item.missing else "Missing: nothing."
    return " ".join((used, missing, *item.notes))


def _source(item: GradingResult) -> str:
    return f"{item.citation}, {item.status}. {item.caution}"


def _sources(gradings: Iterable[GradingResult], remarks: Iterable[Remark], citations: Mapping[str, str]) -> list[Block]:
    """Return every work that a cell or a remark names by its key."""
    texts = [remark_words(item) for item in remarks]
    texts += [text for item in gradings for text in (item.result, _inputs(item), _source(item))]
    keys = sorted({word for text in texts for word in _KEY.findall(text) if word in citations})
    listed = tuple(f"{key}: {citations[key]}" for key in keys)
    return [Heading(text="Sources of these", level=3), Items(entries=listed, voice=Voice.QUIET)] if listed else []
