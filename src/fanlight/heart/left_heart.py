"""Painting the left heart: ventricle, papillary muscles, mitral valve, atrium, auricle and pulmonary veins."""

from __future__ import annotations

from typing import Any

from fanlight.heart.av_valve import above_shut_mm, leaflet_distances, on_valve
from fanlight.heart.distance import Points, capsule, half_space, smooth_min
from fanlight.heart.layout import Layout
from fanlight.heart.left_ventricle import LeftVentricle, around_axis, cavity_distance, outer_distance
from fanlight.heart.mitral_valve import chordae
from fanlight.heart.paint import Box, Canvas, Window, box_around, joint_box
from fanlight.heart.rods import egg_box, rods_box, solid_at
from fanlight.heart.side_by_side import most
from fanlight.heart.tissue import Tissue
from fanlight.heart.triple import add

Array = Any  # an array of the array API standard


def ventricle_box(heart: Layout) -> Box:
    """Return the bounds of the left ventricle with its floor."""
    lv = heart.lv
    wide = lv.radius_mm + most(lv.free_wall_mm, lv.septum_mm) + 1.0
    return Box(low=(-lv.apex_mm - lv.apex_wall_mm - 1.0, -wide, -wide), high=(lv.base_mm + lv.cap_mm + 1.0, wide, wide))


def left_surface(window: Window, lv: LeftVentricle) -> Array:
    """Return the distance to the ventricle's outer surface, open towards the valves."""
    return outer_distance(lv, around_axis(lv, window.points, window.xp), window.xp)


def left_wall_distance(window: Window, heart: Layout) -> Array:
    """Return the distance to everything that belongs to the left ventricle, its fibrous floor included."""
    lv = heart.lv
    return window.xp.maximum(window.known(left_surface, lv), window.points[0] - (lv.base_mm + lv.cap_mm))


def paint_left_wall(canvas: Canvas, heart: Layout) -> None:
    """Lay the muscle of the left ventricle: septum where the right ventricle rests on it, free wall elsewhere."""
    window = canvas.window(ventricle_box(heart))
    if window is None:
        return
    window.paint(Tissue.LV_FREE_WALL, left_wall_distance(window, heart))
    beside = window.known(solid_at, heart.rv.body, 0.0) < 0.12 * heart.unit_mm
    free_wall = window.tissue() == int(Tissue.LV_FREE_WALL)
    window.relabel(Tissue.SEPTUM, beside & (window.points[2] < 0.0) & free_wall)


def paint_left_cavity(canvas: Canvas, heart: Layout) -> None:
    """Hollow the left ventricle, and the canal through the mitral ring as far as the closed leaflets."""
    window = canvas.window(ventricle_box(heart))
    if window is None:
        return
    xp, p, lv = window.xp, window.points, heart.lv
    f = xp.maximum(cavity_distance(lv, around_axis(lv, p, xp), xp), p[0] - lv.base_mm)
    canal = _canal(heart, p, xp)
    f = xp.minimum(f, xp.maximum(canal, p[0] - lv.base_mm - 0.5 * lv.cap_mm))
    window.paint(Tissue.LV_CAVITY, f)


def _canal(heart: Layout, p: Points, xp: Any) -> Array:
    """Return the distance to the open cylinder through the mitral ring."""
    q = on_valve(heart.mitral, p, xp)
    u = heart.unit_mm
    height = q.up * q.chord_mm
    return xp.maximum(q.ring_mm, xp.abs(height) - 0.20 * u)


def left_atrium_distance(window: Window, heart: Layout) -> Array:
    """Return the distance to the body of the left atrium, cut at the atrial septum and above the ring."""
    xp, p, atrium = window.xp, window.points, heart.left_atrium
    body = smooth_min(solid_at(window, atrium.body), solid_at(window, atrium.vestibule), 0.08 * heart.unit_mm, xp)
    lv = heart.lv
    body = xp.maximum(body, lv.base_mm + lv.cap_mm - p[0])
    return xp.maximum(body, -half_space(p, heart.septum.middle, heart.septum.normal) + heart.septum.half_mm)


