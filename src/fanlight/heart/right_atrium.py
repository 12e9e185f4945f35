"""The right atrium with auricle and venae cavae, and the septum between the atria."""

from __future__ import annotations

from dataclasses import dataclass, replace

from fanlight.heart.anatomy import Anatomy
from fanlight.heart.av_valve import AvValve
from fanlight.heart.base_plane import BasePlane
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.rods import Egg, Rod
from fanlight.heart.triple import Triple, add, unit

_CHANGE = 0.06  # of the radii between smallest and largest


@dataclass(frozen=True, slots=True, kw_only=True)
class AtrialSeptum:
    """A thin plate that continues the line of the ventricular septum."""

    middle: Triple
    normal: Triple  # unit vector from the right to the left atrium
    half_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RightAtrium:
    """The right atrium now, in rest coordinates of the heart."""

    body: Egg
    vestibule: Rod  # from the tricuspid ring into the body
    wall_mm: float
    auricle: tuple[Rod, Rod]
    cranial_vein: Rod
    caudal_vein: Rod


def atrial_septum(base: BasePlane, bulge_mm: float) -> AtrialSeptum:
    """Return the septum; a large left atrium leans it to the right."""
    p = base.right(0.36, -0.18, -0.42)
    lean = 0.6 * base.push_mm - 0.10 * bulge_mm
    return AtrialSeptum(middle=(p[0], p[1], p[2] + lean), normal=unit((0.05, -0.10, 1.0)), half_mm=0.032 * base.unit_mm)


_REACH = 1.35  # how far past the septum the atria's ellipsoids run before it cuts them: makes its face


def against_septum(body: Egg, septum: AtrialSeptum) -> Egg:
    """Return an atrium's body, lengthened on the side of the septum until the septum cuts a broad face into it."""
    gap = (septum.middle[2] - body.centre[2]) / body.radii[2]
    if gap < 0.0:
        return replace(body, rightwards=max(1.0, -gap * _REACH))
    return replace(body, leftwards=max(1.0, gap * _REACH))


def right_atrium(anatomy: Anatomy, state: CycleState, base: BasePlane, tricuspid: AvValve) -> RightAtrium:
    """Return the right atrium at this moment; its auricle wraps round the front of the aortic root."""
    u, big = base.unit_mm, anatomy.disease.right_atrium_ratio
    swell = u * big * (1.0 + _CHANGE * (state.atrial_filling - 1.0))
    body = Egg(
        centre=base.right(0.34, -0.36, -0.80 - 0.15 * (big - 1.0)),
        radii=(0.43 * swell, 0.42 * swell, 0.47 * swell),
    )
    middle, tip = base.right(0.52, 0.24, -0.98), base.right(0.54, 0.68, -0.74)
    # The venae cavae run along the body, not along the heart.
    cranial = anatomy.frame.to_heart(unit((1.0, -0.08, 0.12)))
    caudal = anatomy.frame.to_heart(unit((-1.0, 0.0, 0.05)))
    upper, lower = add(body.centre, (0.28, -0.12, 0.02), u), add(body.centre, (0.06, -0.26, 0.0), u)
    return RightAtrium(
        body=body,
        vestibule=Rod(
            start=add(tricuspid.centre, tricuspid.up, 0.06 * u),
            end=body.centre,
            start_mm=tricuspid.radius_mm,
            end_mm=0.75 * min(body.radii),
        ),
        wall_mm=0.0405 * u,
        auricle=(
            Rod(start=base.right(0.42, -0.12, -0.90), end=middle, start_mm=0.22 * u * big, end_mm=0.17 * u * big),
            Rod(start=middle, end=tip, start_mm=0.17 * u * big, end_mm=0.09 * u * big),
        ),
        cranial_vein=Rod(start=upper, end=add(upper, cranial, 0.80 * u), start_mm=0.18 * u, end_mm=0.17 * u),
        caudal_vein=Rod(start=lower, end=add(lower, caudal, 0.75 * u), start_mm=0.19 * u, end_mm=0.18 * u),
    )
