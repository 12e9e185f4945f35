"""How sure a finding from masks is called: by how its criterion held on simulated clips.

A criterion enters a letter once it is here, and it comes here from ring A of its table in docs/accuracy.md, by the rule
of the Doppler criteria: at least four clips with the fault judged, four fifths of them raised, nine tenths of the good
clips not (engineering judgement). Rings B and C decide nothing.
"""

from __future__ import annotations

UNMEASURED = 0.4  # too little for a letter by itself
CONFIDENCE: dict[str, float] = {}


def confidence_of(criterion: str) -> float:
    """Return how sure a judged finding of this criterion is called, 0 to 1."""
    return CONFIDENCE.get(criterion, UNMEASURED)
