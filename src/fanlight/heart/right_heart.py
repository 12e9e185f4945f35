"""Painting the right heart: ventricle, outflow tract, tricuspid valve, atrium, auricle and venae cavae."""

from __future__ import annotations

from functools import partial
from typing import Any

from fanlight.heart.av_valve import above_shut_mm, leaflet_distances, on_valve
from fanlight.heart.distance import capsule, half_space, smooth_max, smooth_min
from fanlight.heart.layout import Layout
from fanlight.heart.left_heart import left_wall_distance
from fanlight.heart.paint import Box, Canvas, Window, box_around, joint_box
from fanlight.heart.right_cavity import body_distance, tract_distance
from fanlight.heart.rods import egg_box, rods_box, solid_at
from fanlight.heart.tissue import Tissue
from fanlight.heart.triple import add, mix

Array = Any  # an array of the array API standard


def _ventricle_box(heart: Layout) -> Box:
    body = egg_box(heart.rv.body, heart.rv.wall_mm)
    tract = rods_box(*heart.rv.conus, heart.rv.inlet, more_mm=heart.rv.wall_mm)
    return joint_box(body, tract)


def paint_right_ventricle(canvas: Canvas, heart: Layout, *, walls: bool) -> None:
    """Lay the free wall (first pass) or the cavity (second pass), wrapped around the left ventricle."""
    window = canvas.window(_ventricle_box(heart))
    if window is None:
        return
    xp, p, u = window.xp, window.points, heart.unit_mm
    more = heart.rv.wall_mm if walls else 0.0
    to_solid = partial(window.known, solid_at)
    body = body_distance(heart.rv, heart.lv, u, p, xp, more, to_solid)
    tract = tract_distance(heart.rv, heart.pulmonary.root, u, p, xp, more, to_solid)
    f = smooth_min(body, tract, 0.20 * u, xp)
    if walls:
        window.paint(Tissue.RV_WALL, f)
        return
    f = smooth_max(f, -left_wall_distance(window, heart), 0.03 * u, xp)
    # The auricle lies on the outflow tract with its own wall and that of the tract between.
    for rod in heart.right_atrium.auricle:
        f = xp.maximum(f, -window.known(solid_at, rod, heart.right_atrium.wall_mm))
    window.paint(Tissue.RV_CAVITY, f)
    # The tract begins where the ventricle narrows above the crest: half way up its first stretch.
    first = heart.rv.conus[0]
    crest = mix(first.start, first.end, 0.5)
    beyond = half_space(p, crest, (0.45, 0.76, 0.47)) > 0.0  # downstream, across the tract
    window.relabel(Tissue.RV_OUTFLOW, beyond & (tract < 0.04 * u) & (window.tissue() == int(Tissue.RV_CAVITY)))


def right_atrium_distance(window: Window, heart: Layout) -> Array:
    """Return the distance to the body of the right atrium, cut at septum, tricuspid ring and left ventricle."""
    xp, p, atrium = window.xp, window.points, heart.right_atrium
    f = smooth_min(solid_at(window, atrium.body), solid_at(window, atrium.vestibule), 0.08 * heart.unit_mm, xp)
    f = xp.maximum(f, half_space(p, heart.septum.middle, heart.septum.normal) + heart.septum.half_mm)
    f = xp.maximum(f, -half_space(p, heart.rv.tricuspid.centre, heart.rv.tricuspid.up) + 0.03 * heart.unit_mm)
    return xp.maximum(f, -left_wall_distance(window, heart))


def paint_right_atrium(canvas: Canvas, heart: Layout, *, walls: bool) -> None:
    """Lay the walls (first pass) or the cavities (second pass) of atrium, auricle and venae cavae."""
    u, rim = heart.unit_mm, heart.right_atrium.wall_mm
    more = rim if walls else 0.0
    for rod, tissue in zip(
        (heart.right_atrium.cranial_vein, heart.right_atrium.caudal_vein),
        (Tissue.CRANIAL_VENA_CAVA, Tissue.CAUDAL_VENA_CAVA),
        strict=True,
    ):
        window = canvas.window(rods_box(rod, more_mm=more))
        if window is not None:
            window.paint(Tissue.RA_WALL if walls else tissue, solid_at(window, rod, more))
    window = canvas.window(rods_box(*heart.right_atrium.auricle, more_mm=more))
    if window is not None:
        one, two = (window.known(solid_at, rod, more) for rod in heart.right_atrium.auricle)
        lobe = smooth_min(one, two, 0.05 * u, window.xp)
        lobe = window.xp.maximum(lobe, heart.lv.base_mm + 0.10 * u - more - window.points[0])
        window.paint(Tissue.RA_WALL if walls else Tissue.RIGHT_AURICLE, lobe)
    window = canvas.window(
        joint_box(egg_box(heart.right_atrium.body, more), rods_box(heart.right_atrium.vestibule, more_mm=more))
    )
    if window is not None:
        window.paint(Tissue.RA_WALL if walls else Tissue.RA_CAVITY, window.known(right_atrium_distance, heart) - more)


