"""How sure a finding on the plane is called: by who saw what it rests on, and by how its criterion held when measured.

A criterion enters a letter once it is here, and it comes here from ring A of its table in docs/criteria-plane.md, by
the rule of the other families: at least four planes with the fault judged, four fifths of them raised, nine tenths of
the good planes not. Rings B and C decide nothing. The table tells of 2-D clips whose view was given, and no pixel was
formed for it: what rests on the network stays too unsure for a letter until it was measured through the pixels.
"""

from __future__ import annotations

from fanlight.plane.told import PERSON, TICK, Told
from fanlight.study import ClipReading, Mode, ViewSource

UNMEASURED = 0.4  # too little for a letter by itself
TICKED = 1.0  # a person looked
# Of a person's marks. Of the same size as that of the 2-D criteria (engineering judgement).
CONFIDENCE: dict[str, float] = {"ventricle_length": 0.65, "ventricle_round": 0.65}


def confidence_of(criterion: str, reading: ClipReading, told: Told | str) -> float:
    """Return how sure a judged finding of this criterion is called on a clip, 0 to 1."""
    if isinstance(told, str):
        return 0.0
    if told.by == TICK:
        return TICKED
    is_named = reading.view.source is not ViewSource.RECOGNISED
    if told.by != PERSON or reading.mode.mode is not Mode.TWO_D or not is_named:
        return UNMEASURED
    return CONFIDENCE.get(criterion, UNMEASURED)
