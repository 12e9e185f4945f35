"""Painting aorta and pulmonary arteries with their valves, and the left ventricle's outflow tract."""

from __future__ import annotations

from typing import Any

from fanlight.heart.av_valve import above_shut_mm, on_valve
from fanlight.heart.distance import Points, half_space, smooth_min
from fanlight.heart.layout import Layout
from fanlight.heart.paint import Box, Canvas, box_around
from fanlight.heart.rods import rod_distance, rods_box
from fanlight.heart.semilunar_valve import Root, below_cusps_mm, cusp_distance, on_root
from fanlight.heart.tissue import Tissue
from fanlight.heart.triple import add, scaled

Array = Any  # an array of the array API standard


def _aorta_box(heart: Layout) -> Box:
    root = heart.aorta.root
    far = add(root.centre, root.axis, heart.aorta.length_mm)
    wide = 0.6 * root.diameter_mm + heart.aorta.wall_mm
    return box_around((add(root.centre, root.axis, -0.1 * heart.unit_mm), wide), (far, wide), (heart.aorta.end, wide))


def _root_box(root: Root) -> Box:
    wide = 0.6 * root.diameter_mm
    return box_around((root.centre, wide), (add(root.centre, root.axis, 0.7 * root.length_mm), wide))


def paint_aorta(canvas: Canvas, heart: Layout) -> None:
    """Lay the wall of root and ascending aorta, cut the outflow tract through the base, then fill the lumen."""
    u, root = heart.unit_mm, heart.aorta.root
    window = canvas.window(_aorta_box(heart))
    tract = canvas.window(rods_box(heart.aorta.outflow, more_mm=0.06 * u))
    around = None
    if window is not None:
        xp = window.xp
        around = on_root(root, window.points, xp, heart.aorta.bend)
        span = xp.maximum(-0.06 * u - around.height_mm, around.height_mm - heart.aorta.length_mm)
        window.paint(Tissue.AORTIC_WALL, xp.maximum(around.rho_mm - around.wall_mm - heart.aorta.wall_mm, span))
    if tract is not None:
        xp, p = tract.xp, tract.points
        now, q = tract.tissue(), on_valve(heart.mitral, p, xp)
        below = half_space(p, root.centre, root.axis)
        # Muscle and fibrous tissue around the tract keep it apart from the right heart and from the atrium's body.
        sleeve = xp.maximum(rod_distance(p, heart.aorta.outflow, xp, 0.055 * u), below - 0.06 * u)
        canal = (now == int(Tissue.LA_CAVITY)) & (q.ring_mm < 0.0)
        solid = (now != int(Tissue.LV_CAVITY)) & (now != int(Tissue.AORTIC_WALL))
        tract.paint(Tissue.SEPTUM, sleeve, only=solid & ~canal)
        # The closed septal leaflet and its hinge part tract and atrium: above them the tract is not cut.
        shielded = xp.maximum(q.ring_mm - 0.03 * u, -above_shut_mm(heart.mitral, q, xp))
        tract.paint(
            Tissue.LV_CAVITY, xp.maximum(xp.maximum(rod_distance(p, heart.aorta.outflow, xp), below), -shielded)
        )
    if window is not None and around is not None:
        xp = window.xp
        span = xp.maximum(-0.02 * u - around.height_mm, around.height_mm - heart.aorta.length_mm)
        lumen = xp.maximum(around.rho_mm - around.wall_mm, span)
        window.paint(Tissue.AORTA, lumen)
        window.relabel(
            Tissue.LV_CAVITY, (window.tissue() == int(Tissue.AORTA)) & (below_cusps_mm(root, around, xp) > 0.0)
        )


def paint_cusps(canvas: Canvas, root: Root, tissue: Tissue) -> None:
    """Lay the three cusps of a root."""
    window = canvas.window(_root_box(root))
    if window is None:
        return
    xp = window.xp
    q = on_root(root, window.points, xp)
    window.paint(tissue, cusp_distance(root, q, xp))


def _branch_distance(heart: Layout, p: Points, xp: Any, more_mm: float) -> Array:
    one, two = (rod_distance(p, rod, xp, more_mm) for rod in heart.pulmonary.right)
    return smooth_min(one, two, 0.05 * heart.unit_mm, xp)


def paint_pulmonary_artery(canvas: Canvas, heart: Layout) -> None:
    """Lay trunk, branches and their wall; the root's sinuses first."""
    u, rim = heart.unit_mm, heart.aorta.wall_mm
    root = heart.pulmonary.root
    backwards = scaled(root.axis, -1.0)
    parts = (
        (Tissue.LEFT_PULMONARY_ARTERY, (heart.pulmonary.left,)),
        (Tissue.RIGHT_PULMONARY_ARTERY, heart.pulmonary.right),
        (Tissue.PULMONARY_TRUNK, (heart.pulmonary.trunk,)),
    )
    for walls in (True, False):
        more = rim if walls else 0.0
        for tissue, rods in parts:
            window = canvas.window(rods_box(*rods, more_mm=more))
            if window is None:
                continue
            xp, p = window.xp, window.points
            f = _branch_distance(heart, p, xp, more) if len(rods) == 2 else rod_distance(p, rods[0], xp, more)
            if tissue is Tissue.PULMONARY_TRUNK:
                # It begins where the sinuses end: within them the valve seals the root's own wall.
                f = xp.maximum(f, half_space(p, add(root.centre, root.axis, 0.85 * root.length_mm), backwards) - more)
            window.paint(Tissue.PULMONARY_WALL if walls else tissue, f)
        wide = 0.6 * root.diameter_mm + more
        window = canvas.window(box_around((root.centre, wide), (add(root.centre, root.axis, root.length_mm), wide)))
        if window is not None:
            xp = window.xp
            q = on_root(root, window.points, xp)
            # The lumen starts below the wall, so that it opens into the outflow tract.
            start = 0.01 * u if walls else 0.06 * u
            span = xp.maximum(-start - q.height_mm, q.height_mm - root.length_mm)
            f = xp.maximum(q.rho_mm - q.wall_mm - more, span)
            window.paint(Tissue.PULMONARY_WALL if walls else Tissue.PULMONARY_TRUNK, f)
            if not walls:
                window.relabel(
                    Tissue.RV_OUTFLOW,
                    (window.tissue() == int(Tissue.PULMONARY_TRUNK)) & (below_cusps_mm(root, q, xp) > 0.0)
                    & (q.height_mm < 0.2 * root.length_mm) & (q.rho_mm < q.wall_mm),
                )  # fmt: skip
