"""What a short axis must show round or alike: by traces and by the commissures of the aorta.

A reading keeps no outlines of the network's masks: what needs one says that it must be traced.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fanlight.plane.places import Moment, Place
from fanlight.plane.sight import Sight
from fanlight.plane.told import PERSON, Told, drawn, who
from fanlight.study import DrawnMark, Evidence, Landmark, MarkKind, Polyline

COMMISSURES = (
    Landmark.COMMISSURE_RIGHT_NONCORONARY, Landmark.COMMISSURE_LEFT_NONCORONARY, Landmark.COMMISSURE_RIGHT_LEFT,
)  # fmt: skip
CENTRES = (Landmark.AORTIC_SINUS_CENTRE, Landmark.AORTIC_CENTRE)
LEAST_CORNERS = 8  # of a trace that shall tell a shape (engineering judgement)

Points = NDArray[np.float64]  # (point, 2): across, down


def ventricle_round(sight: Sight) -> Told | str | None:
    """Return the short over the long axis of the ventricle's traced outline; None: it is not cut across."""
    if not sight.asked.short_axis:
        return None
    return _of_traces(sight, "ventricle", "left ventricle") or _to_trace("left ventricle")


def aorta_round(sight: Sight) -> Told | str | None:
    """Return the short over the long axis of the aortic root, traced or by its three commissures."""
    if not sight.asked.root:
        return None
    if (traced := _of_traces(sight, "aorta", "aortic root")) is not None:
        return traced
    found = [_by_commissures(moment, places) for moment, places in _commissures(sight)]
    if found:
        return min(found, key=lambda item: (item.by != PERSON, item.spread))
    return f"{_to_trace('aortic root')}, or mark its three commissures in one frame"


def cusps_even(sight: Sight) -> Told | str | None:
    """Return the smallest over the largest of the three cusps, by their commissures and the middle of the root."""
    if not sight.asked.root:
        return None
    found = []
    for moment, places in _commissures(sight):
        centre = next((place for mark in CENTRES if (place := sight.shown(moment, mark)) is not None), None)
        if centre is not None:
            found.append(_cusps(moment, places, centre))
    if found:
        return min(found, key=lambda item: (item.by != PERSON, item.spread))
    return "it takes the three commissures of the aorta and the middle of its root in one frame; mark them"


def papillary_even(sight: Sight) -> Told | str | None:
    """Return the smaller over the larger papillary muscle, both traced; None: the level shows none."""
    if not (sight.asked.short_axis and any(sign.structure.name == "PAPILLARY" for sign in sight.asked.own)):
        return None
    by_frame: dict[int, list[DrawnMark]] = {}
    for mark in _traces(sight, "papillary"):
        by_frame.setdefault(mark.frame, []).append(mark)
    for frame, marks in by_frame.items():
        if len(marks) == 2:
            first, second = (abs(_area(_points(sight, mark))) for mark in marks)
            share = min(first, second) / max(first, second, 1e-9)
            error = 2.0 * _pointing(sight, min(first, second))  # of an area: twice that of a length
            evidence = tuple(_outline(mark, frame) for mark in marks)
            return Told(
                value=share, spread=share * error, by=PERSON, evidence=evidence,
                words=f"the smaller papillary muscle is {100 * share:.0f} % of the larger",
            )  # fmt: skip
    return "a reading does not part the two papillary muscles: trace both in one frame, or tick what is seen"


def axis_ratio(points: Points) -> float:
    """Return the short over the long axis of a closed outline (point, 2), from its second moments of area.

    Of an ellipse it is exact; 1 is a circle. See views of a tube and of an ellipsoid in docs/criteria-plane.md.
    """
    return float(np.divide(*_axes(_second_moments(points))))


def _axes(matrix: Points) -> Points:
    """Return half the short and half the long axis of an ellipse given by its matrix of second moments times 4."""
    return np.asarray(np.sqrt(np.maximum(np.linalg.eigvalsh(matrix), 1e-12)))


