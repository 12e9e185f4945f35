"""Where blood runs in the left heart at one moment: veins, mitral inflow, outflow tract and aorta, and its jets."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from fanlight.heart.av_valve import AvValve
from fanlight.heart.blood.circulation import Circulation
from fanlight.heart.blood.flow_now import FlowNow
from fanlight.heart.blood.jet import Jet
from fanlight.heart.blood.stream import BLUNT, ROUNDED, Floats, Knot, Line, Stream, Way, through
from fanlight.heart.layout import Layout
from fanlight.heart.tissue import Tissue
from fanlight.heart.triple import Triple, add, mix, unit

Seen = Callable[[tuple[Tissue, ...]], bool]  # whether any of these chambers is asked for

LEFT_ATRIAL = (Tissue.LA_CAVITY, Tissue.LEFT_AURICLE)
INFLOW = (*LEFT_ATRIAL, Tissue.LV_CAVITY)
OUTFLOW = (Tissue.LV_CAVITY, Tissue.AORTA)
_REAL_VEINS = 2  # lung veins that each of the drawn ones stands for: a dog has five to seven (from memory)
_INFLOW_REACH = 0.92  # of the way from leaflet tips to apex, where the last of the inflow has turned back
_SPREAD = 0.10  # by which the inflow widens on its way, as a free jet does: see `jet`
_ROUND_BY = 0.3  # of the way, until the profile of inflow is round (engineering judgement)
_ROUNDER = math.sqrt((ROUNDED + 2.0) / ROUNDED / ((BLUNT + 2.0) / BLUNT))
_INFLOW_ASIDE = 0.10  # units by which it leans towards the free wall (engineering judgement)
_MOUTH = 1.45  # radius of the outflow where its tract begins, over the tract's own (engineering judgement)
BESIDE_JET = 0.3  # of the flow that is not in the jet behind a narrow place, at first (engineering judgement)
_RIDGE_UNITS = 0.16  # a subaortic ridge lies so far below the aortic ring (engineering judgement)


def tips_middle(valve: AvValve) -> Triple:
    """Return the middle between the tips of both leaflets."""
    return mix(valve.at(valve.septal[2]), valve.at(valve.parietal[2]), 0.5)


def inflow_knots(roof: Triple, middle: Triple, wide_mm: float, valve: AvValve, tips: float = 1.0) -> tuple[Knot, ...]:
    """Return the way through an atrium and its valve as far as the tips of the leaflets, `tips` as wide as the ring."""
    ring = valve.radius_mm
    return (
        Knot(at=mix(roof, middle, 0.2), radius_mm=wide_mm, share=0.0, rounded=1.0),
        Knot(at=middle, radius_mm=0.95 * wide_mm, share=0.6, rounded=1.0),
        Knot(at=add(valve.centre, valve.up, 0.25 * ring), radius_mm=1.05 * ring, rounded=0.4),
        Knot(at=add(valve.centre, valve.up, -0.1 * ring), radius_mm=ring),
        # In people E is faster at the tips than at the ring (57 against 43 cm/s, 52 people, an abstract seen); with
        # that the drawn ring would make E of dogs faster than is published (engineering judgement).
        Knot(at=tips_middle(valve), radius_mm=tips * ring),
    )


def filling(
    knots: tuple[Knot, ...], ends_at: Triple, flow_mm3_s: float, wall_mm: float, chambers: tuple[Tissue, ...]
) -> Way:
    """Return inflow that goes on as a jet into a ventricle, and turns back along its walls.

    At each level what passes on is what the part of the ventricle beyond it takes up (it swells in proportion to its
    length); the rest of the jet turns back between it and the wall, as far as there is room for it.
    """
    tips = knots[-1]
    spread = tips.radius_mm + _SPREAD * math.dist(tips.at, ends_at)
    # Where the profile becomes round, the core keeps its speed: the stream must be wider for the same flow.
    early = Knot(at=mix(tips.at, ends_at, _ROUND_BY), radius_mm=_ROUNDER * tips.radius_mm, rounded=1.0)
    late = Knot(at=ends_at, radius_mm=max(min(spread, 0.8 * wall_mm), early.radius_mm), rounded=1.0)

    def stream(lines: Sequence[Line]) -> Stream:
        (before, before_along, carried), (beyond, beyond_along, wide) = lines
        share = np.linspace(0.0, 1.0, len(beyond))
        taken = 1.0 - share
        back = np.minimum(share - share**3, most_returned(taken, wide[:, 0], wall_mm))
        return Stream(
            line_mm=np.concatenate([before, beyond[1:]]),
            along=np.concatenate([before_along, beyond_along[1:]]),
            radius_mm=np.concatenate([carried[:, 0], wide[1:, 0]]),
            flow_mm3_s=flow_mm3_s * np.concatenate([carried[:, 1], (taken + back)[1:]]),
            return_mm3_s=flow_mm3_s * np.concatenate([np.zeros(len(before)), back[1:]]),
            wall_mm=np.concatenate([carried[:, 0], np.full(len(beyond) - 1, wall_mm)]),
            rounded=np.concatenate([carried[:, 2], wide[1:, 2]]),
            chambers=chambers,
        )

    return Way(lines=(knots, (tips, early, late)), chambers=chambers, stream=stream)


def most_returned(taken: Floats, radius_mm: Floats, wall_mm: float) -> Floats:
    """Return how much of the inflow can turn back beside the stream (n,), where `taken` goes on, both shares of it.

    It turns back no faster than it came: it is the same blood, slowed by what it mixes with (physics). Where a small
    ventricle opens, the stream fills it, and all moves on as one.
    """
    room = np.maximum(wall_mm**2 / radius_mm**2 - 1.0, 0.0)  # its cross-section over that of the stream
    return np.where(room < 1.0, room * taken / np.maximum(1.0 - room, 1e-6), 1.0)


def left_streams(heart: Layout, circulation: Circulation, flow: FlowNow, seen: Seen) -> list[Way]:
    """Return what flows in the left heart (rest coordinates along the long axis), where it can be seen."""
    out = []
    if flow.mitral and seen(INFLOW):
        atrium, valve = heart.left_atrium.body, heart.mitral
        wide = 0.9 * min(atrium.radii)
        roof = add(atrium.centre, valve.up, 0.8 * atrium.radii[0])
        knots = inflow_knots(roof, atrium.centre, wide, valve, circulation.openings.mitral_tips)
        end = mix(tips_middle(valve), (-heart.lv.apex_mm, 0.0, _INFLOW_ASIDE * heart.unit_mm), _INFLOW_REACH)
        out.append(filling(knots, end, flow.mitral, 0.95 * heart.lv.radius_mm, INFLOW))
    if flow.aortic and seen(OUTFLOW):
        out.append(through(_outflow_knots(heart, circulation), flow.aortic, OUTFLOW))
    if flow.pulmonary_veins and seen((Tissue.PULMONARY_VEIN, *LEFT_ATRIAL)):
        each = flow.pulmonary_veins / (_REAL_VEINS * len(heart.left_atrium.veins))
        for vein in heart.left_atrium.veins:
            knots = (
                Knot(at=vein.end, radius_mm=vein.end_mm),
                Knot(at=vein.start, radius_mm=vein.start_mm),
                Knot(
                    at=mix(vein.start, heart.left_atrium.body.centre, 0.8),
                    radius_mm=2.2 * vein.start_mm,
                    share=0.2,
                    rounded=1.0,
                ),
            )
            out.append(through(knots, each, (Tissue.PULMONARY_VEIN, *LEFT_ATRIAL)))
    return out


def _outflow_knots(heart: Layout, circulation: Circulation) -> tuple[Knot, ...]:
    lv, root, tract = heart.lv, heart.aorta.root, heart.aorta.outflow
    ring = circulation.openings.aortic * root.radius_at(0.0)
    beyond = root.radius_at(1.0)
    bend, length = heart.aorta.bend, heart.aorta.length_mm - root.length_mm
    narrow = circulation.subaortic is not None
    # Blood that gathers from a whole chamber keeps a blunt profile: it gains speed everywhere alike (engineering
    # judgement). While the mitral valve is shut the tract begins as an open space beside it.
    mouth = min(_MOUTH * tract.start_mm, 0.9 * lv.radius_mm)
    way = [
        Knot(at=(-0.85 * lv.apex_mm, 0.0, 0.0), radius_mm=0.6 * lv.radius_mm, share=0.0, rounded=0.5),
        Knot(at=(-0.35 * lv.apex_mm, 0.0, 0.0), radius_mm=0.9 * lv.radius_mm, share=0.4, rounded=0.4),
        Knot(at=mix((0.0, 0.0, 0.0), tract.start, 0.4), radius_mm=0.9 * lv.radius_mm, share=0.7, rounded=0.3),
    ]
    if narrow:
        # to the ridge, which lies so low that the tract has hardly begun, and from there on as a jet; beside the jet
        # blood hardly moves until it fills the vessel again
        way.append(Knot(at=add(_ridge(heart), root.axis, -0.5 * ring), radius_mm=ring))
        way.append(Knot(at=_ridge(heart), radius_mm=ring, share=BESIDE_JET))
    else:
        way.append(Knot(at=tract.start, radius_mm=mouth, share=0.9, rounded=0.2))
        way.append(Knot(at=mix(tract.start, root.centre, 0.6), radius_mm=tract.start_mm, rounded=0.1))
        way.append(Knot(at=add(root.centre, root.axis, -0.02 * heart.unit_mm), radius_mm=ring))
    beside = BESIDE_JET if narrow else 1.0
    way.append(Knot(at=add(root.centre, root.axis, 0.62 * root.length_mm), radius_mm=ring, share=beside))
    for share in (0.0, 0.5, 1.0):
        past = share * length
        at = add(root.centre, root.axis, root.length_mm + past)
        filled = beside + (1.0 - beside) * share
        way.append(Knot(at=add(at, bend[0], 0.5 * bend[1] * past * past), radius_mm=beyond, share=filled))
    return tuple(way)


def _ridge(heart: Layout) -> Triple:
    root = heart.aorta.root
    return add(root.centre, root.axis, -_RIDGE_UNITS * heart.unit_mm)


def leaning(axis: Triple, first: Triple, second: Triple, lean: tuple[float, float]) -> Triple:
    """Return a direction that leans from an axis."""
    return unit(add(add(axis, first, lean[0]), second, lean[1]))


def left_jets(heart: Layout, circulation: Circulation, flow: FlowNow) -> list[Jet]:
    """Return the jets of the left heart: the mitral leak, and what a subaortic ridge makes."""
    out = []
    valve, root = heart.mitral, heart.aorta.root
    if circulation.mitral_leak is not None and flow.mitral_jet > 0.0:
        out.append(
            Jet(
                origin=add(valve.at(valve.shut[2]), valve.up, 0.05 * valve.radius_mm),
                direction=leaning(valve.up, valve.across, valve.along, circulation.mitral_leak.lean),
                orifice_mm2=flow.mitral_leak_mm2,
                speed_mm_s=flow.mitral_jet,
                before=(Tissue.LV_CAVITY,),
                behind=LEFT_ATRIAL,
            )
        )
    if circulation.subaortic is not None and flow.aortic > 0.0:
        out.append(
            Jet(
                origin=_ridge(heart),
                direction=leaning(root.axis, root.first_cusp, root.second, circulation.subaortic.lean),
                orifice_mm2=flow.subaortic_mm2,
                speed_mm_s=flow.aortic / flow.subaortic_mm2,
                before=(),
                behind=OUTFLOW,
            )
        )
    return out
