"""What stands behind the findings on paper: the few changes that would resolve most, and the causes with their odds."""

from __future__ import annotations

from collections.abc import Mapping

from fanlight.report import words
from fanlight.report.document import Block, Grid, Heading, Paragraph, Voice
from fanlight.report.followed import record_words
from fanlight.report.movement.shown import NO_MOVEMENTS, Movements, with_movements
from fanlight.study import CauseFound, CauseLevel, Correction, StudyReview, about_cause
from fanlight.study.sentence import capital

_LEVELS: Mapping[CauseLevel, str] = {
    CauseLevel.CONSOLE: "console", CauseLevel.HAND: "hand and contact", CauseLevel.RECORD: "export",
    CauseLevel.ANIMAL: "the animal",
}  # fmt: skip
_CHANGES = "What would change most"
_CHOSEN = "Drawn from all findings that were kept; chosen by the mentor."
_PROPOSED = "From all findings together; which change comes first, the mentor decides."
# In words, since a stated probability promises more than it holds: of 0.99 and more 9 in 10 held on simulated studies,
# of 0.8 to 0.95 one in two (docs/causes.md).
_HOW_LIKELY = ((0.99, "very likely"), (0.95, "likely"), (0.0, "perhaps"))


def correction_blocks(review: StudyReview, movements: Movements = NO_MOVEMENTS) -> list[Block]:
    """Return the changes that would resolve most findings, nothing where no cause is sure enough."""
    if not review.corrections:
        return []
    entries = [(item.cause, correction_words(item, review)) for item in review.corrections]
    listed = with_movements(entries, movements, Voice.ENGINE)
    return [Heading(text=_CHANGES), *listed, Paragraph(text=_PROPOSED, voice=Voice.QUIET)]


def chosen_blocks(
    changes: tuple[str, ...], causes: tuple[str, ...] = (), movements: Movements = NO_MOVEMENTS
) -> list[Block]:
    """Return the changes that the mentor kept, each in words; nothing where none was.

    Parameters
    ----------
    changes : tuple of str
        Their words.
    causes : tuple of str
        The cause of each, in the same order; those of movements get pictures. Empty: of none it is known.
    """
    if not changes:
        return []
    entries = list(zip(causes or ("",) * len(changes), changes, strict=True))
    listed = with_movements(entries, movements, Voice.PLAIN)
    return [Heading(text=_CHANGES), *listed, Paragraph(text=_CHOSEN, voice=Voice.QUIET)]


def correction_words(item: Correction, review: StudyReview, own: str = "") -> str:
    """Return one change in two or three sentences: what it resolves, when, what to do, when it is right.

    Parameters
    ----------
    own : str
        The mentor's words in place of the proposed ones; not where advice is withheld.
    """
    numbers = {reading.clip.key: reading.clip.number for reading in review.readings}
    where = words.clips(numbers[key] for key in item.clips)
    # Of what is only perhaps there it is not certain either.
    runs = " If so, it runs through the study." if item.to_try else " It runs through the study."
    habit = runs if item.is_habit else ""
    behind = f"; behind {words.count(item.resolves, 'finding', 'findings')}" if item.resolves else ""
    said = own if own and not item.withheld else advice_words(item)
    before = record_words(review.follow_up, about_cause(item.cause))
    record = f" {capital(before)}." if before else ""
    title = f"perhaps {item.title}" if item.to_try else item.title
    return f"{capital(title)} ({where}{behind}).{habit} {said}{record}"


def advice_words(item: Correction) -> str:
    """Return when a change is due, what to do, when it is right, whether it is to be tried, and what else it may be."""
    said = f"When {item.when}: {item.correction}. Right when {item.right_when}."
    if item.to_try:
        said = f"{item.to_try} {said}"
    if item.withheld:
        said = f"When {item.when}. {item.withheld}"
    return f"{said} {item.either}" if item.either else said


def cause_blocks(review: StudyReview) -> list[Block]:
    """Return the table of causes for the study sheet."""
    if not review.causes:
        return []
    return [
        Heading(text="What stands behind the findings"),
        Grid(
            head=("Cause", "Where it sits", "How likely", "Explains", "Clips"),
            rows=tuple(_row(item, review) for item in review.causes),
            widths=(0.28, 0.15, 0.12, 0.25, 0.2),
        ),
        Paragraph(
            text="How likely was learnt from simulated animals, where nine in ten of the very likely ones were there; "
            "real machines and hands differ. A cause that is not listed is not ruled out: only what the judged "
            "criteria can tell apart stands here.",
            voice=Voice.QUIET,
        ),
    ]


def _row(item: CauseFound, review: StudyReview) -> tuple[str, ...]:
    numbers = {reading.clip.key: reading.clip.number for reading in review.readings}
    criteria = tuple(dict.fromkeys(each.criterion.replace("_", " ") for each in item.explains))
    title = item.title + (" (runs through the study)" if item.is_habit else "")
    if item.tells_apart:
        title += f". {item.tells_apart}"
    return (
        capital(title), level_words(item.level), likely_words(item.probability),
        f"{words.count(len(item.explains), 'finding', 'findings')}: {', '.join(criteria)}" if criteria else "–",
        words.clips(numbers[key] for key in item.clips) if item.clips else "–",
    )  # fmt: skip


def level_words(level: CauseLevel) -> str:
    """Return where a cause sits."""
    return _LEVELS[level]


def likely_words(probability: float) -> str:
    """Return how likely a cause acts, in words."""
    return next(said for least, said in _HOW_LIKELY if probability >= least)
