"""A row of a table of numbers from strips: how many were given, and how far they lie from the truth."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from measure._records import Record
from measure._wilson import Z_95, wilson


def strip_row(drawn: Sequence[Record], target: float, unit: str = "") -> str:
    """Return strips, refused, bias, RMS, those within the target and those inside their own 95 % band.

    Parameters
    ----------
    drawn : sequence of dict
        `value` (None where refused), `uncertainty` and `true` (None or NaN where there is no truth) of each strip.
    target : float
        In the unit of the values.
    """
    given = [item for item in drawn if item["value"] is not None]
    known = [item for item in given if item["true"] is not None and item["true"] == item["true"]]
    refused = f"{len(drawn) - len(given)}, {_percent(len(drawn) - len(given), len(drawn))}"
    if not known:
        return f"{len(drawn)} | {refused} | – | – | – | –"
    off = np.array([item["value"] - item["true"] for item in known])
    scaled = np.abs(off) / np.array([item["uncertainty"] for item in known])
    within, inside = int((np.abs(off) <= target).sum()), int((scaled <= Z_95).sum())
    n = len(known)
    return (
        f"{len(drawn)} | {refused} | {off.mean():+.2f}{unit} | {np.sqrt((off**2).mean()):.2f}{unit} | "
        f"{within} of {n}, {_percent(within, n)} | {inside} of {n}, {_percent(inside, n)}"
    )


def _percent(right: int, n: int) -> str:
    """Return a share with its 95 % interval (Wilson)."""
    low, high = wilson(right, n)
    return f"{100 * right / max(n, 1):.0f} % ({100 * low:.0f}–{100 * high:.0f})"
