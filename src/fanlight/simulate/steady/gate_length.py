"""How long a steady hand makes the gate of a pulsed wave."""

from __future__ import annotations

# In an animal of the reference weight of `body_scale`; 2 to 5 mm are common practice, no source.
_GATE_MM, _GATE_RANGE_MM = 2.0, (1.0, 4.0)


def gate_length_mm(body: float) -> float:
    """Return how long a steady hand makes the gate in an animal of this `body_scale`."""
    return min(max(_GATE_MM * body, _GATE_RANGE_MM[0]), _GATE_RANGE_MM[1])
