"""How sure a finding from masks is called: by how its criterion held on simulated clips.

A criterion enters a letter once it is here, and it comes here from ring A of its table in docs/accuracy.md, by the rule
of the Doppler criteria: at least four clips with the fault judged, four fifths of them raised, nine tenths of the good
clips not (engineering judgement). Rings B and C decide nothing. The table tells of 2-D clips whose view was given:
elsewhere a finding stays too unsure for a letter.
"""

from __future__ import annotations

from fanlight.study import ClipReading, Mode, ViewSource

UNMEASURED = 0.4  # too little for a letter by itself
# Of the same size as that of the 2-D criteria (engineering judgement).
CONFIDENCE: dict[str, float] = {"chamber_cut": 0.7, "heart_reach": 0.7, "chamber_covered": 0.65}


def confidence_of(criterion: str, reading: ClipReading) -> float:
    """Return how sure a judged finding of this criterion is called on a clip, 0 to 1."""
    is_named = reading.view.view and reading.view.source is not ViewSource.RECOGNISED
    if reading.mode.mode is not Mode.TWO_D or not is_named:
        return UNMEASURED
    return CONFIDENCE.get(criterion, UNMEASURED)
