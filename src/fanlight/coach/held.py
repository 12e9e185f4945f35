"""Changes held to the rule on handling by their words: also what tells two causes apart, and what moves the probe."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from fanlight.coach.priorities import is_withheld, withheld_words
from fanlight.reference.handling import HandlingWords, Reach
from fanlight.study import Breathing, Correction


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


def _held(item: Correction, breathing: Breathing, words: HandlingWords) -> Correction:
    if _is_held(item.either, breathing, words):
        item = replace(item, either=f"It may be another cause. {withheld_words(breathing)}")
    if _is_held(item.correction, breathing, words):
        item = replace(item, correction="", withheld=withheld_words(breathing))
    return item


def _is_held(advice: str, breathing: Breathing, words: HandlingWords) -> bool:
    reach = words.reach(advice)
    return is_withheld(breathing, touches=reach is Reach.TOUCHES, moves=reach is Reach.MOVES)
