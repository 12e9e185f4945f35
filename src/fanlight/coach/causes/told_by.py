"""What of a clip the picture tells of its causes, and what the flow that is shown in it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Self

from fanlight.coach.causes.noisy_or import Sign
from fanlight.reference.causes import Weights, criterion_of
from fanlight.study import Criterion

_FLOW = "doppler_"  # families of criteria that judge flow; all others judge the picture


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldBy:
    """Criteria of one kind, and the causes that they tell."""

    criteria: frozenset[str]
    causes: frozenset[str]  # with a sign among these

    @classmethod
    def picture(cls, weights: Weights, criteria: Mapping[str, Criterion]) -> Self:
        """Return what the picture tells."""
        return cls._of(weights, (key for key, item in criteria.items() if not item.family.startswith(_FLOW)))

    @classmethod
    def flow(cls, weights: Weights, criteria: Mapping[str, Criterion]) -> Self:
        """Return what the flow tells."""
        return cls._of(weights, (key for key, item in criteria.items() if item.family.startswith(_FLOW)))

    @classmethod
    def _of(cls, weights: Weights, criteria: Iterable[str]) -> Self:
        told = frozenset(criteria)
        causes = (
            cause
            for cause, grades in weights.by_cause.items()
            if any(criterion_of(sign[0]) in told for signs in grades.values() for sign in signs)
        )
        return cls(criteria=told, causes=frozenset(causes))

    def signs(self, of: Iterable[Sign]) -> tuple[Sign, ...]:
        """Return those signs that are of this kind."""
        return tuple(sign for sign in of if criterion_of(sign[0]) in self.criteria)
