"""How sure a share of few cases is."""

from __future__ import annotations

import math

Z_95 = 1.96  # of the normal distribution, two-sided 95 %


def wilson(right: int, n: int) -> tuple[float, float]:
    """Return the 95 % interval of a share (E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209-212)."""
    if n == 0:
        return 0.0, 1.0
    p = right / n
    middle = (p + Z_95**2 / (2 * n)) / (1 + Z_95**2 / n)
    half = Z_95 * math.sqrt(p * (1 - p) / n + Z_95**2 / (4 * n * n)) / (1 + Z_95**2 / n)
    return max(0.0, middle - half), min(1.0, middle + half)
