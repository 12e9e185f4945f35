"""Leaflets laid where they are at a moment, over a heart that is held as it was near it."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace

import array_api_compat.numpy

from fanlight.heart.aorta import aorta
from fanlight.heart.base_plane import base_plane
from fanlight.heart.distance import Points
from fanlight.heart.great_vessels import paint_cusps
from fanlight.heart.held_motion import HeldStreams, Labels
from fanlight.heart.layout import Layout
from fanlight.heart.left_heart import paint_mitral_valve
from fanlight.heart.left_ventricle import left_ventricle, papillary_muscles
from fanlight.heart.mitral_valve import mitral_valve
from fanlight.heart.moving_body import Moment
from fanlight.heart.paint import Canvas
from fanlight.heart.right_heart import paint_tricuspid_valve
from fanlight.heart.right_ventricle import tricuspid_valve
from fanlight.heart.side_by_side import side_by_side
from fanlight.heart.tissue import Tissue


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
    canvas.forget()
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
