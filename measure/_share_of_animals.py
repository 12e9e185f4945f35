"""How sure a share is when the cases are alike, since several come from one animal."""

from __future__ import annotations

import math

from measure._wilson import Z_95


def share_interval(share: float, animals: int) -> tuple[float, float]:
    """Return the 95 % interval of a share of cases, as sure as if each animal had given one case.

    That is Wilson's interval (J. Am. Stat. Assoc. 22 (1927) 209-212) with a count that need not be whole; it errs
    towards the wide side, since cases of one animal are not quite the same case.

    Examples
    --------
    >>> [round(bound, 3) for bound in share_interval(0.8, 10)]
    [0.49, 0.943]
    """
    n = max(animals, 1)
    middle = (share + Z_95**2 / (2 * n)) / (1 + Z_95**2 / n)
    half = Z_95 * math.sqrt(share * (1 - share) / n + Z_95**2 / (4 * n * n)) / (1 + Z_95**2 / n)
    return max(0.0, middle - half), min(1.0, middle + half)
