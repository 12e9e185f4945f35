"""The right ventricle: a crescent around the septum, its outflow tract in front of the aorta, the tricuspid valve."""

from __future__ import annotations

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
_UP = (0.81, -0.47, -0.35)


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
    up = unit(_UP)
    sideways = scaled(across((0.0, 0.0, 1.0), up), -1.0)
    return make_valve(
        centre=base.right(-0.10, -0.22, -0.80),
        up=up,
        across=sideways,
        along=cross(sideways, up),
        radius_mm=0.27 * u * anatomy.disease.right_atrium_ratio**0.7,
        half_mm=max(0.0138 * u, 0.28),
        septal=_SEPTAL,
        parietal=_PARIETAL,
        opening=state.tricuspid_opening,
        prolapse=0.0,
    )


def right_ventricle(
    anatomy: Anatomy, state: CycleState, base: BasePlane, lv: LeftVentricle, pulmonary: PulmonaryArtery
) -> RightVentricle:
    """Return the right ventricle at this moment; it rests on the septum and follows it."""
    u, push = base.unit_mm, base.push_mm
    wide = anatomy.sizes.rv_size_ratio
    squeeze = state.right_contraction
    tricuspid = tricuspid_valve(anatomy, state, base)
    long, across_mm, deep = 1.0 * u * (0.7 + 0.3 * wide), 0.67 * u * (0.6 + 0.4 * wide), 0.66 * u * (0.25 + 0.75 * wide)
    resting_push = lv.rest_radius_mm + lv.rest_septum_mm - 0.74 * u
    resting = Egg(centre=(0.06 * u, 0.03 * u, -0.41 * u - resting_push), radii=(long, across_mm, deep))
    depth = deep * (1.0 - 0.20 * squeeze)  # the free wall does most of the work
    body = Egg(centre=(0.06 * u, 0.03 * u, -0.41 * u - push), radii=(long, across_mm * (1.0 - 0.10 * squeeze), depth))
    free = body.centre[2]
    tight = 1.0 - 0.12 * squeeze
    root, trunk = pulmonary.root, pulmonary.trunk.start_mm
    foot = base.right(-0.36, 0.40, -0.80)
    turn = (base.level_mm - 0.04 * u, 0.80 * u + 0.8 * base.widened_mm, -0.50 * u - 0.5 * push)  # in front of the aorta
    below_ring = add(tricuspid.centre, tricuspid.up, -0.58 * u)
    return RightVentricle(
        body=body,
        resting_body=resting,
        wall_mm=anatomy.sizes.rv_free_wall_mm * (1.0 + 0.25 * squeeze),
        inlet=Rod(
            start=add(tricuspid.centre, tricuspid.up, -0.06 * u),
            end=add(tricuspid.centre, tricuspid.up, -0.42 * u),
            start_mm=0.98 * tricuspid.radius_mm,
            end_mm=0.62 * tricuspid.radius_mm * (1.0 - 0.15 * squeeze),
        ),
        conus=(
            Rod(start=foot, end=turn, start_mm=0.25 * u * tight, end_mm=1.06 * trunk * tight),
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
            end=(-0.30 * u, 0.42 * u, free - 0.80 * depth),
            start_mm=0.050 * u,
            end_mm=0.045 * u,
        ),
        papillary=Rod(
            start=(-0.28 * u, 0.05 * u, free - 0.86 * depth),
            end=mix(below_ring, (-0.20 * u, 0.10 * u, free - 0.62 * depth), 0.5),
            start_mm=0.075 * u,
            end_mm=0.04 * u,
        ),
    )
