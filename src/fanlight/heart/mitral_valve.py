"""The mitral valve and its chordae: a long septal leaflet beside the outflow tract, a shorter parietal one."""

from __future__ import annotations

import math
from dataclasses import replace

from fanlight.heart.anatomy import Anatomy
from fanlight.heart.av_valve import AvValve, Flat, LeafletShape, chain, make_valve
from fanlight.heart.base_plane import BasePlane
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.left_ventricle import LeftVentricle
from fanlight.heart.rods import Rod
from fanlight.heart.triple import Triple, across, cross, mix, unit

# Engineering judgement: shut, the leaflets meet below the ring nearer the parietal side; open, the tip of the septal
# one comes within a few millimetres of the septum, which keeps the distance measured there (EPSS) below 6 mm (WARE6).
_SEPTAL = LeafletShape(
    links=(0.654, 0.640),
    shut_deg=(-23.4, -19.6),
    open_deg=(-95.0, -114.0),
    prolapsed_deg=(36.0, -24.0),
    prolapsed_links=(0.68, 0.68),
)
_PARIETAL = LeafletShape(
    links=(0.453, 0.560),
    shut_deg=(-41.0, -17.7),
    open_deg=(-92.0, -82.0),
    prolapsed_deg=(46.0, -30.0),
    prolapsed_links=(0.52, 0.58),
)
_UP = unit((1.0, 0.04, -0.06))  # the ring faces the atrium and a little the septum
# from the septal to the parietal hinge: the ring is turned towards the aorta
_ACROSS = across((0.0, -0.40, 0.917), _UP)
_ALONG = cross(_ACROSS, _UP)
_RADIUS = 0.32  # a narrower ring would make E faster than is published with this stroke (engineering judgement)
_CLEARANCE = 0.03  # between open leaflet and septum, units
_HALF_THICKNESS, _LEAST_MM = 0.0145, 0.30  # units; a cat's leaflet must still be drawn
_CHORD_SPOTS = ((0.25, 0.92), (0.62, 0.80))  # where chords end: (towards the commissure, share of the outer link)


def mitral_valve(anatomy: Anatomy, state: CycleState, base: BasePlane, lv: LeftVentricle) -> AvValve:
    """Return the valve at this moment; the septal leaflet swings no further than the septum lets it."""
    disease, u = anatomy.disease, base.unit_mm
    opening = state.mitral_opening * (1.0 - disease.mitral_restriction_fraction)
    # A flattened septum comes towards the ring, which gives way.
    x, y, z = base.left(0.0, -0.10, 0.02)
    centre = (x, y, z + 0.45 * lv.radius_mm * (1.0 - lv.septal_share))
    prolapse = disease.prolapse_fraction * min(max(1.6 * state.contraction, 0.0), 1.0)
    valve = make_valve(
        centre=centre,
        up=_UP,
        across=_ACROSS,
        along=_ALONG,
        radius_mm=_RADIUS * u * base.ring**0.8,  # a wide ventricle stretches the ring less than itself
        half_mm=max(_HALF_THICKNESS * u, _LEAST_MM),
        septal=_SEPTAL,
        parietal=_PARIETAL,
        opening=opening,
        prolapse=prolapse,
    )
    if _room_mm(valve, valve.septal[2], lv) >= _CLEARANCE * u:
        return valve
    free, shut = opening, 0.0
    for _ in range(6):  # to a sixtieth of the swing
        middle = 0.5 * (free + shut)
        if _room_mm(valve, chain(_SEPTAL, middle, prolapse)[2], lv) < _CLEARANCE * u:
            free = middle
        else:
            shut = middle
    return replace(valve, septal=chain(_SEPTAL, shut, prolapse))


def _room_mm(valve: AvValve, tip: Flat, lv: LeftVentricle) -> float:
    """Return the distance to the septum from a tip of the septal leaflet."""
    a, b, c = valve.at(tip)
    radius = lv.inner_radius_at(a)
    return math.sqrt(max(radius * radius - b * b, 0.0)) * lv.septal_share + c


def chordae(valve: AvValve, papillary: tuple[Rod, Rod]) -> tuple[tuple[Triple, Triple], ...]:
    """Return start and end of each chord: each papillary muscle holds both leaflets."""
    out = []
    for muscle, side in zip(papillary, (1.0, -1.0), strict=True):
        for _, bend, tip in (valve.septal, valve.parietal):
            for reach, share in _CHORD_SPOTS:
                spot = (bend[0] + share * (tip[0] - bend[0]), bend[1] + share * (tip[1] - bend[1]))
                out.append((mix(muscle.start, muscle.end, 1.02), valve.at(spot, side * reach)))
    return tuple(out)
