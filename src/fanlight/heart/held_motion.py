"""How fast everything moves at points that stay: streams held for some moments, all else worked out at each of them.

Where blood streams follows the shape of the heart, which changes over tenths of seconds; asking for it takes most of
the time. What passes the openings, how walls, leaflets and base move, and the breath are taken as they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import array_api_compat.numpy
import numpy as np
from numpy.typing import NDArray

from fanlight.heart.blood.blood_field import (
    OPENINGS,
    Asked,
    BloodField,
    blood_fields,
    part_of,
    velocity_at,
    velocity_between,
    with_rows,
)
from fanlight.heart.blood.flow_now import flows_at
from fanlight.heart.blood.flow_rates import FlowTable
from fanlight.heart.distance import Points
from fanlight.heart.heart_frame import to_rest
from fanlight.heart.layout import Layout
from fanlight.heart.left_ventricle import base_motion
from fanlight.heart.motion import Motion
from fanlight.heart.moving_body import Moment, MovingBody
from fanlight.heart.sample_heart import painted
from fanlight.heart.side_by_side import side_by_side
from fanlight.heart.tissue import BLOOD, Tissue
from fanlight.heart.wall_motion import carried_velocity
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
    shared: BloodField  # of all moments of its shape
    mine: slice  # which of its points are those of this moment
    heart: Layout
    motion: Motion  # at that time

    @property
    def field(self) -> BloodField:
        """Return what streams at the points (few moments are asked)."""
        return part_of(self.shared, self.mine)


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Alike:
    """A shape of the heart, and how many moments in turn it stands for."""

    heart: Layout
    at_ms: float  # when it has that shape, in the animal's rhythm
    n_moments: int


def hold_streams(
    body: MovingBody, shapes: Sequence[Alike], moments: Sequence[Moment], along: Floats, rests: Points, tissue: Labels,
    solid: Floats, spans_ms: Sequence[tuple[float, float]], told_by: NDArray[np.intp] | None = None,
) -> list[HeldStreams]:  # fmt: skip
    """Return where blood streams, and how all moves, at m moments.

    Parameters
    ----------
    body : MovingBody
        Whose.
    shapes : sequence of Alike
        Of the heart: the first stands for the first moments, the next for those after them.
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
    told_by : array of shape (m,), optional
        For each moment the one of its shape that is asked in its place: the points lie alike then. One that is asked
        for others is asked for itself. None: each is asked.
    """
    ends = np.cumsum([each.n_moments for each in shapes]).tolist()
    spans = [slice(end - each.n_moments, end) for each, end in zip(shapes, ends, strict=True)]
    is_open = _open(body.flows, body.start_ms + np.asarray(spans_ms))
    told_by = np.arange(len(moments)) if told_by is None else told_by
    told = [np.unique(told_by[mine], return_inverse=True) for mine in spans]
    asked = [
        Asked(
            heart=each.heart, flow=flow,
            openings=tuple(OPENINGS[k] for k in np.flatnonzero(is_open[:, mine].any(axis=1))),
            points=(rests[0][at].ravel(), rests[1][at].ravel(), rests[2][at].ravel()),
            tissue=tissue[at].ravel(),
        )
        for each, mine, (at, _), flow in zip(
            shapes, spans, told, flows_at(body.flows, [s.at_ms for s in shapes]), strict=True
        )
    ]  # fmt: skip
    n, flows = tissue.shape[1], flows_at(body.flows, [each.at_ms for each in moments])
    blood, stirred = np.empty((3, *tissue.shape), np.float32), np.empty(tissue.shape, np.float32)
    fields: list[tuple[BloodField, slice]] = []
    for mine, (at, rows), field in zip(spans, told, blood_fields(asked, body.circulation), strict=True):
        whole = field if len(at) == len(rows) else with_rows(field, rows, n)
        velocity, unsteady = velocity_at(whole, flows[mine], n)
        blood[:, mine], stirred[mine] = velocity.reshape(3, -1, n), unsteady.reshape(-1, n)
        fields += [(field, slice(k * n, k * n + n)) for k in rows.tolist()]
    is_blood = _IS_BLOOD[tissue]
    own = np.where(is_blood, blood, solid.transpose(1, 0, 2))
    motions = _moved(moments, own, np.where(is_blood, stirred, 0), along, rests[0], tissue)
    hearts = [each.heart for each in shapes for _ in range(each.n_moments)]
    return [
        HeldStreams(at_ms=moment.at_ms, tissue=there, shared=field, mine=mine, heart=heart, motion=motion)
        for moment, there, (field, mine), heart, motion in zip(moments, tissue, fields, hearts, motions, strict=True)
    ]


def motions_between(
    body: MovingBody, pairs: Sequence[tuple[HeldStreams, HeldStreams]], moments: Sequence[Moment], points: Points,
    along: Floats, rest: Floats, tissue: Labels, solid: Floats,
) -> list[Motion]:  # fmt: skip
    """Return how what lies at points moves at m moments, each between two at which their streams were held.

    Parameters
    ----------
    body, moments, solid
        As for `hold_streams`.
    pairs : sequence of m pairs of HeldStreams
        Whose spans hold the moment; shapes between them go in a straight line.
    points : three arrays of shape (n,)
        Of the patient frame, mm.
    along, rest : arrays of shape (m, n)
        Where the points lie along the long axis then, and at rest, from `rest_places`.
    tissue : array of shape (m, n)
        What lies at the points then.
    """
    own, unsteady, is_blood = solid.transpose(1, 0, 2).copy(), np.zeros_like(along), _IS_BLOOD[tissue]
    flows = flows_at(body.flows, [each.at_ms for each in moments])
    for k in np.flatnonzero(is_blood.any(axis=1)).tolist():
        (first, last), there = pairs[k], tissue[k]
        share = np.float32((moments[k].at_ms - first.at_ms) / max(last.at_ms - first.at_ms, 1e-6))
        weights = _weights(first.tissue == there, last.tissue == there, share)
        blood, stirred = velocity_between(first.field, last.field, weights, flows[k])
        _fill(blood, stirred, is_blood[k], weights, points, there)
        own[:, k] = np.where(is_blood[k], blood, own[:, k])
        unsteady[k] = np.where(is_blood[k], stirred, unsteady[k])
    return _moved(moments, own, unsteady, along, rest, tissue)


def _moved(
    moments: Sequence[Moment], own: Floats, unsteady: Floats, along: Floats, rest: Floats, tissue: Labels
) -> list[Motion]:
    """Return the motion in the patient frame of what moves so in the heart (3, m, n) at m moments.

    To its own velocity comes that of the base and the breath, as `Moment.in_patient` has it.
    """
    anatomy = moments[0].anatomy
    laters = [base_motion(anatomy, each.later) for each in moments]
    later = replace(laters[0], descent_mm=_column([each.descent_mm for each in laters]))
    carried = carried_velocity(later, _column([each.step_s for each in moments]), along, rest, np)
    in_heart, first, frame, moved = tissue != int(Tissue.OUTSIDE), own[0] + carried, anatomy.frame, []
    for i in range(3):
        turned = first * frame.long[i] + own[1] * frame.front[i] + own[2] * frame.depth[i]
        turned += _column([each.breath_mm_s[i] for each in moments])
        moved.append(np.where(in_heart, turned, np.float32(0.0)))
    return [
        Motion(velocity_mm_s=(x, y, z), unsteady_mm_s=stirred)
        for x, y, z, stirred in zip(*moved, unsteady, strict=True)
    ]


def _column(values: Sequence[float]) -> Any:
    """Return numbers, one for each moment, beside points (m, n)."""
    return np.asarray(values, np.float32)[:, None]


def rest_places(moments: Sequence[Moment], points: Points) -> tuple[Floats, Points]:
    """Return where points of the patient frame lie along the long axis, and where in the heart at rest, mm.

    Each (m, n), a row for each of m moments of one animal.
    """
    x, y, z = (
        np.asarray(v, np.float32).ravel() - _column([each.shift_mm[i] for each in moments])
        for i, v in enumerate(points)
    )
    anatomy = moments[0].anatomy
    if anatomy.warp is not None:
        x, y, z = undone(anatomy.warp, x, y, z)
    a, b, c = anatomy.frame.coordinates(x, y, z)
    return a, (to_rest([base_motion(anatomy, each.state) for each in moments], a), b, c)


def _open(flows: FlowTable, spans_ms: Floats) -> NDArray[np.bool_]:
    """Return through which openings (opening, m) anything passes within each of some times (m, 2)."""
    low, high = np.searchsorted(flows.times_ms, spans_ms.T)
    passing = np.stack([getattr(flows, name) != 0 for name in OPENINGS])
    so_far = np.pad(np.cumsum(passing, axis=1), ((0, 0), (1, 0)))
    return np.asarray(so_far[:, np.minimum(high + 1, passing.shape[1])] > so_far[:, np.maximum(low - 1, 0)])


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
