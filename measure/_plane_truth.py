"""What is truly so of a plane, criterion by criterion: wrong, right, or between the two and not asked.

Where a criterion tells of a place the truth is the same rule on the true places, against the same table of standard
planes. Where it tells of what lies in the plane the truth is a slice through the animal or the true pose: how far the
level moved along the ventricle, how far its axis leans through the plane, how far its apex lies off it.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from fanlight.plane.rounds import COMMISSURES
from fanlight.reference.plane import Aorta, Lies, PlaneTables, line_name
from fanlight.study import Landmark
from measure._plane_clips import Plane
from measure._plane_observed import is_inside
from training.label_sets import Structure

ENDS = ("end_diastole", "end_systole")
FALLS = 0.30  # diameters off the plane: a place is not in it; as the network was taught
LIES = 0.15
LEVEL_OFF, LEVEL_HELD = 0.12, 0.04  # of the ventricle's length: the levels of the sweep lie about 0.15 apart
LEANS_DEG, STRAIGHT_DEG = 15.0, 4.0
IN_ORDER = 0.05  # of the width


def truth_of(plane: Plane, steady: Plane, tables: PlaneTables) -> dict[str, bool | None]:
    """Return by criterion whether the plane is wrong (True), right (False) or between (None); absent: not asked."""
    found = {key: ask(plane, steady, tables) for key, ask in _TRUTHS.items()}
    return {key: said for key, said in found.items() if not isinstance(said, str)}  # "not asked"


_NOT_ASKED = "not asked"
Said = bool | None | str


def _between(value: float, right: float, wrong: float) -> bool | None:
    """Return True from `wrong` on, False up to `right`, None between; the limits may fall as well as rise."""
    sign = 1.0 if wrong > right else -1.0
    if sign * value >= sign * wrong:
        return True
    return False if sign * value <= sign * right else None


def _slope(lies: Lies) -> Callable[[Plane, Plane, PlaneTables], Said]:
    def ask(plane: Plane, _: Plane, tables: PlaneTables) -> Said:
        asked = tables.views[plane.view]
        if asked.lies is not lies:
            return _NOT_ASKED
        first, second = asked.lines[0]
        start, end = plane.places_mm[0][first], plane.places_mm[0][second]
        across, down = end[0] - start[0], end[2] - start[2]
        slope = math.degrees(math.atan2(down, across) if lies is Lies.ACROSS else math.atan2(across, down))
        return _between(abs(slope - tables.lines[plane.view, ENDS[0], line_name((first, second))].mean), 15.0, 25.0)

    return ask


def _centred(plane: Plane, _: Plane, tables: PlaneTables) -> Said:
    mark = tables.views[plane.view].targets[0]
    across, off, depth = plane.places_mm[0][mark]
    if abs(off) > FALLS * plane.unit_mm or not is_inside(plane, across, depth):
        return None
    aside = math.degrees(math.atan2(across, depth + plane.sector.near_px)) / (plane.sector.width_deg / 2)
    return _between(abs(aside - tables.targets[plane.view, ENDS[0], mark.name.lower()].mean), 0.25, 0.4)


def _apex(plane: Plane, _: Plane, tables: PlaneTables) -> Said:
    if not tables.views[plane.view].apex:
        return _NOT_ASKED
    off = [abs(places[Landmark.LV_APEX][1]) / plane.unit_mm for places in plane.places_mm]
    if not all(is_inside(plane, p[Landmark.LV_APEX][0], p[Landmark.LV_APEX][2]) for p in plane.places_mm):
        return None
    return True if min(off) >= FALLS else False if max(off) <= LIES else None


def _length(plane: Plane, _: Plane, tables: PlaneTables) -> Said:
    if not tables.views[plane.view].apex or plane.shown_apex_mm is None:
        return _NOT_ASKED
    apex, base = plane.places_mm[0][Landmark.LV_APEX], plane.places_mm[0][Landmark.MITRAL_CENTRE]
    seen = math.hypot(plane.shown_apex_mm[0] - base[0], plane.shown_apex_mm[1] - base[2])
    return _between(seen / float(np.linalg.norm(apex - base)), 0.95, 0.90)


def _share(plane: Plane, kind: Structure, among: tuple[Structure, ...]) -> float:
    areas = np.mean(plane.areas, axis=0)
    return float(areas[kind] / max(areas[list(among)].sum(), 1e-9))


_VENTRICLE = (Structure.LV_CAVITY, Structure.PAPILLARY)


def _papillary(plane: Plane, _: Plane, tables: PlaneTables) -> Said:
    if not tables.views[plane.view].no_papillary:
        return _NOT_ASKED
    return _between(_share(plane, Structure.PAPILLARY, _VENTRICLE), 0.03, 0.10)


def _aorta_shown(plane: Plane, _: Plane, tables: PlaneTables) -> Said:
    if tables.views[plane.view].aorta is not Aorta.SHOWN:
        return _NOT_ASKED
    share = _share(plane, Structure.AORTA, (Structure.AORTA, *_VENTRICLE))
    return _between(share / tables.aortas[plane.view], 0.9, 0.3)


def _aorta_unwanted(plane: Plane, _: Plane, tables: PlaneTables) -> Said:
    if tables.views[plane.view].aorta is not Aorta.ABSENT:
        return _NOT_ASKED
    return _between(_share(plane, Structure.AORTA, (Structure.AORTA, *_VENTRICLE)), 0.03, 0.10)


def _cusps(plane: Plane, _: Plane, tables: PlaneTables) -> Said:
    if not tables.views[plane.view].root:
        return _NOT_ASKED
    centre = plane.places_mm[1][Landmark.AORTIC_SINUS_CENTRE]
    spokes = [plane.places_mm[1][mark][[0, 2]] - centre[[0, 2]] for mark in COMMISSURES]
    if max(abs(plane.places_mm[1][mark][1]) for mark in COMMISSURES) > FALLS * plane.unit_mm:
        return None
    areas = [abs(float(np.cross(spokes[a], spokes[b]))) for a, b in ((0, 1), (1, 2), (2, 0))]
    return _between(min(areas) / max(areas), 0.65, 0.35)


def _round(kind: str) -> Callable[[Plane, Plane, PlaneTables], Said]:
    def ask(plane: Plane, _: Plane, tables: PlaneTables) -> Said:
        asked = tables.views[plane.view]
        if not (asked.short_axis if kind == "left ventricle" else asked.root):
            return _NOT_ASKED
        if kind not in plane.outlines:
            return None
        ratio = plane.outlines[kind][0]
        return _between(ratio, 0.91, 0.84) if kind == "left ventricle" else _between(ratio, 0.94, 0.86)

    return ask


def _papillary_even(plane: Plane, _: Plane, tables: PlaneTables) -> Said:
    asked = tables.views[plane.view]
    if not any(sign.structure.name == "PAPILLARY" for sign in asked.own):
        return _NOT_ASKED
    smaller, larger = sorted(plane.papillary_mm2)
    return _between(smaller / larger, 0.65, 0.35) if larger > 0 else None


def crossing(plane: Plane) -> float | None:
    """Return where the plane meets the ventricle's axis: 0 apex, 1 mitral annulus; None: it runs along it."""
    apex, base = (float(plane.places_mm[0][mark][1]) for mark in (Landmark.LV_APEX, Landmark.MITRAL_CENTRE))
    length = float(np.linalg.norm(plane.places_mm[0][Landmark.LV_APEX] - plane.places_mm[0][Landmark.MITRAL_CENTRE]))
    return apex / (apex - base) if abs(apex - base) > 0.3 * length else None


