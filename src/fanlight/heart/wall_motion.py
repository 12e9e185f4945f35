"""How fast the heart's solid parts move: muscle with its ring and its base, leaflets with their swing.

A point of tissue keeps its place in the resting heart; its velocity is how far that place has gone a moment later.
"""

from __future__ import annotations

from typing import Any

from fanlight.heart.av_valve import AvValve, Flat, on_valve
from fanlight.heart.distance import Points, clamp
from fanlight.heart.heart_frame import BaseMotion
from fanlight.heart.layout import Layout
from fanlight.heart.left_ventricle import LeftVentricle, around_axis, rest_radius
from fanlight.heart.rods import Egg
from fanlight.heart.tissue import Tissue

Array = Any  # an array of the array API standard
Vectors = tuple[Array, Array, Array]

LEFT_MUSCLE = (Tissue.SEPTUM, Tissue.LV_FREE_WALL, Tissue.PAPILLARY_CRANIAL, Tissue.PAPILLARY_CAUDAL)
MITRAL = (Tissue.MITRAL_SEPTAL_LEAFLET, Tissue.MITRAL_PARIETAL_LEAFLET)


def carried_velocity(later: BaseMotion, step_s: float, a: Array, rest: Array, xp: Any) -> Array:
    """Return the velocity (mm/s, along the long axis) with which the base carries everything, blood too, shape (n,).

    Parameters
    ----------
    later : BaseMotion
        Of the heart `step_s` after the moment asked for.
    step_s : float
        A thousandth of a second or two.
    a, rest : array of shape (n,)
        Where the points lie along the long axis now, and at rest.
    """
    below = later.descent_mm * (rest - later.apex_mm) / (later.base_mm - later.apex_mm)
    share = clamp((rest - later.base_mm) / (later.top_mm - later.base_mm), 0.0, 1.0, xp)
    above = later.descent_mm * (1.0 + share * (later.kept - 1.0))
    gone = xp.where(rest <= later.base_mm, xp.maximum(below, xp.zeros_like(below)), above)
    return (rest - gone - a) / step_s


def wall_velocity(now: Layout, later: Layout, step_s: float, p: Points, tissue: Array, xp: Any) -> Vectors:
    """Return the velocity (mm/s, heart coordinates) of tissue at points beyond that with which the base carries it.

    Parameters
    ----------
    now, later : Layout
        The heart at the moment asked for, and `step_s` later.
    step_s : float
        A thousandth of a second or two.
    p : three arrays of shape (n,)
        Points, rest coordinates along the long axis.
    tissue : array of shape (n,)
        Labels; blood gets the velocity of what would lie there.
    """
    parts = [
        ring_velocity(now.lv, later.lv, step_s, p, tissue, xp),
        right_wall_velocity(now.rv.body, later.rv.body, step_s, p, tissue, xp),
        leaflet_velocity(now.mitral, later.mitral, step_s, p, _is(tissue, MITRAL), xp),
        leaflet_velocity(now.rv.tricuspid, later.rv.tricuspid, step_s, p, _is(tissue, (Tissue.TRICUSPID_LEAFLET,)), xp),
    ]
    return tuple(sum(part[i] for part in parts) for i in range(3))


def _is(tissue: Array, kinds: tuple[Tissue, ...]) -> Array:
    found = tissue == int(kinds[0])
    for kind in kinds[1:]:
        found = found | (tissue == int(kind))
    return found


def ring_velocity(
    now: LeftVentricle, later: LeftVentricle, step_s: float, p: Points, tissue: Array, xp: Any
) -> Vectors:
    """Return the motion of the left ventricle's muscle towards its axis and back: each ring keeps its area."""
    q = around_axis(now, p, xp)
    rest = rest_radius(now, q)
    lv = later
    septum = lv.septum_mm / lv.septal_share
    wall = 0.5 * (lv.free_wall_mm + septum) + q.towards_free * (0.5 * (lv.free_wall_mm - septum))
    rest_wall = 0.5 * (lv.rest_free_wall_mm + lv.rest_septum_mm) + q.towards_free * (
        0.5 * (lv.rest_free_wall_mm - lv.rest_septum_mm)
    )
    gone = lv.radius_mm + (rest - lv.rest_radius_mm) * (wall / rest_wall) - q.rho
    speed = xp.where(_is(tissue, LEFT_MUSCLE), gone / step_s, xp.zeros_like(gone)) / q.rho
    return xp.zeros_like(speed), speed * p[1], speed * p[2]


def right_wall_velocity(now: Egg, later: Egg, step_s: float, p: Points, tissue: Array, xp: Any) -> Vectors:
    """Return the motion of the right free wall, which comes towards the septum as a whole, with the cavity's body."""
    is_wall = _is(tissue, (Tissue.RV_WALL,))
    out = []
    for i in (1, 2):
        gone = later.centre[i] + (p[i] - now.centre[i]) * (later.radii[i] / now.radii[i]) - p[i]
        out.append(xp.where(is_wall, gone / step_s, xp.zeros_like(gone)))
    return xp.zeros_like(out[0]), out[0], out[1]


def leaflet_velocity(now: AvValve, later: AvValve, step_s: float, p: Points, is_leaflet: Array, xp: Any) -> Vectors:
    """Return the swing of leaflets: each place of a leaflet goes where its two ends carry it."""
    q = on_valve(now, p, xp)
    shape = xp.zeros_like(q.across)
    best, gone_u, gone_a = shape + 1e9, shape, shape
    for before, after in ((now.septal, later.septal), (now.parietal, later.parietal)):
        for k in (0, 1):
            apart, share = _beside(q.across, q.up, before[k], before[k + 1], xp)
            step = [
                (after[k][i] - before[k][i]) * (1.0 - share) + (after[k + 1][i] - before[k + 1][i]) * share
                for i in (0, 1)
            ]
            nearer = apart < best
            best = xp.where(nearer, apart, best)
            gone_u, gone_a = xp.where(nearer, step[0], gone_u), xp.where(nearer, step[1], gone_a)
    u = xp.where(is_leaflet, gone_u * q.chord_mm / step_s, shape)
    up = xp.where(is_leaflet, gone_a * q.chord_mm / step_s, shape)
    return tuple(u * now.across[i] + up * now.up[i] for i in range(3))


def _beside(u: Array, a: Array, start: Flat, end: Flat, xp: Any) -> tuple[Array, Array]:
    """Return squared distance to a link and the share of the way along it."""
    du, da = end[0] - start[0], end[1] - start[1]
    share = clamp(((u - start[0]) * du + (a - start[1]) * da) / (du * du + da * da), 0.0, 1.0, xp)
    return (u - start[0] - share * du) ** 2 + (a - start[1] - share * da) ** 2, share
