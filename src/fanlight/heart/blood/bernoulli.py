"""The simplified Bernoulli equation both ways: a pressure drop makes a jet, a jet tells of a pressure drop.

Convective term only, density of blood 1.06 g/ml: 4 mmHg for each (m/s)². The factor is the trade's (1/2 · 1060 kg/m³ is
3.98 mmHg per (m/s)²; physics).
"""

from __future__ import annotations

import math

MMHG_PER_SQUARED_SPEED = 4.0  # mmHg / (m/s)²


def jet_m_s(gradient_mmhg: float, upstream_m_s: float = 0.0) -> float:
    """Return the speed of a jet that a pressure drop drives; `upstream_m_s` is the speed before the narrow place.

    Raises
    ------
    ValueError
        If the drop is below 0: blood flows the other way, which is another jet.
    """
    if gradient_mmhg < 0.0:
        raise ValueError(f"a jet needs a pressure drop of 0 mmHg or more, got {gradient_mmhg:g}")
    return math.sqrt(gradient_mmhg / MMHG_PER_SQUARED_SPEED + upstream_m_s * upstream_m_s)


def gradient_mmhg(jet_m_s: float, upstream_m_s: float = 0.0) -> float:
    """Return the pressure drop that a jet tells of."""
    return MMHG_PER_SQUARED_SPEED * (jet_m_s * jet_m_s - upstream_m_s * upstream_m_s)