def lean_deg(plane: Plane) -> float:
    """Return how far the ventricle's axis leans along the depth of the picture out of the square to its plane."""
    axis = plane.places_mm[0][Landmark.MITRAL_CENTRE] - plane.places_mm[0][Landmark.LV_APEX]
    return math.degrees(math.atan2(float(axis[2]), abs(float(axis[1]))))


def _level(plane: Plane, steady: Plane, tables: PlaneTables) -> Said:
    asked = tables.views[plane.view]
    if not (asked.basal or asked.apical or asked.own):
        return _NOT_ASKED
    here, there = crossing(plane), crossing(steady)
    if here is None or there is None:
        return None
    return _between(abs(here - there), LEVEL_HELD, LEVEL_OFF)


def _mixed(plane: Plane, steady: Plane, tables: PlaneTables) -> Said:
    asked = tables.views[plane.view]
    if not (asked.short_axis and asked.basal and (asked.apical or asked.own)) or asked.lacking == "low":
        return _NOT_ASKED
    return _between(abs(lean_deg(plane) - lean_deg(steady)), STRAIGHT_DEG, LEANS_DEG)


def _mirrored(plane: Plane, _: Plane, tables: PlaneTables) -> Said:
    return plane.is_mirrored if tables.views[plane.view].order else _NOT_ASKED


_TRUTHS: dict[str, Callable[[Plane, Plane, PlaneTables], Said]] = {
    "septum_slope": _slope(Lies.ACROSS),
    "apical_axis_tilt": _slope(Lies.DOWN),
    "target_centred": _centred,
    "apex_shown": _apex,
    "ventricle_length": _length,
    "papillary_in_long_axis": _papillary,
    "aorta_shown": _aorta_shown,
    "aorta_unwanted": _aorta_unwanted,
    "cusps_even": _cusps,
    "ventricle_round": _round("left ventricle"),
    "aorta_round": _round("aorta"),
    "papillary_even": _papillary_even,
    "short_axis_level": _level,
    "level_mixed": _mixed,
    "picture_mirrored": _mirrored,
}
