"""Whether what the view is about lies in the middle of the picture."""

from __future__ import annotations

import math

from fanlight.plane.sight import Sight
from fanlight.plane.told import Told, drawn, who


def centred(sight: Sight) -> Told | str | None:
    """Return how far the target lies beside its place in the standard plane, share of the half width, right above 0."""
    if not sight.asked.targets:
        return None
    found = []
    for moment in sight.moments:
        for mark in sight.asked.targets:
            place = sight.shown(moment, mark)
            if place is None:
                continue
            expected = sight.tables.targets[sight.asked.view, moment.end, mark.name.lower()]
            aside = sight.grid.aside(place)
            told = Told(
                value=aside - expected.mean,
                spread=math.hypot(sight.grid.aside_spread(place), expected.spread),
                words=f"{mark.value}: {_side(aside)}, in the standard plane {_side(expected.mean)}",
                by=who(place),
                evidence=(drawn(mark.value, moment.frame, place),),
            )
            found.append((not place.by_person, told.spread, told))
    if found:
        return min(found, key=lambda item: item[:2])[2]
    return f"it takes the place of one of these: {', '.join(mark.value for mark in sight.asked.targets)}; mark one"


def _side(aside: float) -> str:
    """Return a place beside the middle in words."""
    if abs(aside) < 0.005:
        return "in the middle"
    return f"{100 * abs(aside):.0f} % of the half width {'right' if aside > 0 else 'left'} of the middle"
