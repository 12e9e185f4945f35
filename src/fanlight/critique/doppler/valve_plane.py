"""Where a person marked the plane of a valve: two hinges, a line across the ring, or its middle and an axis."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from fanlight.study import DrawnMark, Landmark, MarkKind, Point, Valve

HINGES = {
    Valve.MITRAL: (Landmark.MITRAL_SEPTAL_HINGE, Landmark.MITRAL_PARIETAL_HINGE),
    Valve.TRICUSPID: (Landmark.TRICUSPID_SEPTAL_HINGE, Landmark.TRICUSPID_PARIETAL_HINGE),
    Valve.AORTIC: (Landmark.AORTIC_SEPTAL_HINGE, Landmark.AORTIC_MITRAL_HINGE),
}
CENTRES = {
    Valve.MITRAL: Landmark.MITRAL_CENTRE,
    Valve.TRICUSPID: Landmark.TRICUSPID_CENTRE,
    Valve.AORTIC: Landmark.AORTIC_CENTRE,
    Valve.PULMONIC: Landmark.PULMONIC_CENTRE,
}
# Places on each side of a valve by which its axis and its sides are told: before it, and behind it.
_BEFORE = {
    Valve.MITRAL: (Landmark.LA_CENTRE, Landmark.LA_ROOF),
    Valve.TRICUSPID: (Landmark.RA_CENTRE,),
    Valve.AORTIC: (Landmark.LV_CENTRE, Landmark.LV_APEX),
    Valve.PULMONIC: (Landmark.RV_CENTRE,),
}
_BEHIND = {
    Valve.MITRAL: (Landmark.LV_APEX, Landmark.LV_CENTRE),
    Valve.TRICUSPID: (Landmark.RV_APEX, Landmark.RV_CENTRE),
    Valve.AORTIC: (Landmark.AORTIC_SINUS_CENTRE, Landmark.AORTIC_ASCENDING),
    Valve.PULMONIC: (Landmark.PULMONARY_BIFURCATION,),
}
_LEAST_APART_PX = 4.0  # two points closer than this give no direction: a hand errs by a pixel


@dataclass(frozen=True, slots=True, kw_only=True)
class ValvePlane:
    """A valve's plane in the picture.

    Attributes
    ----------
    valve : Valve
        Whose it is.
    middle : Point
        (row, col) in pixels.
    normal : Point
        Unit vector across the plane, (row, col); with the flow that goes forward where `is_directed`.
    is_directed : bool
        Whether marks tell which side lies behind the valve.
    """

    valve: Valve
    middle: Point
    normal: Point
    is_directed: bool


def valve_plane(marks: Iterable[DrawnMark], valve: Valve | None, col_stretch: float = 1.0) -> ValvePlane | str:
    """Return the plane that marks give, or why there is none.

    Parameters
    ----------
    marks : iterable of DrawnMark
        Of one clip.
    valve : Valve or None
        Where it is known; else the one valve whose plane is marked.
    col_stretch : float
        Width of a pixel over its height.
    """
    marks = tuple(marks)
    found = [plane for each in Valve if (plane := _plane(marks, each, col_stretch)) is not None]
    if valve is not None:
        here = [plane for plane in found if plane.valve is valve]
        if here:
            return here[0]
        others = ", ".join(plane.valve.value for plane in found)
        told = f"; what is marked is the {others} valve" if others else ""
        return f"the place of the {valve} valve is not marked on this clip: mark both hinges of its leaflets{told}"
    if len(found) == 1:
        return found[0]
    if found:
        return "more than one valve is marked, and it is not said for which the box was laid: name the valve"
    return "the valve in the box is not known: name it, and mark both hinges of its leaflets"


def _plane(marks: tuple[DrawnMark, ...], valve: Valve, col_stretch: float) -> ValvePlane | None:
    hinges, centre = HINGES.get(valve, ()), CENTRES[valve]
    before, behind = _first_point(marks, _BEFORE[valve]), _first_point(marks, _BEHIND[valve])
    ends = _line_of(marks, (*hinges, centre))
    if ends is None and hinges:
        pair = [_first_point(marks, (name,)) for name in hinges]
        ends = (pair[0], pair[1]) if pair[0] is not None and pair[1] is not None else None
    stretch = np.array([1.0, col_stretch])
    if ends is not None:
        first, second = (np.asarray(point) * stretch for point in ends)
        middle, along = (first + second) / 2, second - first
        normal = np.array([-along[1], along[0]])
    else:
        at = _first_point(marks, (centre,))
        if at is None or (before is None and behind is None):
            return None
        middle = np.asarray(at) * stretch
        normal = np.asarray(behind) * stretch - middle if behind is not None else middle - np.asarray(before) * stretch
    size = float(np.hypot(*normal))
    if size < _LEAST_APART_PX:
        return None
    normal = normal / size
    towards = None if behind is None else np.asarray(behind) * stretch - middle
    if towards is None and before is not None:
        towards = middle - np.asarray(before) * stretch
    if towards is not None and float(normal @ towards) < 0:
        normal = -normal
    place = middle / stretch
    return ValvePlane(
        valve=valve, middle=(float(place[0]), float(place[1])), normal=(float(normal[0]), float(normal[1])),
        is_directed=towards is not None,
    )  # fmt: skip


def _first_point(marks: tuple[DrawnMark, ...], names: tuple[Landmark, ...]) -> Point | None:
    wanted = [name.name for name in names]
    return next((m.points[0] for m in marks if m.kind is MarkKind.POINT and m.landmark in wanted), None)


def _line_of(marks: tuple[DrawnMark, ...], names: tuple[Landmark, ...]) -> tuple[Point, Point] | None:
    wanted = [name.name for name in names]
    found = next((m for m in marks if m.kind is MarkKind.LINE and m.landmark in wanted), None)
    return None if found is None else (found.points[0], found.points[1])
