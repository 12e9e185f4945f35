"""Eccentricity index of the left ventricle: how far the septum is flattened."""

from __future__ import annotations

import numpy as np

from fanlight.heart.calipers.caliper import Caliper, length_mm, line, no_value
from fanlight.heart.calipers.left_ventricle import (
    CUT,
    NO_SEPTUM,
    NO_VENTRICLE,
    LeftVentricle,
    across,
    find_left_ventricle,
    septal_chord,
    unit_between,
)
from fanlight.heart.calipers.region import leave_px
from fanlight.heart.label_map import LabelMap
from fanlight.heart.tissue import Tissue

CONVENTION = (
    "short axis, diameter parallel to the septum over the diameter at right angles to it, both through the centre of "
    "the cavity, inner edges, papillary muscles bridged"
)


def measure_eccentricity(label_map: LabelMap, *, ventricle: LeftVentricle | None = None) -> Caliper:
    """Return the diameter parallel to the septum over the one across it: 1 round, above 1 with a flattened septum.

    Parameters
    ----------
    label_map : LabelMap
        A short axis of the left ventricle.
    ventricle : LeftVentricle, optional
        The map's left ventricle, when it has been looked for already.

    Notes
    -----
    An oblique plane draws the section out too: the index tells of the septum only where the plane is right.
    """
    ventricle = ventricle or find_left_ventricle(label_map)
    if ventricle is None:
        return no_value("eccentricity_index", CONVENTION, "1", NO_VENTRICLE)
    chord = septal_chord(ventricle)
    if chord is None:
        return no_value("eccentricity_index", CONVENTION, "1", NO_SEPTUM)
    if (ventricle.behind == Tissue.OUTSIDE).any():
        return no_value("eccentricity_index", CONVENTION, "1", CUT)
    along = unit_between(*chord)
    over = across(along, chord[0] - ventricle.centre_px)
    ways = np.stack([along, -along, over, -over])
    far = leave_px(ventricle.cavity, ventricle.centre_px, ways)
    ends = ventricle.centre_px + far[:, None] * ways
    parallel, perpendicular = line(ends[0], ends[1]), line(ends[2], ends[3])
    return Caliper(
        name="eccentricity_index",
        convention=CONVENTION,
        value=length_mm(parallel, 1.0) / length_mm(perpendicular, 1.0),
        unit="1",
        lines=(parallel, perpendicular),
    )
