"""The sac around the heart: fibrous shell, fluid inside it, and the fat that fills the grooves between the chambers."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fanlight.heart.distance import clamp, smooth_min
from fanlight.heart.layout import Layout
from fanlight.heart.left_heart import left_surface
from fanlight.heart.paint import FAR_MM, Box, Canvas, Window
from fanlight.heart.rods import Egg, Rod, egg_box, rods_box, solid_at
from fanlight.heart.side_by_side import least, most
from fanlight.heart.tissue import Tissue
from fanlight.heart.triple import add

Array = Any  # an array of the array API standard


def heart_box(heart: Layout) -> Box:
    """Return bounds of everything inside the sac."""
    lv, rv, la, ra = heart.lv, heart.rv.body, heart.left_atrium.body, heart.right_atrium.body
    spare = heart.fluid_mm + heart.pericardium_mm + 0.15 * heart.unit_mm
    low = (
        -lv.apex_mm - lv.apex_wall_mm - spare,
        least(-lv.outer_mm, ra.centre[1] - ra.radii[1], la.centre[1] - la.radii[1]) - spare,
        least(rv.centre[2] - rv.radii[2], ra.centre[2] - ra.radii[2]) - heart.rv.wall_mm - spare,
    )
    high = (
        most(
            la.centre[0] + la.radii[0],
            ra.centre[0] + ra.radii[0],
            heart.pulmonary.trunk.end[0] + heart.pulmonary.trunk.end_mm,
        )
        + spare,
        most(rv.centre[1] + rv.radii[1], heart.pulmonary.root.centre[1] + 0.6 * heart.pulmonary.root.diameter_mm)
        + spare,
        most(lv.outer_mm, la.centre[2] + la.radii[2], heart.pulmonary.trunk.end[2] + heart.pulmonary.trunk.end_mm)
        + spare,
    )
    return Box(low=low, high=high)


def _parts(heart: Layout, near_mm: float) -> list[tuple[Box, Callable[[Window], Array], float]]:
    """Return bounds, distance and fillet (units) of every part that the sac covers."""
    u, lv = heart.unit_mm, heart.lv
    top = lv.base_mm + 0.10 * u  # a lid closes the open base of the ventricle where the atria take over

    def ventricle(window: Window) -> Array:
        return window.xp.maximum(window.known(left_surface, lv), window.points[0] - top)

    wide = most(lv.outer_mm, lv.radius_mm + lv.septum_mm) + near_mm
    low = (-lv.apex_mm - lv.apex_wall_mm - near_mm, -wide, -wide)
    parts: list[tuple[Box, Callable[[Window], Array], float]] = [
        (Box(low=low, high=(top + near_mm, wide, wide)), ventricle, 0.10)
    ]
    left, right, rv = heart.left_atrium, heart.right_atrium, heart.rv
    for body, rim, fillet in (
        (rv.body, rv.wall_mm, 0.16),
        (left.body, left.wall_mm, 0.20),
        (right.body, right.wall_mm, 0.20),
    ):
        parts.append((egg_box(body, rim + near_mm), _around(body, rim), fillet))
    root, trunk = heart.aorta.root, heart.pulmonary.trunk
    half = 0.55 * root.diameter_mm
    stem = Rod(start=root.centre, end=add(root.centre, root.axis, 0.62 * u), start_mm=half, end_mm=half)
    rods = [(rod, rv.wall_mm, 0.12) for rod in (rv.inlet, *rv.conus)] + [(right.vestibule, right.wall_mm, 0.10)]
    rods += [(stem, heart.aorta.wall_mm, 0.15), (trunk, heart.pulmonary.wall_mm, 0.12)]
    rods += [(rod, left.wall_mm, 0.08) for rod in left.auricle] + [(rod, right.wall_mm, 0.08) for rod in right.auricle]
    for rod, rim, fillet in rods:
        parts.append((rods_box(rod, more_mm=rim + near_mm), _around(rod, rim), fillet))
    return parts


def _around(part: Egg | Rod, rim_mm: float) -> Callable[[Window], Array]:
    """Return what tells the distance to a part within its rim."""
    return lambda window: window.known(solid_at, part, rim_mm)


def envelope_distance(window: Window, heart: Layout) -> Array:
    """Return the distance to the smooth outer surface of the heart, grooves filled.

    Each part is joined only where it comes near: further off than fluid, shell and fillet the value is merely large.
    """
    xp, u = window.xp, heart.unit_mm
    f = xp.full_like(window.points[0], FAR_MM)
    for box, distance, fillet in _parts(heart, heart.fluid_mm + heart.pericardium_mm + 0.25 * u):
        near = window.within(box)
        if near is not None:
            spot = window.part(near)
            f[spot] = smooth_min(f[spot], distance(near), fillet * u, xp)
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
