"""The one change that would rescue a retake: from the causes behind the findings for which it is asked."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from fanlight.coach.priorities import is_withheld, withheld_words
from fanlight.coach.retakes import Rescue, Retake, RetakeList
from fanlight.reference.causes import CauseLimits, CauseRow
from fanlight.reference.handling import HandlingWords, Reach
from fanlight.study import Breathing, CauseFound, CauseLevel, StudyReview

NOT_SURE = "Which one change would rescue it is not sure enough to be named."


def with_rescues(
    found: RetakeList,
    review: StudyReview,
    rows: Mapping[str, CauseRow],
    limits: CauseLimits,
    words: HandlingWords,
    to_try: str = "",
) -> RetakeList:
    """Return the retakes, each with at most one change.

    The change belongs to a cause that is as sure as a correction must be and is the likeliest reason of the finding
    in question; of several, the one that would mend most clips of the retake, then the most probable. Of two causes
    that look alike, neither sure, none is named: there is time for one try. Where none is sure, a setting that is
    likely and undone at once is named as one to be tried.

    Parameters
    ----------
    found : RetakeList
        Of this review.
    review : StudyReview
        The engine's draft, with its causes.
    rows, limits
        What the House says of causes.
    words : HandlingWords
        By which a change is known to touch the animal, or to move the probe on one that fights for air.
    to_try : str
        What is said of a setting that is to be tried; "": none is named.
    """
    numbers = {item.clip.key: item.clip.number for item in review.readings}
    sure = [item for item in review.causes if _is_sure(item, rows[item.cause], limits)]
    likely = [item for item in review.causes if to_try and limits.is_worth_a_try(item, rows[item.cause])]
    breathing = review.study.request.breathing
    retakes = tuple(
        _rescued(item, sure, rows, numbers, breathing, words)
        or _rescued(item, likely, rows, numbers, breathing, words, to_try)
        or _without(item)
        for item in found.retakes
    )
    return replace(found, retakes=retakes)


def _is_sure(item: CauseFound, row: CauseRow, limits: CauseLimits) -> bool:
    return item.level is not CauseLevel.ANIMAL and not item.alternatives and limits.is_sure(item, row)


def _rescued(
    retake: Retake,
    known: Iterable[CauseFound],
    rows: Mapping[str, CauseRow],
    numbers: Mapping[str, int],
    breathing: Breathing,
    words: HandlingWords,
    to_try: str = "",
) -> Retake | None:
    mends = [(item, clips) for item in known if (clips := _mended(item, retake, numbers))]
    if not mends:
        return None
    best, clips = min(mends, key=lambda pair: (-len(pair[1]), -pair[0].probability, pair[0].cause))
    change = _change(best, rows[best.cause], clips, breathing, words)
    return replace(retake, change=change if change.withheld else replace(change, to_try=to_try))


def _without(retake: Retake) -> Retake:
    """Return a retake without a change; where something is missing, nothing went wrong that could be mended."""
    went_wrong = retake.criterion and retake.clip_numbers
    return replace(retake, no_change=NOT_SURE) if went_wrong else retake


def _mended(item: CauseFound, retake: Retake, numbers: Mapping[str, int]) -> tuple[int, ...]:
    found = {numbers[each.clip] for each in item.explains if each.criterion == retake.criterion}
    return tuple(sorted(found & set(retake.clip_numbers)))


def _change(
    item: CauseFound, row: CauseRow, clips: tuple[int, ...], breathing: Breathing, words: HandlingWords
) -> Rescue:  # fmt: skip
    reach = words.reach(row.correction)
    is_held = is_withheld(breathing, touches=row.handling or reach is Reach.TOUCHES, moves=reach is Reach.MOVES)
    return Rescue(
        cause=item.cause, title=row.title, level=row.level, when=row.when,
        correction="" if is_held else row.correction, right_when=row.right_when, clip_numbers=clips,
        withheld=withheld_words(breathing) if is_held else "",
    )  # fmt: skip
