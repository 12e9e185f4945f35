"""Slicing the heart: what lies at given points of the patient frame at one moment of the beat."""

from __future__ import annotations

from typing import Any

import array_api_compat

from fanlight.heart.anatomy import Anatomy
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.distance import Points
from fanlight.heart.great_vessels import paint_aorta, paint_cusps, paint_pulmonary_artery
from fanlight.heart.layout import Layout, layout
from fanlight.heart.left_heart import (
    paint_left_atrium,
    paint_left_cavity,
    paint_left_wall,
    paint_mitral_canal,
    paint_mitral_valve,
    paint_papillary_muscles,
)
from fanlight.heart.left_ventricle import around_axis, rest_radius
from fanlight.heart.paint import Canvas
from fanlight.heart.pericardium import paint_pericardium
from fanlight.heart.right_heart import (
    paint_atrial_septum,
    paint_right_atrium,
    paint_right_ventricle,
    paint_tricuspid_canal,
    paint_tricuspid_valve,
)
from fanlight.heart.sampled import Sampled
from fanlight.heart.tissue import Tissue
from fanlight.heart.warp import undone

Array = Any  # an array of the array API standard


def sample_heart(anatomy: Anatomy, state: CycleState, x: Array, y: Array, z: Array) -> Sampled:
    """Return what the heart is made of at these points.

    Parameters
    ----------
    anatomy : Anatomy
        The heart.
    state : CycleState
        The moment.
    x, y, z : array
        Coordinates in the patient frame, mm, all of one shape; any array of the array API standard, best 32-bit.

    Returns
    -------
    Sampled
        Tissue (OUTSIDE where there is no heart), distance to the nearest border of other matter, and the place of
        the tissue in the heart at rest.
    """
    xp = array_api_compat.array_namespace(x, y, z)
    shape = x.shape
    columns = shape[-1] if len(shape) > 1 else max(shape[0] if shape else 1, 1)
    flat = tuple(xp.reshape(xp.astype(v, xp.float32, copy=False), (-1, columns)) for v in (x, y, z))
    heart = layout(anatomy, state)
    if anatomy.warp is not None:
        flat = undone(anatomy.warp, *flat)
    a, b, c = anatomy.frame.coordinates(*flat)
    points = (heart.motion.to_rest(a, xp), b, c)
    canvas = painted(heart, points, xp)
    rest = _rest_places(heart, canvas, xp)
    return Sampled(
        tissue=xp.reshape(canvas.tissue, shape),
        edge_mm=xp.reshape(canvas.edge, shape),
        material_mm=tuple(xp.reshape(v, shape) for v in rest),
    )


def painted(heart: Layout, points: Points, xp: Any, *, shape_a_row: bool = False) -> Canvas:
    """Lay all coats in order: what comes later lies over what came before.

    Parameters
    ----------
    heart : Layout
        The shape; with `shape_a_row` those of all rows, from `side_by_side`.
    points : three arrays of shape (row, col)
        Rest coordinates of the heart, mm, 32-bit.
    """
    canvas = Canvas(points, xp, shape_a_row=shape_a_row)
    paint_pericardium(canvas, heart)
    paint_right_atrium(canvas, heart, walls=True)
    paint_left_atrium(canvas, heart, walls=True)
    paint_atrial_septum(canvas, heart)
    paint_right_ventricle(canvas, heart, walls=True)
    paint_right_atrium(canvas, heart, walls=False)
    paint_right_ventricle(canvas, heart, walls=False)
    paint_left_atrium(canvas, heart, walls=False)
    paint_left_wall(canvas, heart)
    paint_tricuspid_canal(canvas, heart)
    paint_left_cavity(canvas, heart)
    paint_mitral_canal(canvas, heart)
    paint_papillary_muscles(canvas, heart)
    paint_aorta(canvas, heart)
    paint_pulmonary_artery(canvas, heart)
    paint_mitral_valve(canvas, heart)
    paint_tricuspid_valve(canvas, heart)
    paint_cusps(canvas, heart.aorta.root, Tissue.AORTIC_CUSP)
    paint_cusps(canvas, heart.pulmonary.root, Tissue.PULMONIC_CUSP)
    canvas.forget()
    return canvas


def _rest_places(heart: Layout, canvas: Canvas, xp: Any) -> Points:
    """Return where the tissue lies at rest: left ventricular muscle by its depth in the wall, the rest as it is."""
    a, b, c = canvas.points
    lv, tissue = heart.lv, canvas.tissue
    q = around_axis(lv, (a, b, c), xp)
    wall = (tissue == int(Tissue.SEPTUM)) | (tissue == int(Tissue.LV_FREE_WALL))
    pillar = (tissue == int(Tissue.PAPILLARY_CRANIAL)) | (tissue == int(Tissue.PAPILLARY_CAUDAL))
    factor = xp.where(pillar, xp.full_like(b, lv.rest_radius_mm / lv.radius_mm), xp.ones_like(b))
    factor = xp.where(wall, rest_radius(lv, q) / q.rho, factor)
    # The right free wall comes towards the septum as a whole.
    now, rest = heart.rv.body, heart.rv.resting_body
    right = tissue == int(Tissue.RV_WALL)
    outer_b = rest.centre[1] + (b - now.centre[1]) * (rest.radii[1] / now.radii[1])
    away = c - now.centre[2]
    freely = rest.radii[2] / now.radii[2]  # towards the free wall; the other half reaches the septum and stays as wide
    inwards = freely * (rest.leftwards / now.leftwards)
    outer_c = rest.centre[2] + xp.where(away < 0.0, away * freely, away * inwards)
    return a, xp.where(right, outer_b, b * factor), xp.where(right, outer_c, c * factor)
