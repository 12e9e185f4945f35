"""Changes, and what the ladder says, held to the rule on handling by their words, clause by clause."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

from fanlight.coach.priorities import is_withheld, withheld_words
from fanlight.reference.handling import HandlingWords, Reach
from fanlight.study import Breathing, Correction, Coverage, ValveLadder

_CLAUSES = re.compile(r"(?<=[.;:])\s+")


def held_changes(changes: Iterable[Correction], breathing: Breathing, words: HandlingWords) -> tuple[Correction, ...]:
    """Return the changes without what would touch the animal, or move the probe on one that fights for air.

    Parameters
    ----------
    changes : iterable of Correction
        As chosen.
    breathing : Breathing
        From the request sheet.
    words : HandlingWords
        Of the House.
    """
    return tuple(_held(item, breathing, words) for item in changes)


def held_coverage(cover: Coverage, breathing: Breathing, words: HandlingWords) -> Coverage:
    """Return a coverage whose ladders ask for no other window, and for nothing of the kind, unless breathing allows it.

    What is wrong is still said; the clause that says what to do about it gives way to why it is withheld.

    Parameters
    ----------
    cover : Coverage
        As held against the plan.
    breathing : Breathing
        From the request sheet.
    words : HandlingWords
        Of the House.
    """
    return replace(cover, ladders=tuple(_held_ladder(item, breathing, words) for item in cover.ladders))


def _held_ladder(ladder: ValveLadder, breathing: Breathing, words: HandlingWords) -> ValveLadder:
    return replace(
        ladder,
        notes=tuple(_held_note(note, breathing, words) for note in ladder.notes),
        findings=tuple(
            replace(item, words=_held_note(item.words, breathing, words)) for item in ladder.findings
        ),
    )  # fmt: skip


def _held_note(note: str, breathing: Breathing, words: HandlingWords) -> str:
    clauses = _CLAUSES.split(note)
    left = [clause for clause in clauses if not _is_held(clause, breathing, words)]
    if len(left) == len(clauses):
        return note
    return f"{' '.join(left).rstrip(' .;:')}. {withheld_words(breathing)}".lstrip(" .")


def _held(item: Correction, breathing: Breathing, words: HandlingWords) -> Correction:
    if _is_held(item.either, breathing, words):
        item = replace(item, either=f"It may be another cause. {withheld_words(breathing)}")
    if _is_held(item.correction, breathing, words):
        item = replace(item, correction="", withheld=withheld_words(breathing))
    return item


def _is_held(advice: str, breathing: Breathing, words: HandlingWords) -> bool:
    reach = words.reach(advice)
    return is_withheld(breathing, touches=reach is Reach.TOUCHES, moves=reach is Reach.MOVES)
