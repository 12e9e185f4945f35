"""The aortic root, the ascending aorta, and the outflow tract that leads to it from the left ventricle."""

from __future__ import annotations

from dataclasses import dataclass, replace

from fanlight.heart.anatomy import Anatomy
from fanlight.heart.base_plane import BasePlane
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.left_ventricle import LeftVentricle
from fanlight.heart.rods import Rod
from fanlight.heart.semilunar_valve import Root
from fanlight.heart.triple import Triple, across, add, cross, scaled, unit

_AXIS = unit((0.97, 0.22, -0.04))  # leans 13 degrees from the ventricle's long axis: the apex looks into it
# Line from the root's middle to the commissure of left and non-coronary cusp: it points at the left atrium, as both
# published ways of measuring LA:Ao in the short axis need (FELINECARD; WHIPPET2023).
_TO_ATRIUM = (0.0, -0.68, 0.73)
_FIRST_CUSP = scaled(across(_TO_ATRIUM, _AXIS), -1.0)
_SECOND = cross(_AXIS, _FIRST_CUSP)
_BEND = across((-0.1, -0.55, 0.75), _AXIS)  # beyond the sinuses the aorta turns caudally and to the left, into its arch
_USUAL = 0.57  # root diameter over unit in a dog of 10 kg (CORNELL2004)


@dataclass(frozen=True, slots=True, kw_only=True)
class Aorta:
    """The aorta now, in rest coordinates of the heart."""

    root: Root
    resting_root: Root  # where it stands, shut, when the ring is at rest
    bend: tuple[Triple, float]  # direction and curvature (1/mm) beyond the sinuses
    length_mm: float  # of the modelled part, from the annulus
    wall_mm: float
    outflow: Rod
    commissures_deg: Triple  # right/non-coronary, left/non-coronary, right/left; angles about the axis

    @property
    def end(self) -> Triple:
        """Where the modelled part ends."""
        past = self.length_mm - self.root.length_mm
        straight = add(self.root.centre, self.root.axis, self.length_mm)
        return add(straight, self.bend[0], 0.5 * self.bend[1] * past * past)


def aorta(anatomy: Anatomy, state: CycleState, base: BasePlane, lv: LeftVentricle) -> Aorta:
    """Return the aorta at this moment: its wall touches the mitral ring, its right side stands over the septum."""
    u, diameter = base.unit_mm, anatomy.sizes.aorta_mm
    # A wider root keeps its contact with the mitral ring and spreads away from it.
    spread = 0.25 * (diameter - _USUAL * u)
    root = Root(
        centre=add(base.left(0.02, 0.27, -0.35), (0.0, 1.0, -1.0), spread),
        axis=_AXIS,
        first_cusp=_FIRST_CUSP,
        second=_SECOND,
        diameter_mm=diameter,
        opening=state.aortic_opening,
        half_mm=max(0.013 * u, 0.28),
        trefoil=0.06,
    )
    resting = add(base.resting.left(0.02, 0.27, -0.35), (0.0, 1.0, -1.0), spread)
    # The tract begins inside the ventricle. In systole the walls close in below the ring, so that it begins higher and
    # narrower; a flattened septum comes into the ventricle, and the tract goes before it.
    squeeze = lv.radius_mm / lv.rest_radius_mm
    off = 0.15 * u * squeeze
    start = add(root.centre, _AXIS, -(0.42 - 0.24 * max(state.contraction, 0.0)) * u)
    flat = lv.radius_mm * (1.0 - lv.septal_share)
    start = (start[0], 0.5 * off, -0.87 * off + 0.8 * flat)
    return Aorta(
        root=root,
        resting_root=replace(root, centre=resting, opening=0.0),
        bend=(_BEND, 0.35 / u),
        length_mm=1.35 * u,
        wall_mm=0.045 * u,
        outflow=Rod(
            start=start,
            end=add(root.centre, _AXIS, 0.03 * u),
            start_mm=min(0.40 * diameter, 0.95 * lv.radius_mm - off - 0.4 * flat),
            end_mm=0.42 * diameter,
        ),
        # The right cusp is the first; the left one lies on the side of the free wall.
        commissures_deg=(300.0, 180.0, 60.0) if root.second[2] > 0.0 else (60.0, 180.0, 300.0),
    )
