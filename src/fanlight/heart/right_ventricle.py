"""The right ventricle: a crescent around the septum, its outflow tract in front of the aorta, the tricuspid valve."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fanlight.heart.anatomy import Anatomy
from fanlight.heart.av_valve import AvValve, LeafletShape, make_valve
from fanlight.heart.base_plane import BasePlane
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.left_ventricle import LeftVentricle
from fanlight.heart.pulmonary_artery import PulmonaryArtery
from fanlight.heart.rods import Egg, Rod
from fanlight.heart.triple import Triple, across, add, cross, mix, scaled, unit

_SEPTAL = LeafletShape(links=(0.50, 0.55), shut_deg=(-26.0, -18.0), open_deg=(-80.0, -88.0))
_PARIETAL = LeafletShape(links=(0.58, 0.60), shut_deg=(-36.0, -4.5), open_deg=(-96.0, -88.0))
# Blood flows ventrally and to the left through the ring, so that left cranial and apical windows both look along it
# (20 healthy dogs: tricuspid flow was best aligned from the left; views by window in the plan tables).
_RING = 0.32  # a little wider than the mitral ring (0.31): the same blood at lower pressure (common practice)
_UP = unit((0.81, -0.47, -0.35))
_SIDEWAYS = scaled(across((0.0, 0.0, 1.0), _UP), -1.0)  # from the septal to the parietal hinge
_ALONG = cross(_SIDEWAYS, _UP)
# Inlet and apex part: an egg around the septum, in units from the left ventricle's centre. So deep that the
# cavity has 0.4 of the left one's width in the long axis (a third to 0.4: common practice), so wide and long that it
# holds about a tenth more than the left: about the same, and a lower ejection fraction, from memory.
_CENTRE = (0.22, 0.25, -0.46)
_RADII = (1.14, 0.885, 0.735)
_REACH = 0.58  # to the left of its centre: ends the crescent where the septum ends
_USUAL_SEPTUM = 0.74  # right side of the septum from the long axis: see `base_plane`
_GROWTH = (0.10, 0.10, 0.30)  # of the radii with the size drawn: a loaded ventricle grows away from the septum
# What an effort of 1 takes off at the end of systole. The free wall does most of the work (engineering judgement).
_SQUEEZE_ACROSS, _SQUEEZE_DEPTH, _TRACT_SQUEEZE = 0.23, 0.36, 0.34
_CAUDAL_SHIFT = 0.12  # of its middle, units: the side that lies on the caudal end of the septum moves least
_THICKENING = 0.38  # muscle is all but incompressible: its surface shrinks by about a third (physics)


@dataclass(frozen=True, slots=True, kw_only=True)
class RightVentricle:
    """The right ventricle now, in rest coordinates of the heart."""

    body: Egg
    resting_body: Egg
    wall_mm: float
    inlet: Rod  # below the tricuspid valve
    conus: tuple[Rod, Rod]  # outflow tract, from the ventricle to the pulmonic valve
    tricuspid: AvValve
    band: Rod  # septomarginal band, from the septum to the free wall
    papillary: Rod

    def chordae(self) -> tuple[tuple[Triple, Triple], ...]:
        """Return start and end of each tricuspid chord: from the papillary muscle, and short ones from the septum."""
        valve, tip = self.tricuspid, self.papillary.end
        septum = valve.at((-0.75, -1.5))
        out = []
        for side in (-0.45, 0.0, 0.45):
            out.append((tip, valve.at(valve.parietal[2], side)))
            out.append((septum if side < 0.2 else tip, valve.at(valve.septal[2], side)))
        return tuple(out)


def tricuspid_valve(anatomy: Anatomy, state: CycleState, base: BasePlane) -> AvValve:
    """Return the valve at this moment; its septal hinge stands at about the level of the mitral one."""
    u = base.unit_mm
    return make_valve(
        centre=base.right(-0.10, -0.22, -0.85),
        up=_UP,
        across=_SIDEWAYS,
        along=_ALONG,
        radius_mm=_RING * u * anatomy.disease.right_atrium_ratio**0.7,
        half_mm=max(0.0138 * u, 0.28),
        septal=_SEPTAL,
        parietal=_PARIETAL,
        opening=state.tricuspid_opening,
        prolapse=0.0,
    )


def _body(size_ratio: float, unit_mm: float, push_mm: float, squeeze: float) -> Egg:
    """Return the inlet and apex part; its half towards the left keeps its depth, as it is bound to the septum."""
    long, wide, deep = (
        unit_mm * radius * (1.0 + growth * (size_ratio - 1.0)) for radius, growth in zip(_RADII, _GROWTH, strict=True)
    )
    a, b, c = (unit_mm * place for place in _CENTRE)
    deep *= 1.0 - _SQUEEZE_DEPTH * squeeze
    return Egg(
        centre=(a, b - _CAUDAL_SHIFT * squeeze * unit_mm, c - push_mm),
        radii=(long, wide * (1.0 - _SQUEEZE_ACROSS * squeeze), deep),
        leftwards=_REACH * unit_mm / deep,
    )


def right_body(anatomy: Anatomy, state: CycleState, base: BasePlane, effort: float) -> Egg:
    """Return the inlet and apex part at this moment; `effort` as for `right_ventricle`."""
    return _body(anatomy.sizes.rv_size_ratio, base.unit_mm, base.push_mm, effort * state.right_contraction)


def _free_wall(body: Egg, a: float, b: float) -> Triple:
    """Return the place on the inner side of the free wall at these coordinates along and across the heart."""
    x, y = (a - body.centre[0]) / body.radii[0], (b - body.centre[1]) / body.radii[1]
    return (a, b, body.centre[2] - body.radii[2] * math.sqrt(max(1.0 - x * x - y * y, 0.0)))


def right_ventricle(
    anatomy: Anatomy, state: CycleState, base: BasePlane, lv: LeftVentricle, pulmonary: PulmonaryArtery, effort: float
) -> RightVentricle:
    """Return the right ventricle at this moment; it rests on the septum and follows it.

    `effort` scales how far its walls come in: 1 is about that of a healthy dog (see `right_stroke`).
    """
    u, push = base.unit_mm, base.push_mm
    squeeze = effort * state.right_contraction
    tricuspid = tricuspid_valve(anatomy, state, base)
    resting = _body(anatomy.sizes.rv_size_ratio, u, lv.rest_radius_mm + lv.rest_septum_mm - _USUAL_SEPTUM * u, 0.0)
    body = right_body(anatomy, state, base, effort)
    depth = body.radii[2]
    free = body.centre[2]
    tight = 1.0 - _TRACT_SQUEEZE * squeeze
    root, trunk = pulmonary.root, pulmonary.trunk.start_mm
    foot = base.right(-0.36, 0.40, -0.80)
    turn = (base.level_mm - 0.04 * u, 0.80 * u + 0.8 * base.widened_mm, -0.50 * u - 0.5 * push)  # in front of the aorta
    below_ring = add(tricuspid.centre, tricuspid.up, -0.58 * u)
    return RightVentricle(
        body=body,
        resting_body=resting,
        wall_mm=anatomy.sizes.rv_free_wall_mm * (1.0 + _THICKENING * squeeze),
        inlet=Rod(
            start=add(tricuspid.centre, tricuspid.up, -0.06 * u),
            end=add(tricuspid.centre, tricuspid.up, -0.42 * u),
            start_mm=0.98 * tricuspid.radius_mm,
            end_mm=0.62 * tricuspid.radius_mm * (1.0 - 0.15 * squeeze),
        ),
        conus=(
            Rod(start=foot, end=turn, start_mm=0.29 * u * tight, end_mm=1.06 * trunk * tight),
            Rod(
                start=turn,
                end=add(root.centre, root.axis, 0.02 * u),
                start_mm=1.06 * trunk * tight,
                end_mm=0.9 * trunk,
            ),
        ),
        tricuspid=tricuspid,
        band=Rod(
            start=(-0.18 * u, 0.20 * u, -lv.septal_surface_mm + 0.02 * u),
            end=_free_wall(body, -0.30 * u, 0.42 * u),
            start_mm=0.050 * u,
            end_mm=0.045 * u,
        ),
        papillary=Rod(
            start=_free_wall(body, -0.28 * u, 0.05 * u),
            end=mix(below_ring, (-0.20 * u, 0.10 * u, free - 0.62 * depth), 0.5),
            start_mm=0.075 * u,
            end_mm=0.04 * u,
        ),
    )
