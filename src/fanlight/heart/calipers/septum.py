"""How the septum lies in the picture: its slope, and its kink against the septum between the atria.

Signs: a slope is above 0 where the septum falls to screen right, that is, its right end lies deeper.
"""

from __future__ import annotations

import numpy as np

from fanlight.heart.calipers.caliper import Caliper, Line, line, no_value
from fanlight.heart.calipers.left_ventricle import (
    NO_SEPTUM,
    NO_VENTRICLE,
    LeftVentricle,
    find_left_ventricle,
    septal_chord,
)
from fanlight.heart.calipers.region import find_region
from fanlight.heart.label_map import LabelMap
from fanlight.heart.tissue import Tissue

SLOPE_CONVENTION = (
    "chord of the middle third of the septum's left side against the horizontal, falling to the right above 0"
)
LEAN_CONVENTION = (
    "chord of the middle third of the septum's left side against the vertical, deep end to the right above 0"
)
KINK_CONVENTION = (
    "slope of the middle axis of the atrial septum less that of the chord of the middle third of the ventricular "
    "septum's left side"
)


def _slope_deg(a_line: Line) -> float:
    (row_a, col_a), (row_b, col_b) = a_line
    angle = float(np.degrees(np.arctan2(row_b - row_a, col_b - col_a)))
    return (angle + 90.0) % 180.0 - 90.0  # a line has no direction: -90 to 90


def _chord(label_map: LabelMap, ventricle: LeftVentricle | None) -> Line | str:
    ventricle = ventricle or find_left_ventricle(label_map)
    if ventricle is None:
        return NO_VENTRICLE
    chord = septal_chord(ventricle)
    return NO_SEPTUM if chord is None else line(*chord)


def measure_septal_slope(
    label_map: LabelMap, *, upright: bool = False, ventricle: LeftVentricle | None = None
) -> Caliper:
    """Return the signed angle of the septum against the horizontal, or against the vertical where it stands upright.

    Parameters
    ----------
    label_map : LabelMap
        A plane that shows the left ventricle and its septum.
    upright : bool
        Against the vertical, as in views from the apex; above 0 where the deep end lies to the right.
    ventricle : LeftVentricle, optional
        The map's left ventricle, when it has been looked for already.
    """
    name, convention = ("septal_lean", LEAN_CONVENTION) if upright else ("septal_slope", SLOPE_CONVENTION)
    chord = _chord(label_map, ventricle)
    if isinstance(chord, str):
        return no_value(name, convention, "deg", chord)
    value = _slope_deg(chord)
    if upright:
        value = 90.0 - value if value > 0 else -90.0 - value
    return Caliper(name=name, convention=convention, value=value, unit="deg", lines=(chord,))


def measure_septal_kink(label_map: LabelMap, *, ventricle: LeftVentricle | None = None) -> Caliper:
    """Return by how many degrees the atrial septum turns away from the ventricular one, clockwise on screen above 0."""
    name = "septal_kink"
    chord = _chord(label_map, ventricle)
    if isinstance(chord, str):
        return no_value(name, KINK_CONVENTION, "deg", chord)
    atrial = find_region(label_map.shown(), {Tissue.ATRIAL_SEPTUM})
    if atrial is None:
        return no_value(name, KINK_CONVENTION, "deg", "the atrial septum is not in the picture")
    sizes, ways = np.linalg.eigh(atrial.spread_px2)
    if sizes[1] < 4 * sizes[0]:  # engineering judgement: less than twice as long as thick has no clear direction
        return no_value(name, KINK_CONVENTION, "deg", "the atrial septum is too short in the picture to have a slope")
    half = np.sqrt(3 * sizes[1]) * ways[:, 1]  # a strip of length L has a second moment of L²/12 along itself
    axis = line(atrial.centre_px - half, atrial.centre_px + half)
    turn = (_slope_deg(axis) - _slope_deg(chord) + 90.0) % 180.0 - 90.0
    return Caliper(name=name, convention=KINK_CONVENTION, value=turn, unit="deg", lines=(chord, axis))
