"""What the animal itself brings: how likely it is by the request sheet, and what is said in place of advice.

A deep chest, panting, fat or a large heart makes the same findings as a hand or a setting. As causes beside the others
they explain away what no hand can mend; where one is as likely as the hand, nothing is advised.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from fanlight.reference.animal_facts import FactLimits, read_fact_limits
from fanlight.reference.breeds import match_breed
from fanlight.reference.causes import AnimalFact, CauseRow
from fanlight.study import (
    Breathing,
    CauseFound,
    CauseLevel,
    ClipReading,
    House,
    Patient,
    Priority,
    Request,
    Side,
)

_BREATHING = {
    Breathing.NORMAL: AnimalFact.BREATHING_NORMAL,
    Breathing.LABOURED: AnimalFact.BREATHING_LABOURED,
    Breathing.DISTRESSED: AnimalFact.BREATHING_DISTRESSED,
}
# How likely a study usually has a cause of hand or console; their slips go with it, and so do those of the animal.
_USUAL = 0.05
_CONDITION = re.compile(r"^\s*(\d+(?:[.,]5)?)\s*(?:of|/|out of)\s*(9|5)\b")


def known_of(patient: Patient, request: Request, house: House) -> frozenset[AnimalFact]:
    """Return what the request sheet tells of the animal; what it does not state is not there."""
    limits = read_fact_limits(house)
    return frozenset(_facts(patient, request, house, limits))


def _facts(patient: Patient, request: Request, house: House, limits: FactLimits) -> Iterator[AnimalFact]:
    if request.breathing in _BREATHING:
        yield _BREATHING[request.breathing]
    if any(breed.group in limits.chest_deep for breed in match_breed(house, patient.breed, patient.species)):
        yield AnimalFact.CHEST_DEEP
    found = _CONDITION.match(request.body_condition)
    if found:
        is_high = float(found[1].replace(",", ".")) >= limits.body_condition_from(int(found[2]))
        yield AnimalFact.BODY_CONDITION_HIGH if is_high else AnimalFact.BODY_CONDITION_USUAL
    if set(request.named_diseases) & set(limits.heart_disease):
        yield AnimalFact.HEART_DISEASE_NAMED
    if request.vertebral_heart_score is not None and request.vertebral_heart_score > limits.vertebral_heart_score_over:
        yield AnimalFact.HEART_LARGE_ON_RADIOGRAPHS


def rows_knowing(rows: Mapping[str, CauseRow], known: frozenset[AnimalFact]) -> dict[str, CauseRow]:
    """Return the causes as likely as they are for this animal; a cause that is likelier acts in single clips too.

    Parameters
    ----------
    rows : mapping of str to CauseRow
        Of the House.
    known : frozenset of AnimalFact
        What the request sheet tells.
    """
    return {key: _knowing(row, known) for key, row in rows.items()}


def _knowing(row: CauseRow, known: frozenset[AnimalFact]) -> CauseRow:
    if row.level is not CauseLevel.ANIMAL:
        return row
    before = max((value for fact, value in row.before_if.items() if fact in known), default=row.before)
    return replace(row, before=before, slip_times=before / _USUAL)


def animal_words(item: CauseFound, rows: Mapping[str, CauseRow]) -> str:
    """Return why nothing is advised about a cause: it is the animal's own, or may be; "" where it is neither."""
    if item.level is CauseLevel.ANIMAL:
        return "It is the animal's own, and no change of hand or console is advised."
    animals = [rows[key] for key in item.alternatives if rows[key].level is CauseLevel.ANIMAL]
    if not animals:
        return ""
    titles = " or ".join(row.title for row in animals)
    tells = " ".join(row.alike[item.cause] for row in animals)
    return f"It may be the animal itself: {titles}. {tells} Until that is plain nothing is advised."


def without_advice(
    points: Iterable[Priority], causes: Iterable[CauseFound], rows: Mapping[str, CauseRow],
    readings: Iterable[ClipReading],
) -> tuple[Priority, ...]:  # fmt: skip
    """Return the points; of one that the animal explains, or may, in each of its clips, nothing is advised.

    Parameters
    ----------
    points : iterable of Priority
        Of the letter.
    causes : iterable of CauseFound
        Of the same findings.
    rows : mapping of str to CauseRow
        Of the House.
    readings : iterable of ClipReading
        Judged.
    """
    sides = {(item.clip, item.criterion): item for reading in readings for item in reading.findings}
    words: dict[tuple[str, str, Side], str] = {}
    for cause in causes:
        said = animal_words(cause, rows)
        for each in cause.explains if said else ():
            finding = sides[(each.clip, each.criterion)]
            words.setdefault((each.clip, each.criterion, finding.side), _about(cause, rows, said))
    return tuple(_point(item, words) for item in points)


def _about(cause: CauseFound, rows: Mapping[str, CauseRow], said: str) -> str:
    return f"{rows[cause.cause].title.capitalize()}: {said}" if cause.level is CauseLevel.ANIMAL else said


def _point(item: Priority, words: Mapping[tuple[str, str, Side], str]) -> Priority:
    said = [words.get((clip, item.criterion, Side(item.side)), "") for clip in item.clips]
    if not said or not all(said) or item.withheld:
        return item
    return replace(item, correction="", withheld=said[0])