def paint_left_atrium(canvas: Canvas, heart: Layout, *, walls: bool) -> None:
    """Lay the walls (first pass) or the cavities (second pass) of atrium, auricle and veins."""
    u, rim = heart.unit_mm, heart.left_atrium.wall_mm
    more = rim if walls else 0.0
    for rod in heart.left_atrium.veins:
        window = canvas.window(rods_box(rod, more_mm=more))
        if window is not None:
            window.paint(Tissue.LA_WALL if walls else Tissue.PULMONARY_VEIN, solid_at(window, rod, more))
    window = canvas.window(rods_box(*heart.left_atrium.auricle, more_mm=more))
    if window is not None:
        xp = window.xp
        one, two = (window.known(solid_at, rod, more) for rod in heart.left_atrium.auricle)
        lobe = smooth_min(one, two, 0.05 * u, xp)
        above = heart.lv.base_mm + heart.lv.cap_mm - more - window.points[0]
        window.paint(Tissue.LA_WALL if walls else Tissue.LEFT_AURICLE, xp.maximum(lobe, above))
    window = canvas.window(
        joint_box(egg_box(heart.left_atrium.body, more), rods_box(heart.left_atrium.vestibule, more_mm=more))
    )
    if window is not None:
        window.paint(Tissue.LA_WALL if walls else Tissue.LA_CAVITY, window.known(left_atrium_distance, heart) - more)


def paint_mitral_canal(canvas: Canvas, heart: Layout) -> None:
    """Open the atrium through the ring: blood above the closed leaflets belongs to it."""
    valve = heart.mitral
    window = canvas.window(box_around((valve.centre, 1.1 * valve.radius_mm)))
    if window is None:
        return
    xp, p = window.xp, window.points
    q = on_valve(valve, p, xp)
    above = above_shut_mm(valve, q, xp)
    canal = _canal(heart, p, xp)
    # Prolapsed leaflets carry the ventricle's blood past the ring.
    bulge = xp.maximum(xp.maximum(canal, above), -0.02 * heart.unit_mm - q.up * q.chord_mm)
    window.paint(Tissue.LV_CAVITY, bulge)
    window.paint(Tissue.LA_CAVITY, xp.maximum(canal, -above))


def paint_papillary_muscles(canvas: Canvas, heart: Layout) -> None:
    """Lay both papillary muscles over the cavity; their feet sink into the wall."""
    for rod, tissue in zip(heart.papillary, (Tissue.PAPILLARY_CRANIAL, Tissue.PAPILLARY_CAUDAL), strict=True):
        window = canvas.window(rods_box(rod))
        if window is not None:
            blood = window.tissue() == int(Tissue.LV_CAVITY)
            window.paint(tissue, solid_at(window, rod), only=blood)


def paint_mitral_valve(canvas: Canvas, heart: Layout) -> None:
    """Lay chordae, then leaflets."""
    half = max(0.008 * heart.unit_mm, 0.2)
    for start, end in chordae(heart.mitral, heart.papillary):
        window = canvas.window(box_around((start, half), (end, half)))
        if window is not None:
            blood = window.tissue() == int(Tissue.LV_CAVITY)
            window.paint(Tissue.MITRAL_CHORDAE, capsule(window.points, start, end, half, half, window.xp), only=blood)
    valve = heart.mitral
    low = add(valve.centre, valve.up, -0.75 * valve.radius_mm)
    window = canvas.window(box_around((valve.centre, 1.3 * valve.radius_mm), (low, 1.3 * valve.radius_mm)))
    if window is None:
        return
    xp = window.xp
    q = on_valve(valve, window.points, xp)
    septal, parietal = leaflet_distances(valve, q, xp)
    now = window.tissue()
    free = (now == int(Tissue.LV_CAVITY)) | (now == int(Tissue.LA_CAVITY)) | (q.ring_mm < valve.half_mm)
    window.paint(Tissue.MITRAL_PARIETAL_LEAFLET, parietal, only=free)
    window.paint(Tissue.MITRAL_SEPTAL_LEAFLET, septal, only=free)
