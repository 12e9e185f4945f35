"""What every grading shares: when it may speak, and the form of its answer."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from fanlight.reference.diseases import read_diseases
from fanlight.reference.meaning import Grading
from fanlight.study import GradingResult, HeartFailure
from fanlight.validity.meaning.inputs import Input, Told

_FAILURE = {
    HeartFailure.NONE: "no heart failure",
    HeartFailure.PAST: "heart failure in the past",
    HeartFailure.PRESENT: "heart failure now",
    HeartFailure.REFRACTORY: "heart failure in spite of treatment",
}


@dataclass(slots=True, kw_only=True)
class Sheet:
    """Collects what a grading used and what it lacked."""

    limits: Mapping[str, float]  # of the grading's row
    used: list[str] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    sheet_only: bool = False

    def take(self, found: Input | None, wanted: str) -> Input | None:
        """Note an input, or that it is missing."""
        if found is None:
            self.missing.append(wanted)
            return None
        self.used.append(found.words)
        self.sheet_only |= found.sheet_only
        return found


Answer = tuple[str, str]  # the result, and the reason where it is empty
Rule = Callable[[Told, Sheet], Answer]


def grade(told: Told, grading: Grading, rule: Rule) -> GradingResult | None:
    """Return what a grading says; None where no lesion that it grades is named, or it is for another animal.

    The inputs are listed whether it may speak or not; the result stays empty until the mentor has named lesion, failure
    status and treatment.
    """
    lesions = [key for key in told.named.lesions if key in grading.lesions]
    if not lesions or told.patient.species not in (None, grading.species) or not told.is_breed(grading.breeds):
        return None
    sheet = Sheet(limits=grading.limits)
    result, reason = rule(told, sheet)
    if told.patient.species is None:
        result, reason = "", f"species not stated, and it is for {grading.species}s only"
    elif hit := [key for key in grading.not_with if key in told.named.lesions]:
        result, reason = "", f"it does not hold with {titles(told, hit)}, which is named"
    elif told.named.missing:
        result, reason = "", f"the mentor has not named {join(told.named.missing)}"
    return GradingResult(
        key=grading.key,
        title=grading.title,
        result=result,
        reason="" if result else reason,
        used=tuple(sheet.used),
        missing=tuple(sheet.missing),
        notes=tuple(sheet.notes),
        citation=grading.citation,
        status=grading.status_words,
        caution=grading.caution,
        sheet_only=sheet.sheet_only,
    )


def named_words(told: Told) -> str:
    """Return what the mentor named: "M. Mentor: subaortic stenosis; no heart failure; treatment: none"."""
    parts = [titles(told, told.named.lesions)] if told.named.lesions else []
    if told.named.failure is not None:
        parts.append(_FAILURE[told.named.failure])
    if told.named.treatment:
        parts.append(f"treatment: {told.named.treatment}")
    return f"{told.named.by}: {'; '.join(parts)}" if parts else ""


def titles(told: Told, keys: Iterable[str]) -> str:
    """Return the names of diseases as a list in words."""
    known = read_diseases(told.house)
    return join([known[key].title for key in keys])


def join(names: Iterable[str]) -> str:
    """Return "a, b and c"."""
    listed = list(names)
    return listed[0] if len(listed) == 1 else f"{', '.join(listed[:-1])} and {listed[-1]}"