def _second_moments(points: Points) -> Points:
    """Return four times the second central moments of area over the area: semi-axes squared, of an ellipse."""
    x, y = points[:, 0] - points[:, 0].mean(), points[:, 1] - points[:, 1].mean()
    u, v = np.roll(x, -1), np.roll(y, -1)
    cross = x * v - u * y
    area = 0.5 * cross.sum()
    if abs(area) < 1e-9:
        return np.zeros((2, 2))
    mean = np.array([((x + u) * cross).sum(), ((y + v) * cross).sum()]) / (6 * area)
    xx = ((x * x + x * u + u * u) * cross).sum() / (12 * area) - mean[0] ** 2
    yy = ((y * y + y * v + v * v) * cross).sum() / (12 * area) - mean[1] ** 2
    xy = ((x * v + 2 * x * y + 2 * u * v + u * y) * cross).sum() / (24 * area) - mean[0] * mean[1]
    return 4 * np.array([[xx, xy], [xy, yy]])


def _ellipse(corners: Points) -> Points:
    """Return the ellipse of least area through three corners (Steiner), as its semi-axes squared.

    Three commissures stand evenly round a root: cut obliquely the circle through them is this ellipse.
    """
    away = corners - corners.mean(axis=0)
    return np.asarray(2.0 / 3.0 * away.T @ away)


def _area(points: Points) -> float:
    x, y = points[:, 0], points[:, 1]
    return float(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def _commissures(sight: Sight) -> list[tuple[Moment, tuple[Place, Place, Place]]]:
    found = []
    for moment in sight.moments:
        first, second, third = (sight.shown(moment, mark) for mark in COMMISSURES)
        if first is not None and second is not None and third is not None:
            found.append((moment, (first, second, third)))
    return found


def _by_commissures(moment: Moment, places: tuple[Place, Place, Place]) -> Told:
    short, long = _axes(_ellipse(np.array([[place.across, place.down] for place in places])))
    # Either axis of the ellipse through three corners errs about as much as one corner.
    spread = math.sqrt(2.0) * max(place.spread for place in places) / max(float(long), 1e-9)
    return Told(
        value=float(short / long), spread=spread, by=who(*places),
        words=f"circle through the three commissures: short axis {100 * short / long:.0f} % of the long one",
        evidence=(drawn("three commissures of the aorta", moment.frame, *places, closed=True),),
    )  # fmt: skip


def _cusps(moment: Moment, places: tuple[Place, Place, Place], centre: Place) -> Told:
    spokes = [np.array([place.across - centre.across, place.down - centre.down]) for place in places]
    pairs = ((0, 1), (1, 2), (2, 0))
    areas = [abs(float(spokes[a][0] * spokes[b][1] - spokes[a][1] * spokes[b][0])) for a, b in pairs]
    share = min(areas) / max(*areas, 1e-9)
    radius = float(np.mean([np.hypot(*spoke) for spoke in spokes]))
    # The middle is the corner of all three cusps: its error makes one larger and another smaller.
    spread = share * 2.0 * max(place.spread for place in (*places, centre)) / max(radius, 1e-9)
    return Told(
        value=share, spread=spread, by=who(*places, centre),
        words=f"the smallest cusp is {100 * share:.0f} % of the largest",
        evidence=(drawn("three commissures of the aorta", moment.frame, *places, closed=True),),
    )  # fmt: skip


def _of_traces(sight: Sight, kind: str, name: str) -> Told | None:
    for mark in _traces(sight, kind):
        points = _points(sight, mark)
        ratio = axis_ratio(points)
        spread = math.sqrt(2.0) * _pointing(sight, abs(_area(points)))
        return Told(
            value=ratio, spread=ratio * spread, by=PERSON, evidence=(_outline(mark, mark.frame),),
            words=f"{name}: short axis {100 * ratio:.0f} % of the long one",
        )  # fmt: skip
    return None


def _traces(sight: Sight, kind: str) -> Sequence[DrawnMark]:
    known = sight.tables.traced[kind]
    return [
        mark
        for mark in sight.drawn
        if mark.kind is MarkKind.TRACE and len(mark.points) >= LEAST_CORNERS and mark.title.strip().lower() in known
    ]


def _points(sight: Sight, mark: DrawnMark) -> Points:
    return np.array([sight.grid.square(point) for point in mark.points])


def _pointing(sight: Sight, area: float) -> float:
    """Return the error of a traced axis as a share of it: many points of a trace even a hand's error out."""
    radius = math.sqrt(max(area, 1e-9) / math.pi)
    return sight.settings.person_px / radius


def _outline(mark: DrawnMark, frame: int) -> Evidence:
    return Evidence(shape=Polyline(points=mark.points, closed=True), label=mark.title, frame=frame)


def _to_trace(name: str) -> str:
    return f"a reading keeps no outline of the {name}: trace it with at least {LEAST_CORNERS} points"
