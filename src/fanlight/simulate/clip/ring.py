"""Rings of truth: which seeds may be used for what, so that no figure is claimed on what it was tuned on."""

from __future__ import annotations

from enum import StrEnum

FIRST_OF_B = 10_000
FIRST_UNUSED = 20_000  # seeds from here on are kept for what nobody has thought of yet


class Ring(StrEnum):
    """A: seeds that bands and weights are set on. B: fresh seeds. C: another generator altogether."""

    A = "A"
    B = "B"
    C = "C"


class SeedError(ValueError):
    """A seed that no ring has, or that another ring has."""


def ring_of(seed: int, ring: Ring | None = None) -> Ring:
    """Return the ring that a seed belongs to.

    Parameters
    ----------
    seed : int
        0 to 9 999 is ring A, 10 000 to 19 999 is ring B.
    ring : Ring, optional
        The ring that is asked for. Ring C, the shifted generator, takes the seeds of both.

    Raises
    ------
    SeedError
        If the seed is negative, 20 000 or more, or belongs to the other ring.
    """
    if not 0 <= seed < FIRST_UNUSED:
        raise SeedError(f"a seed lies between 0 and {FIRST_UNUSED - 1}, got {seed}; seeds beyond are kept unused")
    own = Ring.A if seed < FIRST_OF_B else Ring.B
    if ring in (None, own, Ring.C):
        return ring or own
    span = f"0 to {FIRST_OF_B - 1}" if ring is Ring.A else f"{FIRST_OF_B} to {FIRST_UNUSED - 1}"
    raise SeedError(f"ring {ring} has the seeds {span}, got {seed}, which belongs to ring {own}")
