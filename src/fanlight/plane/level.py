"""Whether a short axis lies at the level that its view names, by what else it shows.

Each level shows something of its own and nothing of its neighbours. How strongly a neighbour is seen goes from 0, not
at all, to 1, at twice the share from which on it counts; at that share it is 0.5.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from fanlight.plane.sight import Area, Sight, areas_of, heart_share
from fanlight.plane.told import NETWORK, PERSON, Told, drawn
from fanlight.reference.plane import BY_MARKS, Sign
from fanlight.study import Landmark, Side, Structure

SEEN = 0.5
PAPILLARY = (
    Landmark.PAPILLARY_CRANIAL_TIP, Landmark.PAPILLARY_CRANIAL_BASE,
    Landmark.PAPILLARY_CAUDAL_TIP, Landmark.PAPILLARY_CAUDAL_BASE,
)  # fmt: skip
MITRAL = (
    Landmark.MITRAL_TIPS, Landmark.MITRAL_SEPTAL_TIP, Landmark.MITRAL_PARIETAL_TIP,
    Landmark.MITRAL_SEPTAL_HINGE, Landmark.MITRAL_PARIETAL_HINGE,
)  # fmt: skip
APART = 0.3  # by so much the landmarks of one side must be likelier than those of the other (engineering judgement)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Strength:
    """How strongly something is seen."""

    value: float
    spread: float
    words: str


NOTHING = _Strength(value=0.0, spread=0.0, words="")


def level(sight: Sight) -> Told | str | None:
    """Return how strongly a level nearer the base (above 0) or the apex (below 0) is seen; None: not asked."""
    asked = sight.asked
    if not (asked.basal or asked.apical or asked.own):
        return None
    areas = areas_of(sight)
    if isinstance(areas, str):
        return areas
    basal, apical = _strongest(areas, asked.basal, sight), _strongest(areas, asked.apical, sight)
    own = _strongest(areas, asked.own, sight)
    if max(basal.value, apical.value) < SEEN and own.value < SEEN and asked.own and asked.lacking:
        return _lacking(sight, areas)
    seen = "; ".join(item.words for item in (basal, apical) if item.words) or "nothing of another level is seen"
    return Told(
        value=basal.value - apical.value, spread=max(basal.spread, apical.spread), words=seen, by=NETWORK
    )  # fmt: skip


def mixed(sight: Sight) -> Told | str | None:
    """Return how strongly the planes of two levels are seen at once; None: the view has no neighbour to mix with."""
    asked = sight.asked
    # At the papillary muscles and at the valve what the level itself shows is the one side of the mixture.
    apical_signs = asked.apical or asked.own
    if not (asked.short_axis and asked.basal and apical_signs) or asked.lacking == Side.LOW.value:
        return None
    if (marked := _marked_together(sight)) is not None:
        return marked
    areas = areas_of(sight)
    if isinstance(areas, str):
        return areas
    basal, apical = _strongest(areas, asked.basal, sight), _strongest(areas, apical_signs, sight)
    weaker = min((basal, apical), key=lambda item: item.value)
    words = "; ".join(item.words for item in (basal, apical) if item.words) or "no other level is seen"
    return Told(value=weaker.value, spread=weaker.spread, words=words, by=NETWORK)


def _marked_together(sight: Sight) -> Told | None:
    """Return that a person marked a papillary muscle and a part of the mitral valve in one frame, None otherwise."""
    for moment in sight.moments:
        by_person = {mark: place for mark, place in moment.places.items() if place.by_person}
        muscle = next((mark for mark in PAPILLARY if mark in by_person), None)
        valve = next((mark for mark in MITRAL if mark in by_person), None)
        if muscle is not None and valve is not None:
            return Told(
                value=1.0, spread=0.0, by=PERSON, words=f"{muscle.value} and {valve.value} in one frame",
                evidence=(drawn("two levels", moment.frame, by_person[muscle], by_person[valve]),),
            )  # fmt: skip
    return None


def _strongest(areas: Mapping[Structure, Area], signs: Iterable[Sign], sight: Sight) -> _Strength:
    found = [_strength(areas, sign, sight) for sign in signs if sign.structure in areas]
    return max(found, key=lambda item: item.value, default=NOTHING)


def _strength(areas: Mapping[Structure, Area], sign: Sign, sight: Sight) -> _Strength:
    share = heart_share(areas, sign.structure)
    value = min(0.5 * share / sign.from_share, 1.0)
    words = f"{sign.structure.value}: {100 * share:.1f} % of the heart in the picture" if share else ""
    return _Strength(value=value, spread=sight.settings.share_error * value, words=words)


def _lacking(sight: Sight, areas: Mapping[Structure, Area]) -> Told | str:
    """Return on which side a level lies that shows nothing of its own."""
    names = " and ".join(sign.structure.value for sign in sight.asked.own)
    if unsure := [sign for sign in sight.asked.own if sign.structure not in areas]:
        return f"the network did not surely see the {unsure[0].structure.value}"
    words = f"no {names} is seen, which this level shows"
    if sight.asked.lacking != BY_MARKS:
        value = -1.0 if sight.asked.lacking == Side.LOW.value else 1.0
        return Told(value=value, spread=0.0, words=words, by=NETWORK)
    basal, apical = _likeliest(sight, sight.asked.basal_marks), _likeliest(sight, sight.asked.apical_marks)
    if abs(basal - apical) < APART:
        return f"{words}; nothing tells on which side it lies: tick what is seen"
    side = "base" if basal > apical else "apex"
    return Told(
        value=1.0 if basal > apical else -1.0, spread=0.0, by=NETWORK,
        words=f"{words}, and landmarks nearer the {side} lie in the plane",
    )  # fmt: skip


def _likeliest(sight: Sight, marks: Iterable[Landmark]) -> float:
    return max((said[0] for mark in marks if (said := sight.likely(mark)) is not None), default=0.0)
