"""Clips to scan again because the probe stood off their plane: the movement that is named is the change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from fanlight.coach.movements.advise import title_of
from fanlight.coach.retakes import Rescue, Retake, RetakeList
from fanlight.reference.movements import MovementTables
from fanlight.study import Breathing, Correction, StudyReview
from fanlight.study.sentence import capital


def with_retakes_of_movements(found: RetakeList, review: StudyReview, tables: MovementTables, most: int) -> RetakeList:
    """Return the retakes with one more for each movement of the probe that the draft names.

    A finding that a movement explains is asked for with it, and no second time by itself.

    Parameters
    ----------
    found : RetakeList
        Of this review.
    review : StudyReview
        The engine's draft, with its corrections.
    tables : MovementTables
        Of the House: which corrections are movements, and their weight.
    most : int
        Length limit; the weightiest stay.
    """
    moves = [item for item in review.corrections if title_of(item.cause, tables)]
    if not moves or review.study.request.breathing is Breathing.DISTRESSED:
        return found
    numbers = {item.clip.key: item.clip.number for item in review.readings}
    told = {(each.criterion, numbers[each.clip]) for item in moves for each in item.explains}
    left = [rest for item in found.retakes if (rest := _without(item, told)) is not None]
    retakes = [*left, *(_retake(item, numbers, tables) for item in moves)]
    retakes.sort(key=lambda item: (-item.weight, item.words))
    return replace(found, retakes=tuple(retakes[:most]))


def _without(item: Retake, told: set[tuple[str, int]]) -> Retake | None:
    """Return a retake without the clips whose finding a movement explains; None where no clip is left."""
    if not item.criterion:
        return item
    left = tuple(number for number in item.clip_numbers if (item.criterion, number) not in told)
    return replace(item, clip_numbers=left) if left else None


def _retake(item: Correction, numbers: Mapping[str, int], tables: MovementTables) -> Retake:
    clips = tuple(sorted(numbers[key] for key in item.clips))
    change = Rescue(
        cause=item.cause, title=item.title, level=item.level, when=item.when, correction=item.correction,
        right_when=item.right_when, clip_numbers=clips, withheld=item.withheld, either=item.either,
    )  # fmt: skip
    weight = max(row.weight for row in tables.rows.values() if row.key in item.cause.split("_or_"))
    return Retake(words=f"{capital(item.title)}.", clip_numbers=clips, weight=weight, change=change)
