"""How the axis of the heart slopes on the screen, against the standard plane of the view.

A line of the heart is held against the same line in the standard plane: the septum of a long axis does not lie level in
it, and no number was published for either.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from fanlight.plane.places import Moment, Place
from fanlight.plane.sight import Sight
from fanlight.plane.told import Told, drawn, who
from fanlight.reference.plane import Lies, line_name
from fanlight.study import Landmark

LEAST_LENGTHS = 4.0  # a line shorter than so many of its own errors has no direction (engineering judgement)
HALF_TURN_DEG = 180.0


def slope_across(sight: Sight) -> Told | str | None:
    """Return by how much the ventricle's base lies deeper than in the standard plane, degrees; None: not asked."""
    return _slope(sight) if sight.asked.lies is Lies.ACROSS else None


def slope_down(sight: Sight) -> Told | str | None:
    """Return by how much the ventricle's base leans further right than in the standard plane, degrees."""
    return _slope(sight) if sight.asked.lies is Lies.DOWN else None


def line_deg(start: Place, end: Place, lies: Lies) -> float:
    """Return the slope of a line from its apical to its basal end.

    Across the picture: from level, base deeper above 0. Down the picture: from upright, base to the right above 0.
    """
    across, down = end.across - start.across, end.down - start.down
    return math.degrees(math.atan2(down, across) if lies is Lies.ACROSS else math.atan2(across, down))


def line_spread_deg(start: Place, end: Place) -> float | None:
    """Return the error of a line's direction, None where it is too short to have one."""
    length, error = math.hypot(end.across - start.across, end.down - start.down), math.hypot(start.spread, end.spread)
    return math.degrees(math.atan2(error, length)) if length >= LEAST_LENGTHS * error else None


def _slope(sight: Sight) -> Told | str:
    found = sorted(_found(sight), key=lambda item: (*item[:2], item[2].spread))
    if found:
        return found[0][2]
    first, second = sight.asked.lines[0]
    return f"no line of the heart is known in one frame: mark the {first.value} and the {second.value}"


def _found(sight: Sight) -> Iterator[tuple[bool, int, Told]]:
    """Yield what each line tells in each frame, whether the network had a part in it, and how good the line is."""
    for moment in sight.moments:
        for rank, line in enumerate(sight.asked.lines):
            if (told := _of_line(sight, moment, line)) is not None:
                yield any(not moment.places[mark].by_person for mark in line), rank, told


def _of_line(sight: Sight, moment: Moment, line: tuple[Landmark, Landmark]) -> Told | None:
    start, end = (sight.shown(moment, mark) for mark in line)
    if start is None or end is None:
        return None
    error = line_spread_deg(start, end)
    if error is None:
        return None
    expected = sight.tables.lines[sight.asked.view, moment.end, line_name(line)]
    slope = line_deg(start, end, sight.asked.lies)
    off = (slope - expected.mean + HALF_TURN_DEG) % (2 * HALF_TURN_DEG) - HALF_TURN_DEG
    label = f"{line[0].value} to {line[1].value}"
    return Told(
        value=off,
        spread=math.hypot(error, expected.spread),
        words=f"{label}: {slope:.0f}°, in the standard plane {expected.mean:.0f} ± {expected.spread:.0f}°",
        by=who(start, end),
        evidence=(drawn(label, moment.frame, start, end),),
    )
