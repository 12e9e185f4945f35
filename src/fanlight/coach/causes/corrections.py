"""From causes to at most three changes: one movement of the hand and one setting lead."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from fanlight.coach.causes.find import weight_of
from fanlight.coach.priorities import withheld_words
from fanlight.reference.causes import CauseLimits, CauseRow
from fanlight.study import Breathing, CauseFound, CauseLevel, Correction, Criterion


def choose_corrections(
    found: Iterable[CauseFound],
    rows: Mapping[str, CauseRow],
    limits: CauseLimits,
    criteria: Mapping[str, Criterion],
    breathing: Breathing,
) -> tuple[Correction, ...]:
    """Return the changes that resolve most, the weightiest of hand and of console first.

    A movement is named only when its cause is as good as sure, since a wrong one spoils what was right; a setting
    sooner, since the picture answers at once. What the animal itself brings is never corrected.

    Parameters
    ----------
    found : iterable of CauseFound
        Of the study.
    rows : mapping of str to CauseRow
        Of the House, as are `limits` and `criteria`.
    breathing : Breathing
        From the request sheet; what touches the animal is advised only when it is normal.
    """
    named = [item for item in found if item.explains and _is_sure(item, limits)]
    named.sort(key=lambda item: (-weight_of(item, criteria), -item.probability, item.cause))
    first = [
        next((item for item in named if (item.level is CauseLevel.HAND) == is_hand), None) for is_hand in (True, False)
    ]
    leading = [item for item in named if item in first]
    chosen: list[CauseFound] = []
    for item in [*leading, *(other for other in named if other not in leading)]:
        if not any(item.cause in other.alternatives for other in chosen):  # "either … or" is said once
            chosen.append(item)
    return tuple(_correction(item, rows, breathing) for item in chosen[: limits.most])


def _is_sure(item: CauseFound, limits: CauseLimits) -> bool:
    if item.level is CauseLevel.ANIMAL:
        return False
    needed = limits.hand_from if item.level is CauseLevel.HAND else limits.console_from
    return item.probability >= needed or (bool(item.alternatives) and item.level is not CauseLevel.HAND)


def _correction(item: CauseFound, rows: Mapping[str, CauseRow], breathing: Breathing) -> Correction:
    row = rows[item.cause]
    is_normal = breathing is Breathing.NORMAL
    others = " or ".join(
        rows[key].title if rows[key].handling and not is_normal else f"{rows[key].title}: {rows[key].correction}"
        for key in item.alternatives
    )
    either = f"Or {others}. {item.tells_apart}" if others else ""
    withheld = row.handling and not is_normal
    return Correction(
        cause=item.cause, title=row.title, level=row.level, when=row.when,
        correction="" if withheld else row.correction, right_when=row.right_when, resolves=len(item.explains),
        clips=item.clips, is_habit=item.is_habit, either=either,
        withheld=withheld_words(breathing) if withheld else "",
    )  # fmt: skip
