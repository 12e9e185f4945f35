"""On which side of the mitral ring ventricle and atrium lie: all that the atrium's line asks of the ventricle."""

from __future__ import annotations

from fanlight.heart.calipers.left_ventricle import NO_VENTRICLE, find_left_ventricle
from fanlight.heart.calipers.lv_length import NO_RING, LongAxis
from fanlight.heart.calipers.orifice import LEFT_VENTRICLE, find_orifice
from fanlight.heart.label_map import LabelMap
from fanlight.heart.tissue import Tissue


def find_mitral_side(label_map: LabelMap) -> LongAxis | str:
    """Return the ring of a long axis with the middle of the ventricle's cavity in place of its apex, or why not.

    Notes
    -----
    `find_long_axis` asks for the apex itself: it is refused where the picture cuts it, as it does of dilated
    ventricles, and where an emptied cavity reaches farthest into its outflow tract that place would be taken for it,
    which may lie on the atrium's side of the ring. Of what is returned `to_ventricle` holds; `to_apex` and `length_px`
    are those of the cavity's middle.
    """
    ventricle = find_left_ventricle(label_map)
    if ventricle is None:
        return NO_VENTRICLE
    hinges = find_orifice(label_map.shown(), LEFT_VENTRICLE, {Tissue.LA_CAVITY})
    if hinges is None:
        return NO_RING
    ring = (hinges[0] + hinges[1]) / 2
    return LongAxis(ventricle=ventricle, hinges_px=hinges, ring_px=ring, apex_px=ventricle.cavity.centre_px)
