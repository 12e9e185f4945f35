"""The sac around the heart: fibrous shell, fluid inside it, and the fat that fills the grooves between the chambers."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fanlight.heart.distance import Points, clamp, ellipsoid, smooth_min
from fanlight.heart.layout import Layout
from fanlight.heart.left_ventricle import around_axis, outer_distance
from fanlight.heart.paint import FAR_MM, Box, Canvas, Window
from fanlight.heart.rods import Rod, egg_box, rod_distance, rods_box
from fanlight.heart.tissue import Tissue
from fanlight.heart.triple import add

Array = Any  # an array of the array API standard


def heart_box(heart: Layout) -> Box:
    """Return bounds of everything inside the sac."""
    lv, rv, la, ra = heart.lv, heart.rv, heart.la, heart.ra
    spare = heart.fluid_mm + heart.pericardium_mm + 0.15 * heart.unit_mm
    low = (
        -lv.apex_mm - lv.apex_wall_mm - spare,
        min(-lv.outer_mm, ra.centre[1] - ra.radii[1], la.centre[1] - la.radii[1]) - spare,
        min(rv.centre[2] - rv.radii[2], ra.centre[2] - ra.radii[2]) - heart.rv_wall_mm - spare,
    )
    high = (
        max(la.centre[0] + la.radii[0], ra.centre[0] + ra.radii[0], heart.trunk.end[0] + heart.trunk.end_mm) + spare,
        max(rv.centre[1] + rv.radii[1], heart.pulmonic.centre[1] + 0.6 * heart.pulmonic.diameter_mm) + spare,
        max(lv.outer_mm, la.centre[2] + la.radii[2], heart.trunk.end[2] + heart.trunk.end_mm) + spare,
    )
    return Box(low=low, high=high)


def envelope_distance(window: Window, heart: Layout) -> Array:
    """Return the distance to the smooth outer surface of the heart, grooves filled.

    Each part is joined only where it comes near: further off than fluid, shell and fillet the value is merely large.
    """
    xp, u, lv = window.xp, heart.unit_mm, heart.lv
    wall, vessel = heart.rv_wall_mm, heart.vessel_wall_mm
    near = heart.fluid_mm + heart.pericardium_mm + 0.25 * u
    f = xp.full_like(window.points[0], FAR_MM)

    def join(box: Box, distance: Callable[[Points], Array], blend: float) -> None:
        spot = window.within(box)
        if spot is not None:
            f[spot] = smooth_min(f[spot], distance(tuple(v[spot] for v in window.points)), blend * u, xp)  # type: ignore[arg-type]

    def ventricle(p: Points) -> Array:
        # The ventricle is open at the base; a lid closes it where the atria take over.
        return xp.maximum(outer_distance(lv, around_axis(lv, p, xp), xp), p[0] - (lv.base_mm + 0.10 * u))

    wide = max(lv.outer_mm, lv.radius_mm + lv.septum_mm) + near
    join(
        Box(low=(-lv.apex_mm - lv.apex_wall_mm - near, -wide, -wide), high=(lv.base_mm + 0.10 * u + near, wide, wide)),
        ventricle,
        0.10,
    )
    for egg, rim, blend in (
        (heart.rv, wall, 0.10),
        (heart.la, heart.la_wall_mm, 0.20),
        (heart.ra, heart.ra_wall_mm, 0.20),
    ):
        radii = (egg.radii[0] + rim, egg.radii[1] + rim, egg.radii[2] + rim)
        join(egg_box(egg, rim + near), lambda p, egg=egg, radii=radii: ellipsoid(p, egg.centre, radii, xp), blend)
    aorta, trunk = heart.aortic, heart.trunk
    half = 0.55 * aorta.diameter_mm
    stem = Rod(start=aorta.centre, end=add(aorta.centre, aorta.axis, 0.62 * u), start_mm=half, end_mm=half)
    rods = [(rod, wall, 0.12) for rod in heart.conus] + [(stem, vessel, 0.15), (trunk, vessel, 0.12)]
    rods += [(rod, heart.la_wall_mm, 0.08) for rod in heart.left_auricle]
    rods += [(rod, heart.ra_wall_mm, 0.08) for rod in heart.right_auricle]
    for rod, rim, blend in rods:
        join(rods_box(rod, more_mm=rim + near), lambda p, rod=rod, rim=rim: rod_distance(p, rod, xp, rim), blend)
    return f


def paint_pericardium(canvas: Canvas, heart: Layout) -> None:
    """Lay the ground coats: shell, fluid, and fat between the chambers."""
    window = canvas.window(heart_box(heart))
    if window is None:
        return
    xp = window.xp
    f = envelope_distance(window, heart)
    fluid = heart.fluid_mm
    if fluid > 0.0:
        # Fluid gathers beside and below the ventricles; behind the atria the sac is tied down (common practice).
        a = window.points[0]
        tied = clamp((heart.lv.base_mm + 0.25 * heart.unit_mm - a) * (1.0 / (0.9 * heart.unit_mm)), 0.03, 1.0, xp)
        layer = fluid * tied
        window.paint(Tissue.PERICARDIUM, f - layer - heart.pericardium_mm)
        window.paint(Tissue.EFFUSION, f - layer)
    else:
        window.paint(Tissue.PERICARDIUM, f - heart.pericardium_mm)
    window.paint(Tissue.FAT, f)
