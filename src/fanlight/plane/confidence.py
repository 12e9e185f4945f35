"""How sure a finding on the plane is called: by how its criterion held on simulated planes.

A criterion enters a letter once it is here, and it comes here from ring A of its table in docs/criteria-plane.md, by
the rule of the other families: at least four planes with the fault judged, four fifths of them raised, nine tenths of
the good planes not. Rings B and C decide nothing. The table tells of 2-D clips whose view was given, and of landmarks
and masks with the errors of the network, not of pictures.
"""

from __future__ import annotations

from fanlight.plane.told import TICK, Told
from fanlight.study import ClipReading, Mode, ViewSource

UNMEASURED = 0.4  # too little for a letter by itself
TICKED = 1.0  # a person looked
CONFIDENCE: dict[str, float] = {}


def confidence_of(criterion: str, reading: ClipReading, told: Told | str) -> float:
    """Return how sure a judged finding of this criterion is called on a clip, 0 to 1."""
    if isinstance(told, Told) and told.by == TICK:
        return TICKED
    is_named = reading.view.source is not ViewSource.RECOGNISED
    if reading.mode.mode is not Mode.TWO_D or not is_named:
        return UNMEASURED
    return CONFIDENCE.get(criterion, UNMEASURED)
