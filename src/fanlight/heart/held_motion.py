"""How fast everything moves at points that stay: streams held for some moments, all else worked out at each of them.

Where blood streams follows the shape of the heart, which changes over tenths of seconds; asking for it takes most of
the time. What passes the openings, how walls, leaflets and base move, and the breath are taken as they are.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import array_api_compat.numpy
import numpy as np
from numpy.typing import NDArray

from fanlight.heart.aorta import aorta
from fanlight.heart.base_plane import base_plane
from fanlight.heart.blood.blood_field import (
    OPENINGS,
    BloodField,
    blood_field,
    part_of,
    velocity_at,
    velocity_between,
)
from fanlight.heart.blood.flow_now import flow_now, flows_at
from fanlight.heart.blood.flow_rates import FlowTable
from fanlight.heart.distance import Points
from fanlight.heart.great_vessels import paint_cusps
from fanlight.heart.layout import Layout
from fanlight.heart.left_heart import paint_mitral_valve
from fanlight.heart.left_ventricle import base_motion, left_ventricle, papillary_muscles
from fanlight.heart.mitral_valve import mitral_valve
from fanlight.heart.motion import Motion
from fanlight.heart.moving_body import Moment, MovingBody
from fanlight.heart.paint import Canvas
from fanlight.heart.right_heart import paint_tricuspid_valve
from fanlight.heart.right_ventricle import tricuspid_valve
from fanlight.heart.sample_heart import painted
from fanlight.heart.side_by_side import side_by_side
from fanlight.heart.tissue import BLOOD, Tissue
from fanlight.heart.warp import undone

Floats = NDArray[np.floating[Any]]
Labels = NDArray[np.uint8]


def _table(kinds: Any) -> NDArray[np.bool_]:
    out = np.zeros(256, bool)
    out[[int(kind) for kind in kinds]] = True
    return out


_IS_BLOOD = _table(BLOOD)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeldStreams:
    """Where blood streams at some points at one time."""

    at_ms: float
    tissue: Labels  # (n,)
    field: BloodField
    heart: Layout
    motion: Motion  # at that time


def slice_shapes(hearts: Sequence[Layout], rows: Sequence[int], rests: Points) -> tuple[Labels, Floats]:
    """Return labels and how far borders are, (m, n), as hearts of some shapes have them at places at rest.

    Parameters
    ----------
    hearts : sequence of Layout
        Of one animal, sliced side by side; neither the breath nor the base matter, which places at rest know.
    rows : sequence of m int
        Which of them each row of places is asked of.
    rests : three arrays of shape (m, n)
        From `rest_places`.
    """
    order = _along_beam(rests)
    ordered = (rests[0][:, order], rests[1][:, order], rests[2][:, order])
    canvas = painted(side_by_side(hearts, rows), ordered, array_api_compat.numpy, shape_a_row=True)
    tissue, edge_mm = np.empty_like(canvas.tissue), np.empty_like(canvas.edge)
    tissue[:, order], edge_mm[:, order] = canvas.tissue, canvas.edge
    return tissue, edge_mm


def _along_beam(rests: Points) -> NDArray[np.intp]:
    """Return the order of places along the line about which they lie: what a part reaches is then one short piece."""
    at = np.stack([v[0] for v in rests])
    off = at - at.mean(axis=1, keepdims=True)
    furthest = off[:, (off**2).sum(axis=0).argmax()]
    return np.argsort(furthest @ off, kind="stable")


def hold_streams(
    body: MovingBody, heart: Layout, at_ms: float, moments: Sequence[Moment], along: Floats, rests: Points,
    tissue: Labels, solid: Floats, spans_ms: Sequence[tuple[float, float]],
) -> list[HeldStreams]:  # fmt: skip
    """Return where blood streams, and how all moves, at m moments at which the heart is shaped alike.

    Parameters
    ----------
    body, heart : MovingBody, Layout
        Whose, and the shape.
    at_ms : float
        When it has that shape, in the animal's rhythm.
    moments : sequence of m Moment
        Of the recording.
    along, rests : array, three arrays of shape (m, n)
        The points at each of them, from `rest_places`.
    tissue : array of shape (m, n)
        What lies there then.
    solid : array of shape (m, 3, n)
        From `solid_velocities`.
    spans_ms : sequence of m pairs of floats
        Of the recording. Within these times the answers are good: openings through which nothing passes in them are
        left out.
    """
    openings = _open(body.flows, body.start_ms + np.asarray(spans_ms))
    flow = flow_now(body.flows, at_ms)
    flat = (rests[0].ravel(), rests[1].ravel(), rests[2].ravel())
    field = blood_field(heart, body.circulation, flow, openings, flat, tissue.ravel())
    n = tissue.shape[1]
    blood, stirred = velocity_at(field, flows_at(body.flows, [each.at_ms for each in moments]), n)
    out = []
    for i, each in enumerate(moments):
        mine, is_blood = slice(i * n, i * n + n), _IS_BLOOD[tissue[i]]
        own = np.where(is_blood, blood[:, mine], solid[i])
        out.append(
            HeldStreams(
                at_ms=each.at_ms, tissue=tissue[i], field=part_of(field, mine), heart=heart,
                motion=_moved(each, own, np.where(is_blood, stirred[mine], 0), along[i], rests[0][i], tissue[i]),
            )
        )  # fmt: skip
    return out


def motion_between(
    body: MovingBody, first: HeldStreams, last: HeldStreams, moment: Moment, points: Points, along: Floats,
    rest: Floats, tissue: Labels, solid: Floats,
) -> Motion:  # fmt: skip
    """Return how what lies at points moves at a moment between two at which their streams were held.

    Parameters
    ----------
    body, moment, points
        As for `hold_streams`.
    first, last : HeldStreams
        Whose spans hold the moment; shapes between them go in a straight line.
    along, rest : arrays of shape (n,)
        Where the points lie along the long axis now, and at rest, from `rest_places`.
    tissue : array of shape (n,)
        What lies at the points now.
    solid : array of shape (3, n)
        From `solid_velocities`.
    """
    is_blood = _IS_BLOOD[tissue]
    own, unsteady = solid, np.zeros_like(along)
    if is_blood.any():
        share = np.float32((moment.at_ms - first.at_ms) / max(last.at_ms - first.at_ms, 1e-6))
        weights = _weights(first.tissue == tissue, last.tissue == tissue, share)
        flow = flow_now(body.flows, moment.at_ms)
        blood, stirred = velocity_between(first.field, last.field, weights, flow)
        _fill(blood, stirred, is_blood, weights, points, tissue)
        own, unsteady = np.where(is_blood, blood, own), np.where(is_blood, stirred, unsteady)
    return _moved(moment, own, unsteady, along, rest, tissue)


def _moved(moment: Moment, own: Floats, unsteady: Floats, along: Floats, rest: Floats, tissue: Labels) -> Motion:
    """Return the motion in the patient frame of what moves so in the heart (3, n)."""
    moved = moment.in_patient(own, along, rest, tissue != int(Tissue.OUTSIDE), np)
    return Motion(velocity_mm_s=(moved[0], moved[1], moved[2]), unsteady_mm_s=unsteady)


def with_leaflets(
    held: Sequence[HeldStreams], moments: Sequence[Moment], rests: Points, ground: Labels,
    valves: Sequence[Collection[str]],
) -> Labels:  # fmt: skip
    """Return labels (m, n) with the leaflets of some valves where they are.

    Parameters
    ----------
    held : sequence of m HeldStreams
        Of times near the moments: what carries no leaflets is taken as it was then.
    moments : sequence of m Moment
        From `MovingBody.moment`.
    rests : three arrays of shape (m, n)
        From `rest_places`.
    ground : array of shape (m, n)
        Labels: what lies there without leaflets.
    valves : sequence of m collections of str
        Which of `VALVES` are asked for at each moment.
    """
    hearts = [_with_valves(each.heart, moment) for each, moment in zip(held, moments, strict=True)]
    heart, out = side_by_side(hearts, range(len(hearts))), ground.copy()
    canvas = Canvas(rests, array_api_compat.numpy, shape_a_row=True)
    for valve, paint in VALVES.items():
        rows = [k for k, asked in enumerate(valves) if valve in asked]
        if rows:
            canvas.tissue[:] = out
            paint(canvas, heart)
            out[rows] = canvas.tissue[rows]
    return out


def _with_valves(held: Layout, moment: Moment) -> Layout:
    """Return a heart with its valves as they are at a moment; placing all of it anew takes ten times as long."""
    anatomy, state = moment.anatomy, moment.state
    lv = left_ventricle(anatomy, state)
    base = base_plane(anatomy, lv)
    root = replace(held.pulmonary.root, opening=state.pulmonic_opening)
    return replace(
        held,
        lv=lv,
        papillary=papillary_muscles(lv, held.unit_mm, state.contraction),
        mitral=mitral_valve(anatomy, state, base, lv),
        aorta=aorta(anatomy, state, base, lv),
        pulmonary=replace(held.pulmonary, root=root),
        rv=replace(held.rv, tricuspid=tricuspid_valve(anatomy, state, base)),
    )


VALVES: Mapping[str, Callable[[Canvas, Layout], None]] = {
    "mitral": paint_mitral_valve,
    "tricuspid": paint_tricuspid_valve,
    "aortic": lambda canvas, heart: paint_cusps(canvas, heart.aorta.root, Tissue.AORTIC_CUSP),
    "pulmonic": lambda canvas, heart: paint_cusps(canvas, heart.pulmonary.root, Tissue.PULMONIC_CUSP),
}


def rest_places(moment: Moment, points: Points) -> tuple[Floats, Points]:
    """Return where points of the patient frame lie along the long axis, and where in the heart at rest, mm."""
    flat = moment.in_heart(*points, np)
    if moment.anatomy.warp is not None:
        flat = list(undone(moment.anatomy.warp, *flat))
    a, b, c = moment.anatomy.frame.coordinates(*flat)
    return a, (base_motion(moment.anatomy, moment.state).to_rest(a, np), b, c)


def _open(flows: FlowTable, spans_ms: Floats) -> tuple[str, ...]:
    """Return the openings through which anything passes within any of some times (m, 2)."""
    low, high = np.searchsorted(flows.times_ms, spans_ms.T)
    passing = np.stack([getattr(flows, name) != 0 for name in OPENINGS])
    so_far = np.pad(np.cumsum(passing, axis=1), ((0, 0), (1, 0)))
    within = so_far[:, np.minimum(high + 1, passing.shape[1])] > so_far[:, np.maximum(low - 1, 0)]
    return tuple(OPENINGS[k] for k in np.flatnonzero(within.any(axis=1)))


def _weights(early: NDArray[np.bool_], late: NDArray[np.bool_], share: np.float32) -> tuple[Floats, Floats]:
    """Return what both shapes count at each point: only those do that have the same chamber there."""
    return np.where(early, np.where(late, 1 - share, 1), 0), np.where(late, np.where(early, share, 1), 0)


def _fill(
    blood: Floats, stirred: Floats, is_blood: NDArray[np.bool_], weights: tuple[Floats, Floats], points: Points,
    tissue: Labels,
) -> None:  # fmt: skip
    """Give points that neither shape has in this chamber, a leaflet has just left them, what flows beside them."""
    known = is_blood & (weights[0] + weights[1] > 0)
    for k in np.flatnonzero(is_blood & ~known):
        beside = np.flatnonzero(known & (tissue == tissue[k]))
        if len(beside):
            nearest = beside[sum((v[beside] - v[k]) ** 2 for v in points).argmin()]
            blood[:, k], stirred[k] = blood[:, nearest], stirred[nearest]
