"""The velocity of blood at points of the heart: streams and jets of all chambers put together."""

from __future__ import annotations

from typing import Any

from fanlight.heart.blood.circulation import Circulation
from fanlight.heart.blood.flow_now import FlowNow
from fanlight.heart.blood.jet import Jet, drawn_in, jet_at
from fanlight.heart.blood.left_streams import Seen, left_jets, left_streams
from fanlight.heart.blood.right_streams import right_jets, right_streams
from fanlight.heart.blood.stream import drawn, velocity_in
from fanlight.heart.distance import Points
from fanlight.heart.layout import Layout
from fanlight.heart.tissue import Tissue

Array = Any  # an array of the array API standard
Vectors = tuple[Array, Array, Array]

# Blood is never at rest and never moves as one: what is left of earlier beats' eddies, and a share of what flows
# (engineering judgement: laminar flow of the heart shows a spectrum some tenths of its speed wide).
STIRRED_MM_S, STIRRED_SHARE = 25.0, 0.05


def blood_velocity(
    heart: Layout, circulation: Circulation, flow: FlowNow, p: Points, tissue: Array, xp: Any
) -> tuple[Vectors, Array]:
    """Return velocity (mm/s, heart coordinates) and its fluctuation at points.

    Parameters
    ----------
    heart : Layout
        The heart now.
    circulation, flow : Circulation, FlowNow
        Lesions, and what passes each opening now.
    p : three arrays of shape (n,)
        Points, rest coordinates along the long axis.
    tissue : array of shape (n,)
        What lies there; where it is no blood, the answer is 0.
    """
    total = [xp.zeros_like(p[0]) for _ in range(3)]
    seen = seen_among(tissue, xp)
    ways = [*left_streams(heart, circulation, flow, seen), *right_streams(heart, circulation, flow, seen)]
    for stream in drawn(ways):
        _add(total, p, places_in(tissue, stream.chambers, xp), lambda q, s=stream: velocity_in(s, q, xp), xp)
    unsteady = xp.zeros_like(p[0])
    for jet in (*left_jets(heart, circulation, flow), *right_jets(heart, circulation, flow)):
        if jet.before:
            _add(total, p, places_in(tissue, jet.before, xp), lambda q, j=jet: drawn_in(j, q, xp), xp)
        unsteady = _with_jet(total, unsteady, jet, p, tissue, xp)
    speed = xp.sqrt(total[0] ** 2 + total[1] ** 2 + total[2] ** 2)
    still = STIRRED_MM_S + STIRRED_SHARE * speed
    return (total[0], total[1], total[2]), xp.sqrt(unsteady**2 + still**2)


def seen_among(tissue: Array, xp: Any) -> Seen:
    """Return whether any of some chambers lies among the labels."""
    there = {int(label) for label in xp.unique_values(tissue)}
    return lambda chambers: any(int(chamber) in there for chamber in chambers)


def places_in(tissue: Array, chambers: tuple[Tissue, ...], xp: Any) -> Array:
    """Return the numbers of the points that lie in these chambers."""
    inside = tissue == int(chambers[0])
    for chamber in chambers[1:]:
        inside = inside | (tissue == int(chamber))
    return xp.nonzero(inside)[0]


def _add(total: list[Array], p: Points, at: Array, of: Any, xp: Any) -> None:
    if at.shape[0] == 0:
        return
    more = of(tuple(xp.take(v, at) for v in p))
    for i in range(3):
        total[i][at] += more[i]


def _with_jet(total: list[Array], unsteady: Array, jet: Jet, p: Points, tissue: Array, xp: Any) -> Array:
    """Lay a jet over what flows behind its opening: where it is faster it takes its place. Return the fluctuation."""
    at = places_in(tissue, jet.behind, xp)
    if at.shape[0] == 0:
        return unsteady
    speed, mixed = jet_at(jet, tuple(xp.take(v, at) for v in p), xp)
    here = [xp.take(v, at) for v in total]
    wins = speed > xp.sqrt(here[0] ** 2 + here[1] ** 2 + here[2] ** 2)
    for i in range(3):
        total[i][at] = xp.where(wins, speed * jet.direction[i], here[i])
    unsteady[at] = xp.maximum(xp.take(unsteady, at), mixed)
    return unsteady
