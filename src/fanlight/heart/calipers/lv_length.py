"""Length of the left ventricle: from the middle of the mitral ring to the apex, in any long axis or apical plane."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.calipers.caliper import Caliper, length_mm, line, no_value
from fanlight.heart.calipers.left_ventricle import (
    NO_VENTRICLE,
    LeftVentricle,
    across,
    find_left_ventricle,
    unit_between,
)
from fanlight.heart.calipers.orifice import LEFT_VENTRICLE, find_orifice
from fanlight.heart.label_map import LabelMap
from fanlight.heart.tissue import Tissue

CONVENTION = "middle of the mitral ring (between the leaflets' hinges) to the farthest point of the cavity, inner edge"
NO_RING = "the mitral ring is not in the picture: ventricle and atrium do not meet"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LongAxis:
    """The ventricle's long axis in the picture. All places are (row, col)."""

    ventricle: LeftVentricle
    hinges_px: tuple[NDArray[np.float64], NDArray[np.float64]]  # screen left first
    ring_px: NDArray[np.float64]  # middle of the ring
    apex_px: NDArray[np.float64]

    @property
    def to_apex(self) -> NDArray[np.float64]:
        """Unit vector from ring to apex."""
        return unit_between(self.ring_px, self.apex_px)

    @property
    def length_px(self) -> float:
        """Distance of apex and ring."""
        return float(np.hypot(*(self.apex_px - self.ring_px)))

    @property
    def to_ventricle(self) -> NDArray[np.float64]:
        """Unit vector at right angles to the ring, into the ventricle."""
        return across(unit_between(*self.hinges_px), self.apex_px - self.ring_px)


def find_long_axis(label_map: LabelMap, ventricle: LeftVentricle | None = None) -> LongAxis | str:
    """Return the long axis of the left ventricle in the picture, or why there is none."""
    ventricle = ventricle or find_left_ventricle(label_map)
    if ventricle is None:
        return NO_VENTRICLE
    hinges = find_orifice(label_map.shown(), LEFT_VENTRICLE, {Tissue.LA_CAVITY})
    if hinges is None:
        return NO_RING
    ring = (hinges[0] + hinges[1]) / 2
    farthest = int(np.hypot(*(ventricle.outline_px - ring).T).argmax())
    if ventricle.behind[farthest] == Tissue.OUTSIDE:
        return "the apex is cut by the edge of the picture"
    return LongAxis(ventricle=ventricle, hinges_px=hinges, ring_px=ring, apex_px=ventricle.outline_px[farthest])


def measure_lv_length(label_map: LabelMap, *, axis: LongAxis | str | None = None) -> Caliper:
    """Return the length of the left ventricle, mm.

    Parameters
    ----------
    label_map : LabelMap
        A plane along the ventricle.
    axis : LongAxis or str, optional
        What `find_long_axis` gave, when it has been asked already.

    Notes
    -----
    In an oblique plane the farthest point of the cavity is not the apex, and the length is too short:
    `measure_shortening` compares planes.
    """
    axis = find_long_axis(label_map) if axis is None else axis
    if isinstance(axis, str):
        return no_value("lv_length", CONVENTION, "mm", axis)
    ends = line(axis.ring_px, axis.apex_px)
    return Caliper(
        name="lv_length",
        convention=CONVENTION,
        value=length_mm(ends, label_map.mm_per_px),
        unit="mm",
        lines=(ends,),
    )


def measure_mitral_ring(label_map: LabelMap, *, axis: LongAxis | str | None = None) -> Caliper:
    """Return the distance of the two mitral hinges in the picture, mm."""
    convention = "hinge of the one leaflet to the hinge of the other"
    axis = find_long_axis(label_map) if axis is None else axis
    if isinstance(axis, str):
        return no_value("mitral_ring", convention, "mm", axis)
    ends = line(*axis.hinges_px)
    return Caliper(
        name="mitral_ring",
        convention=convention,
        value=length_mm(ends, label_map.mm_per_px),
        unit="mm",
        lines=(ends,),
    )


def measure_shortening(here: Caliper, longest: Caliper) -> Caliper:
    """Return the foreshortening index: length of the ventricle in this plane over the longest one, same phase.

    Parameters
    ----------
    here, longest : Caliper
        Lengths of the left ventricle. 1 means that the plane meets the apex.
    """
    convention = "length of the left ventricle in this plane over the longest in the study at the same phase"
    for part in (here, longest):
        if part.value is None:
            return no_value("foreshortening_index", convention, "1", part.reason)
    assert here.value is not None
    assert longest.value is not None
    return Caliper(
        name="foreshortening_index",
        convention=convention,
        value=here.value / longest.value,
        unit="1",
        lines=here.lines,  # the other length lies on another map
    )
