"""Area of the right ventricle over that of the left in one picture."""

from __future__ import annotations

from fanlight.heart.calipers.caliper import Caliper, no_value
from fanlight.heart.calipers.left_ventricle import CAVITY, NO_VENTRICLE, RIGHT_LUMEN
from fanlight.heart.calipers.region import mask_of
from fanlight.heart.label_map import LabelMap

CONVENTION = "area of the right ventricle's lumen over that of the left, inner edges, muscles within counted as lumen"


def measure_rv_lv_area(label_map: LabelMap) -> Caliper:
    """Return the area of the right ventricle over that of the left.

    Notes
    -----
    In a normal heart the left is about three times as large as the right (common practice, no source; a text on cats
    says so of the short axis).
    """
    tissue = label_map.shown()
    left, right = int(mask_of(tissue, CAVITY).sum()), int(mask_of(tissue, RIGHT_LUMEN).sum())
    if not left:
        return no_value("rv_lv_area", CONVENTION, "1", NO_VENTRICLE)
    if not right:
        return no_value("rv_lv_area", CONVENTION, "1", "the right ventricle is not in the picture")
    return Caliper(name="rv_lv_area", convention=CONVENTION, value=right / left, unit="1")
