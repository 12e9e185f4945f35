"""How alike the two papillary muscles are in a short axis."""

from __future__ import annotations

import numpy as np

from fanlight.heart.calipers.caliper import Caliper, no_value
from fanlight.heart.calipers.left_ventricle import (
    NO_SEPTUM,
    NO_VENTRICLE,
    LeftVentricle,
    find_left_ventricle,
    septal_chord,
    unit_between,
)
from fanlight.heart.calipers.region import mask_of
from fanlight.heart.label_map import LabelMap
from fanlight.heart.tissue import Tissue

AREA_CONVENTION = "smaller area of the two papillary muscles over the larger"
MIRROR_CONVENTION = (
    "difference of the two muscles' distances from the line through the centre of the cavity at right angles to the "
    "septum, over their sum"
)
_MUSCLES = (Tissue.PAPILLARY_CRANIAL, Tissue.PAPILLARY_CAUDAL)


def measure_papillary_symmetry(
    label_map: LabelMap, *, ventricle: LeftVentricle | None = None
) -> tuple[Caliper, Caliper]:
    """Return the ratio of the muscles' areas and how far their places are from mirror images.

    Parameters
    ----------
    label_map : LabelMap
        A short axis at the papillary muscles.
    ventricle : LeftVentricle, optional
        The map's left ventricle, when it has been looked for already.

    Returns
    -------
    tuple of Caliper
        "papillary_area_ratio": 1 alike, 0 one of them missing. "papillary_mirror": 0 mirror images, 1 both on one side
        or one on the line.
    """
    names = (("papillary_area_ratio", AREA_CONVENTION), ("papillary_mirror", MIRROR_CONVENTION))
    ventricle = ventricle or find_left_ventricle(label_map)
    chord = None if ventricle is None else septal_chord(ventricle)
    tissue = label_map.shown()
    places = [np.argwhere(mask_of(tissue, {muscle})) for muscle in _MUSCLES]
    if ventricle is None or not any(len(place) for place in places):
        reason = NO_VENTRICLE if ventricle is None else "no papillary muscle is in the picture"
        return no_value(*names[0], "1", reason), no_value(*names[1], "1", reason)
    sizes = [len(place) for place in places]
    areas = Caliper(name=names[0][0], convention=AREA_CONVENTION, value=min(sizes) / max(sizes), unit="1")
    if min(sizes) == 0:
        return areas, no_value(*names[1], "1", "only one papillary muscle is in the picture")
    if chord is None:
        return areas, no_value(*names[1], "1", NO_SEPTUM)
    along = unit_between(*chord)
    off = [float((place.mean(axis=0) - ventricle.centre_px) @ along) for place in places]
    mirror = abs(off[0] + off[1]) / (abs(off[0]) + abs(off[1])) if any(off) else 0.0
    return areas, Caliper(name=names[1][0], convention=MIRROR_CONVENTION, value=mirror, unit="1")
