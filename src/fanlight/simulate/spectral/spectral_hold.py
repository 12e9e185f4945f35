"""A beam before an animal that moves: its heart is sliced once for all moments at which it is shaped alike.

Slicing the heart and finding its streams takes nearly all the time of a spectrum, and costs little more for many points
than for few. A heart takes the same shapes in every beat and stays in some of them, wherever breath and base have
carried it: both only move the places that the points have in the heart at rest. So moments are gathered by shape, and
those of a shape at which the points lie all but alike in it are told by one of them.
Velocities of tissue and what passes the openings change within milliseconds and are taken as they are. Between two
moments, where a leaflet passes the gate, walls and streams go in a straight line, leaflets as they are.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.held_leaflets import with_leaflets
from fanlight.heart.held_motion import (
    Alike,
    HeldStreams,
    hold_streams,
    motions_between,
    rest_places,
    slice_shapes,
)
from fanlight.heart.layout import layout
from fanlight.heart.motion import Motion
from fanlight.heart.moving_body import Moment, MovingBody
from fanlight.heart.sample_heart import sample_heart
from fanlight.heart.solid_motion import solid_velocities
from fanlight.heart.tissue import Tissue
from fanlight.simulate.spectral.spectral_alike import placed_alike, shaped_alike

Labels = NDArray[np.uint8]
Floats = NDArray[np.floating[Any]]
Points = tuple[Floats, Floats, Floats]

MOMENT_MS = 10.0  # between the moments at which the signal asks, from the first on
_AT_ONE_MS = 1e-8  # apart at most: one moment (numerical)
_MOVES = 0.01  # of a valve's way in half a shape's time: below, its leaflets are where the shapes have them (numerical)

AT_ONCE = 256  # moments that are sliced side by side, or a few more; as many gone by are remembered (numerical)

# of each valve
LEAFLETS = {
    "mitral": (int(Tissue.MITRAL_SEPTAL_LEAFLET), int(Tissue.MITRAL_PARIETAL_LEAFLET)),
    "tricuspid": (int(Tissue.TRICUSPID_LEAFLET),),
    "aortic": (int(Tissue.AORTIC_CUSP),),
    "pulmonic": (int(Tissue.PULMONIC_CUSP),),
}
IS_LEAFLET = np.isin(np.arange(256), [kind for kinds in LEAFLETS.values() for kind in kinds])


@runtime_checkable
class Led(Protocol):
    """Motion of a body whose recording began earlier than the times that are asked for."""

    body: MovingBody
    lead_ms: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sliced:
    """What lies at the points of a beam: of the moving part alone, and all together; and how far borders are."""

    moving: Labels
    seen: Labels
    edge_mm: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Shape:
    time_ms: float
    moment: Moment
    sliced: Sliced
    streams: HeldStreams


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Between:
    """A moment between two shapes, and the share of the way from the first that is gone."""

    first: _Shape
    last: _Shape
    share: float
    moment: Moment


def body_of(motion: object) -> tuple[MovingBody, float] | None:
    """Return the animal whose motion this is, and from when on its times count; None: it is something else."""
    if isinstance(motion, MovingBody):
        return motion, 0.0
    return (motion.body, motion.lead_ms) if isinstance(motion, Led) else None


class HeldBeam:
    """A beam that keeps still before an animal.

    Parameters
    ----------
    body, lead_ms
        From `body_of`.
    points : three arrays of shape (n,)
        Of the patient frame, mm; the first `n_places` are asked for motion too.
    slice_at : function of time in ms
        What lies there.
    still_at : function of m moments of the breath
        Labels (m, n) of what lies there where the heart does not; None: nothing does.
    first_ms, last_ms : float
        Nothing is asked for beyond; both may be one moment.

    Raises
    ------
    ValueError
        If the last moment lies before the first.
    """

    def __init__(
        self, body: MovingBody, lead_ms: float, points: Points, n_places: int, slice_at: Callable[[float], Sliced],
        still_at: Callable[[Sequence[float]], Labels | None], first_ms: float, last_ms: float,
    ) -> None:  # fmt: skip
        if last_ms < first_ms:
            raise ValueError(
                f"a beam is held from its first moment to its last, got {first_ms:g} ms to {last_ms:g} ms; swap them"
            )
        self._body, self._lead_ms, self._points = body, lead_ms, points
        self._places = (points[0][:n_places], points[1][:n_places], points[2][:n_places])
        self._n, self._slice_at, self._still_at = n_places, slice_at, still_at
        self._times_ms = [*np.arange(first_ms, last_ms - 1e-6, MOMENT_MS).tolist(), last_ms]
        self._moments = [body.moment(time_ms + lead_ms) for time_ms in self._times_ms]
        self._groups = shaped_alike(self._moments) if self._is_bare() else {}
        self._told_by = placed_alike(self._moments, self._groups)
        self._shapes: dict[int, _Shape] = {}

    def at(self, time_ms: float) -> tuple[Sliced, Motion]:
        """Return what lies at the points, and how what lies at the places moves."""
        return self.at_all([time_ms])[0]

    def at_all(self, times_ms: Sequence[float]) -> list[tuple[Sliced, Motion]]:
        """Return the same of some times, in their order."""
        out: list[tuple[Sliced, Motion] | None] = []
        apart: list[_Between] = []
        for time_ms in times_ms:
            k = max(bisect_right(self._times_ms, time_ms + _AT_ONE_MS) - 1, 0)
            first = self._shape(k)
            if k == len(self._times_ms) - 1 or time_ms <= first.time_ms + _AT_ONE_MS:
                out.append((first.sliced, first.streams.motion))
                continue
            last = self._shape(k + 1)
            share = (time_ms - first.time_ms) / (last.time_ms - first.time_ms)
            moment = self._body.moment(time_ms + self._lead_ms)
            apart.append(_Between(first=first, last=last, share=share, moment=moment))
            out.append(None)
        between = iter(self._between(apart) if apart else [])
        return [next(between) if each is None else each for each in out]

    def _is_bare(self) -> bool:
        """Whether the scene shows the animal's heart and nothing hides any of it at either end of the breath."""
        breath = [moment.state.breath for moment in self._moments]
        for k in (int(np.argmin(breath)), int(np.argmax(breath))):
            moment = self._moments[k]
            own = sample_heart(self._body.animal.anatomy, moment.state, *moment.in_heart(*self._points, np))
            if not np.array_equal(own.tissue, self._slice_at(self._times_ms[k]).moving):
                return False
        return True

    def _shape(self, k: int) -> _Shape:
        """Return a shape; those gone by are forgotten."""
        if k not in self._shapes:
            self._shapes = {i: shape for i, shape in self._shapes.items() if i >= k - AT_ONCE - 1}
            self._shapes.update(self._made(self._next_groups(k)))
        return self._shapes[k]

    def _next_groups(self, k: int) -> list[list[int]]:
        """Return moments alike, group by group, from that of one moment on."""
        if not self._groups:
            return [[k]]
        out: list[list[int]] = []
        for other in range(k, len(self._times_ms)):
            if other not in self._shapes and not any(other in group for group in out):
                out.append(self._groups[other])
                if sum(len(group) for group in out) >= AT_ONCE:
                    break
        return out

    def _made(self, groups: list[list[int]]) -> dict[int, _Shape]:
        """Return the shapes of moments at which the heart is shaped as at the middle one of their group."""
        order = [k for group in groups for k in group]
        moments, n = [self._moments[k] for k in order], self._n
        along, (a, b, c) = rest_places(moments, self._points)
        middles = [self._moments[group[len(group) // 2]] for group in groups]
        shapes = [
            Alike(heart=layout(middle.anatomy, middle.state), at_ms=middle.at_ms, n_moments=len(group))
            for group, middle in zip(groups, middles, strict=True)
        ]
        place = {k: i for i, k in enumerate(order)}
        told_by = np.asarray([place[self._told_by[k]] for k in order])
        if self._groups:
            asked, row_of = np.unique(told_by, return_inverse=True)
            shape_of = np.repeat(np.arange(len(groups)), [len(group) for group in groups])
            hearts = [each.heart for each in shapes]
            moving, edge_mm = slice_shapes(hearts, shape_of[asked].tolist(), (a[asked], b[asked], c[asked]))
            moving, edge_mm = moving[row_of], edge_mm[row_of]
            seen = self._over_still(moving, [moment.state.breath for moment in moments])
            sliced = [Sliced(moving=m, seen=s, edge_mm=e) for m, s, e in zip(moving, seen, edge_mm, strict=True)]
        else:
            sliced = [self._slice_at(self._times_ms[k]) for k in order]
        tissue, own = np.stack([each.moving[:n] for each in sliced]), (a[:, :n], b[:, :n], c[:, :n])
        solid = solid_velocities(moments, own, tissue)
        spans_ms = [self._span_ms(k) for k in order]
        streams = hold_streams(self._body, shapes, moments, along[:, :n], own, tissue, solid, spans_ms, told_by)
        return {
            k: _Shape(time_ms=self._times_ms[k], moment=moments[i], sliced=sliced[i], streams=streams[i])
            for i, k in enumerate(order)
        }

    def _over_still(self, moving: Labels, breaths: Sequence[float]) -> Labels:
        """Return what is seen (m, n) where the moving part lies over the chest at moments of the breath."""
        still = self._still_at(breaths)
        return moving if still is None else np.where(moving != 0, moving, still)

    def _span_ms(self, k: int) -> tuple[float, float]:
        times_ms = self._times_ms
        return times_ms[max(k - 1, 0)] + self._lead_ms, times_ms[min(k + 1, len(times_ms) - 1)] + self._lead_ms

    def _between(self, asked: Sequence[_Between]) -> list[tuple[Sliced, Motion]]:
        """Return what lies at the points between shapes, and its motion: a border comes when its distances say."""
        moments, n = [each.moment for each in asked], self._n
        one, other = [each.first.sliced for each in asked], [each.last.sliced for each in asked]
        early_mm, late_mm = np.stack([s.edge_mm for s in one]), np.stack([s.edge_mm for s in other])
        share = np.asarray([[each.share] for each in asked], np.float32)
        crossed = share * (early_mm + late_mm) > early_mm
        first, last = np.stack([s.moving for s in one]), np.stack([s.moving for s in other])
        moving = np.where(crossed, last, first)
        seen = np.where(crossed, np.stack([s.seen for s in other]), np.stack([s.seen for s in one]))
        # beneath a leaflet lies what lies there when it has gone; where both shapes have one, it stays
        ground = np.where(IS_LEAFLET[moving], np.where(crossed, first, last), moving)
        along, (a, b, c) = rest_places(moments, self._points)
        swinging = [_swinging(each) for each in asked]
        swung = with_leaflets([each.first.streams for each in asked], moments, (a, b, c), ground, swinging)
        swung = np.where(ground == int(Tissue.OUTSIDE), ground, swung)  # lung in the way hides leaflets too
        swung = np.where(np.asarray([[bool(valves)] for valves in swinging]), swung, moving)
        seen, moving = np.where(swung == moving, seen, swung), swung
        tissue, own = moving[:, :n], (a[:, :n], b[:, :n], c[:, :n])
        solid = solid_velocities(moments, own, tissue)
        pairs = [(each.first.streams, each.last.streams) for each in asked]
        motions = motions_between(self._body, pairs, moments, self._places, along[:, :n], own[0], tissue, solid)
        return [
            (Sliced(moving=moving[k], seen=seen[k], edge_mm=early_mm[k]), motion) for k, motion in enumerate(motions)
        ]


def _swinging(between: _Between) -> list[str]:
    """Return the valves that open or shut between two shapes, or have leaflets in the beam: the base carries them."""
    first, last = between.first, between.last
    there = set(np.unique(np.concatenate([first.sliced.moving, last.sliced.moving])).tolist())
    out = []
    for valve, leaflets in LEAFLETS.items():
        opening = [getattr(m.state, f"{valve}_opening") for m in (first.moment, between.moment, last.moment)]
        if max(opening) - min(opening) > _MOVES or not there.isdisjoint(leaflets):
            out.append(valve)
    return out