def paint_atrial_septum(canvas: Canvas, heart: Layout) -> None:
    """Lay the wall between the atria: thin at the oval fossa, thicker towards its rim."""
    u = heart.unit_mm
    window = canvas.window(egg_box(heart.left_atrium.body, 0.1 * u))
    if window is None:
        return
    xp, p = window.xp, window.points
    off = xp.abs(half_space(p, heart.septum.middle, heart.septum.normal))
    la = window.known(solid_at, heart.left_atrium.body, heart.left_atrium.wall_mm)
    ra = window.known(solid_at, heart.right_atrium.body, heart.right_atrium.wall_mm)
    slab = off - heart.septum.half_mm - 0.01 * u
    window.paint(Tissue.ATRIAL_SEPTUM, xp.maximum(xp.maximum(slab, la), ra))


def paint_tricuspid_canal(canvas: Canvas, heart: Layout) -> None:
    """Open the right atrium into the ventricle: blood above the closed leaflets is atrial, below ventricular."""
    valve, u = heart.rv.tricuspid, heart.unit_mm
    window = canvas.window(box_around((valve.centre, 1.1 * valve.radius_mm)))
    if window is None:
        return
    xp, p = window.xp, window.points
    q = on_valve(valve, p, xp)
    height = q.up * q.chord_mm
    canal = xp.maximum(q.ring_mm, xp.abs(height) - 0.16 * u)
    canal = xp.maximum(canal, -left_wall_distance(window, heart))
    canal = xp.maximum(canal, half_space(p, heart.septum.middle, heart.septum.normal) + heart.septum.half_mm)
    above = above_shut_mm(valve, q, xp)
    window.paint(Tissue.RV_CAVITY, xp.maximum(canal, above))
    window.paint(Tissue.RA_CAVITY, xp.maximum(canal, -above))


def paint_tricuspid_valve(canvas: Canvas, heart: Layout) -> None:
    """Lay papillary muscle and band, chordae, then leaflets."""
    cavity = (int(Tissue.RV_CAVITY), int(Tissue.RV_OUTFLOW))
    for rod in (heart.rv.band, heart.rv.papillary):
        window = canvas.window(rods_box(rod))
        if window is not None:
            now = window.tissue()
            blood = (now == cavity[0]) | (now == cavity[1])
            window.paint(Tissue.RV_PAPILLARY, solid_at(window, rod), only=blood)
    half = max(0.008 * heart.unit_mm, 0.2)
    for start, end in heart.rv.chordae():
        window = canvas.window(box_around((start, half), (end, half)))
        if window is not None:
            blood = window.tissue() == cavity[0]
            thread = capsule(window.points, start, end, half, half, window.xp)
            window.paint(Tissue.TRICUSPID_CHORDAE, thread, only=blood)
    valve = heart.rv.tricuspid
    low = add(valve.centre, valve.up, -0.6 * valve.radius_mm)
    window = canvas.window(box_around((valve.centre, 1.1 * valve.radius_mm), (low, 1.1 * valve.radius_mm)))
    if window is None:
        return
    xp, p = window.xp, window.points
    q = on_valve(valve, p, xp)
    septal, parietal = leaflet_distances(valve, q, xp)
    now = window.tissue()
    blood = (now == cavity[0]) | (now == cavity[1]) | (now == int(Tissue.RA_CAVITY))
    free = (blood | (q.ring_mm < valve.half_mm)) & (left_wall_distance(window, heart) > 0.0)
    window.paint(Tissue.TRICUSPID_LEAFLET, xp.minimum(septal, parietal), only=free)
