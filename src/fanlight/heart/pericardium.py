"""The sac around the heart: fibrous shell, fluid inside it, and the fat that fills the grooves between the chambers."""

from __future__ import annotations

from typing import Any

from fanlight.heart.distance import Points, capsule, ellipsoid, smooth_min
from fanlight.heart.layout import Layout
from fanlight.heart.left_ventricle import around_axis, outer_distance
from fanlight.heart.paint import Box, Canvas
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


def envelope_distance(heart: Layout, p: Points, xp: Any) -> Array:
    """Return the distance to the smooth outer surface of the heart, grooves filled."""
    u = heart.unit_mm
    lv = heart.lv
    wall = heart.rv_wall_mm
    q = around_axis(lv, p, xp)
    # The ventricle is open at the base; a lid closes it where the atria take over.
    f = xp.maximum(outer_distance(lv, q, xp), p[0] - (lv.base_mm + 0.10 * u))
    rv = ellipsoid(p, heart.rv.centre, tuple(r + wall for r in heart.rv.radii), xp)  # type: ignore[arg-type]
    f = smooth_min(f, rv, 0.10 * u, xp)
    la = ellipsoid(p, heart.la.centre, tuple(r + heart.la_wall_mm for r in heart.la.radii), xp)  # type: ignore[arg-type]
    ra = ellipsoid(p, heart.ra.centre, tuple(r + heart.ra_wall_mm for r in heart.ra.radii), xp)  # type: ignore[arg-type]
    f = smooth_min(f, smooth_min(la, ra, 0.12 * u, xp), 0.20 * u, xp)
    for rod in heart.conus:
        f = smooth_min(f, capsule(p, rod.start, rod.end, rod.start_mm + wall, rod.end_mm + wall, xp), 0.12 * u, xp)
    vessel = heart.vessel_wall_mm
    aorta = heart.aortic
    half = 0.55 * aorta.diameter_mm + vessel
    f = smooth_min(f, capsule(p, aorta.centre, add(aorta.centre, aorta.axis, 0.62 * u), half, half, xp), 0.15 * u, xp)
    trunk = heart.trunk
    wide = trunk.start_mm + vessel
    f = smooth_min(f, capsule(p, trunk.start, trunk.end, wide, wide, xp), 0.12 * u, xp)
    for rods, rim in ((heart.left_auricle, heart.la_wall_mm), (heart.right_auricle, heart.ra_wall_mm)):
        for rod in rods:
            f = smooth_min(f, capsule(p, rod.start, rod.end, rod.start_mm + rim, rod.end_mm + rim, xp), 0.08 * u, xp)
    return f


def paint_pericardium(canvas: Canvas, heart: Layout) -> None:
    """Lay the ground coats: shell, fluid, and fat between the chambers."""
    window = canvas.window(heart_box(heart))
    if window is None:
        return
    xp = window.xp
    f = envelope_distance(heart, window.points, xp)
    fluid = heart.fluid_mm
    if fluid > 0.0:
        # Fluid gathers beside and below the ventricles; behind the atria the sac is tied down (common practice).
        a = window.points[0]
        tied = xp.clip((heart.lv.base_mm + 0.25 * heart.unit_mm - a) * (1.0 / (0.9 * heart.unit_mm)), 0.03, 1.0)
        layer = fluid * tied
        window.paint(Tissue.PERICARDIUM, f - layer - heart.pericardium_mm)
        window.paint(Tissue.EFFUSION, f - layer)
    else:
        window.paint(Tissue.PERICARDIUM, f - heart.pericardium_mm)
    window.paint(Tissue.FAT, f)
