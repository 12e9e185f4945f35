"""What one plane criterion says of a clip, and the finding that it becomes.

A miss is a miss only when the error of its value leaves no room for a good plane, else it is borderline; a value whose
error is as wide as the band decides nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.plane.places import Place
from fanlight.study import Band, Criterion, Evidence, Finding, Polyline, Side, Source, Verdict

NAME = "plane"
STAGE = NAME
VERSION = 1
PERSON, NETWORK, TICK = "marked by a person", "as the network saw it", "ticked by the mentor"


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A value with one standard deviation, and what it rests on."""

    value: float
    spread: float
    words: str
    by: str  # PERSON, NETWORK or TICK
    evidence: tuple[Evidence, ...] = ()
    side: Side | None = None  # of a tick, which is a verdict by itself


def who(*places: Place) -> str:
    """Return who saw these places: a person, when all are a person's."""
    return PERSON if places and all(place.by_person for place in places) else NETWORK


def settled(band: Band, value: float, spread: float, spreads: float) -> tuple[Verdict, Side]:
    """Return the verdict on a value that is known with an error.

    Parameters
    ----------
    band : Band
        Of the criterion.
    value, spread : float
        The value and one standard deviation, same unit.
    spreads : float
        By how many of these a miss must lie outside the band that is met.
    """
    verdict, side = band.judge(value)
    if verdict is not Verdict.MISSED:
        return verdict, side
    limit = band.met_low if side is Side.LOW else band.met_high
    assert limit is not None  # it was missed on this side
    return (verdict if abs(value - limit) >= spreads * spread else Verdict.BORDERLINE), side


def is_too_unsure(band: Band, spread: float, spreads: float) -> bool:
    """Return whether an error is so wide that a value in the middle of the band could be a miss, or the reverse."""
    low = band.border_low if band.border_low is not None else band.met_low
    high = band.border_high if band.border_high is not None else band.met_high
    if low is not None and high is not None:
        return spreads * spread > 0.5 * (high - low)
    limit = next(each for each in (low, high) if each is not None)
    middle = 1.0 if low is not None else 0.0  # shares and ratios: one is whole, none is nothing
    return spreads * spread > abs(middle - limit)


def finding(
    criterion: Criterion, clip: str, told: Told | str, *, confidence: float, spreads: float, house: str
) -> Finding:
    """Return the finding of what was told; a text says why nothing can be."""
    source = Source(stage=STAGE, version=VERSION, house=house)
    if isinstance(told, Told) and told.side is None and is_too_unsure(criterion.band, told.spread, spreads):
        told = f"{told.words}; its error of {_said(told.spread, criterion.unit)} is too large to judge it ({told.by})"
    if isinstance(told, str):
        return Finding(
            criterion=criterion.key, clip=clip, value=None, unit=criterion.unit, band=criterion.band,
            verdict=Verdict.NOT_ASSESSABLE, confidence=0.0, reason=told, source=source,
        )  # fmt: skip
    verdict, side = (
        (Verdict.MISSED, told.side)
        if told.side is not None
        else settled(criterion.band, told.value, told.spread, spreads)
    )
    return Finding(
        criterion=criterion.key, clip=clip, value=told.value, unit=criterion.unit, band=criterion.band,
        verdict=verdict, side=side, confidence=confidence, uncertainty=told.spread or None,
        frames=tuple(sorted({item.frame for item in told.evidence if item.frame is not None})),
        evidence=told.evidence, reason=f"{told.words} ({told.by})", source=source,
    )  # fmt: skip


def _said(spread: float, unit: str) -> str:
    if unit == "fraction":
        return f"{100 * spread:.0f} %"
    return f"{spread:.2g}°" if unit == "deg" else f"{spread:.2g}"


def drawn(label: str, frame: int, *places: Place, closed: bool = False) -> Evidence:
    """Return the line through these places as it is drawn."""
    return Evidence(
        shape=Polyline(points=tuple(place.point for place in places), closed=closed), label=label, frame=frame
    )
