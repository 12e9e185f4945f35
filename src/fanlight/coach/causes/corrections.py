"""From causes to at most three changes: one movement of the hand and one setting lead, what is to be tried ends."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from fanlight.coach.causes.animal import animal_words
from fanlight.coach.causes.find import weight_of
from fanlight.coach.priorities import withheld_words
from fanlight.reference.causes import CauseLimits, CauseRow
from fanlight.study import Breathing, CauseFound, CauseLevel, Correction, Criterion


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A change that is sure enough to be named, and how much it would resolve."""

    correction: Correction
    weight: float
    probability: float
    rivals: tuple[str, ...] = ()  # causes with which it is told as "either … or"

    @property
    def is_animal(self) -> bool:
        """Whether it is the animal's own, so that nothing is to change."""
        return self.correction.level is CauseLevel.ANIMAL

    def leads(self, *, is_hand: bool) -> bool:
        """Whether it is of those of which the weightiest comes first: of the hand, or of console and record."""
        return not self.is_animal and is_hand == (self.correction.level is CauseLevel.HAND)


def choose_corrections(
    found: Iterable[CauseFound],
    rows: Mapping[str, CauseRow],
    limits: CauseLimits,
    criteria: Mapping[str, Criterion],
    breathing: Breathing,
    movements: Iterable[Candidate] = (),
    to_try: str = "",
) -> tuple[Correction, ...]:
    """Return the changes that resolve most, the weightiest of hand and of console first.

    A movement is named only when its cause is as good as sure, since a wrong one spoils what was right; a setting
    sooner, since the picture answers at once. What the animal itself brings is never corrected: where it is as sure, or
    may stand behind the same findings, that is said and nothing is advised. In the room that is left stand settings
    that are likely, not sure, and undone at once, as ones to be tried.

    Parameters
    ----------
    found : iterable of CauseFound
        Of the study.
    rows : mapping of str to CauseRow
        Of the House, as are `limits` and `criteria`.
    breathing : Breathing
        From the request sheet; what touches the animal is advised only when it is normal.
    movements : iterable of Candidate
        Movements of the probe that its pose names (coach/movements); they stand in one list with the causes.
    to_try : str
        What is said of a setting that is to be tried; "": none is named.
    """
    found = tuple(found)
    sure = (item for item in found if _is_sure(item, rows[item.cause], limits))
    tried = (item for item in found if limits.is_worth_a_try(item, rows[item.cause])) if to_try else ()
    named = _ranked([*_candidates(sure, rows, criteria, breathing), *movements])
    first = [next((item for item in named if item.leads(is_hand=is_hand)), None) for is_hand in (True, False)]
    leading = [item for item in named if item in first]
    others = sorted((item for item in named if item not in leading), key=lambda item: item.is_animal)
    chosen: list[Candidate] = []
    for item in [*leading, *others]:
        if not any(item.correction.cause in other.rivals for other in chosen):  # "either … or" is said once
            chosen.append(item)
    last = (as_a_try(item.correction, to_try) for item in _ranked(_candidates(tried, rows, criteria, breathing)))
    return (*(item.correction for item in chosen), *last)[: limits.most]


def as_a_try(item: Correction, to_try: str) -> Correction:
    """Return a change as one to be tried, in the House's words; one that is withheld stays so."""
    return item if item.withheld else replace(item, to_try=to_try)


def _candidates(
    found: Iterable[CauseFound], rows: Mapping[str, CauseRow], criteria: Mapping[str, Criterion], breathing: Breathing
) -> Iterator[Candidate]:
    for item in found:
        if item.explains:
            yield Candidate(
                correction=_correction(item, rows, breathing), weight=weight_of(item, criteria),
                probability=item.probability, rivals=item.alternatives,
            )  # fmt: skip


def _ranked(named: Iterable[Candidate]) -> list[Candidate]:
    return sorted(named, key=lambda item: (-item.weight, -item.probability, item.correction.cause))


def _is_sure(item: CauseFound, row: CauseRow, limits: CauseLimits) -> bool:
    return limits.is_sure(item, row) or (bool(item.alternatives) and item.level is not CauseLevel.HAND)


def _correction(item: CauseFound, rows: Mapping[str, CauseRow], breathing: Breathing) -> Correction:
    row = rows[item.cause]
    said = Correction(
        cause=item.cause, title=row.title, level=row.level, when=row.when, correction=row.correction,
        right_when=row.right_when, resolves=len(item.explains), clips=item.clips, is_habit=item.is_habit,
    )  # fmt: skip
    animal = animal_words(item, rows)
    if animal:
        return replace(said, correction="", withheld=animal)
    is_normal = breathing is Breathing.NORMAL
    others = " or ".join(
        rows[key].title if rows[key].handling and not is_normal else f"{rows[key].title}: {rows[key].correction}"
        for key in item.alternatives
    )
    said = replace(said, either=f"Or {others}. {item.tells_apart}" if others else "")
    return replace(said, correction="", withheld=withheld_words(breathing)) if row.handling and not is_normal else said
