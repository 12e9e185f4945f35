"""A beam before an animal that moves: its shape is asked for now and then, what is fast at every moment.

Slicing the heart and finding its streams takes nearly all the time of a spectrum. Walls and streams change over tenths
of seconds: between two times they are taken in a straight line. Leaflets, velocities of tissue and what passes the
openings change within milliseconds and are taken as they are.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.held_motion import HeldStreams, hold_streams, motion_between, with_leaflets
from fanlight.heart.motion import Motion
from fanlight.heart.moving_body import Moment, MovingBody
from fanlight.heart.tissue import Tissue

Labels = NDArray[np.uint8]
Floats = NDArray[np.floating[Any]]
Points = tuple[Floats, Floats, Floats]

# A shape is held for this share of a beat, in whole moments of the signal (numerical: a test tells what it costs).
BEAT_SHARE, MOMENT_MS, MOST_MOMENTS = 0.05, 10.0, 2
_MOVES = 0.01  # of a valve's way in half a shape's time: below, its leaflets are where the shapes have them (numerical)

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
    first_ms, last_ms : float
        Nothing is asked for beyond.
    """

    def __init__(
        self, body: MovingBody, lead_ms: float, points: Points, n_places: int, slice_at: Callable[[float], Sliced],
        first_ms: float, last_ms: float,
    ) -> None:  # fmt: skip
        self._body, self._lead_ms, self._points = body, lead_ms, points
        self._places = (points[0][:n_places], points[1][:n_places], points[2][:n_places])
        self._n, self._slice_at = n_places, slice_at
        self._first_ms, self._last_ms = first_ms, last_ms
        beat_ms = 60_000 / body.animal.rhythm.rate_bpm
        self._step_ms = MOMENT_MS * min(max(round(BEAT_SHARE * beat_ms / MOMENT_MS), 1), MOST_MOMENTS)
        self._shapes: dict[int, _Shape] = {}

    def at(self, time_ms: float) -> tuple[Sliced, Motion]:
        """Return what lies at the points, and how what lies at the places moves."""
        k = int((time_ms - self._first_ms) / self._step_ms + 1e-9)
        first, last = self._shape(k), self._shape(k + 1)
        share = (time_ms - first.time_ms) / max(last.time_ms - first.time_ms, 1e-6)
        moment = first.moment if share < 1e-9 else self._body.moment(time_ms + self._lead_ms)
        sliced = first.sliced if share < 1e-9 else self._between(first, last, share, moment)
        tissue = sliced.moving[: self._n]
        return sliced, motion_between(self._body, first.streams, last.streams, moment, self._places, tissue)

    def _time_ms(self, k: int) -> float:
        return min(self._first_ms + k * self._step_ms, self._last_ms)

    def _shape(self, k: int) -> _Shape:
        """Return a shape; the two last ones are kept."""
        if k not in self._shapes:
            time_ms = self._time_ms(k)
            sliced, moment = self._slice_at(time_ms), self._body.moment(time_ms + self._lead_ms)
            span_ms = (self._time_ms(k - 1) + self._lead_ms, self._time_ms(k + 1) + self._lead_ms)
            streams = hold_streams(self._body, moment, self._places, sliced.moving[: self._n], span_ms)
            self._shapes = {i: shape for i, shape in self._shapes.items() if i >= k - 1}
            self._shapes[k] = _Shape(time_ms=time_ms, moment=moment, sliced=sliced, streams=streams)
        return self._shapes[k]

    def _between(self, first: _Shape, last: _Shape, share: float, moment: Moment) -> Sliced:
        """Return what lies at the points between two shapes: a border comes when its distances say."""
        one, other = first.sliced, last.sliced
        crossed = share * (one.edge_mm + other.edge_mm) > one.edge_mm
        moving = np.where(crossed, other.moving, one.moving)
        seen = np.where(crossed, other.seen, one.seen)
        valves = _asked(first, moment, last)
        if valves:
            # beneath a leaflet lies what lies there when it has gone; where both shapes have one, it stays
            ground = np.where(IS_LEAFLET[moving], np.where(crossed, one.moving, other.moving), moving)
            swung = with_leaflets(moment, self._points, ground, valves)
            swung = np.where(ground == Tissue.OUTSIDE, ground, swung)  # lung in the way hides leaflets too
            seen, moving = np.where(swung == moving, seen, swung), swung
        return Sliced(moving=moving, seen=seen, edge_mm=one.edge_mm)


def _asked(first: _Shape, moment: Moment, last: _Shape) -> list[str]:
    """Return the valves that open or shut between two shapes, or have leaflets in the beam: the base carries them."""
    there = set(np.unique(np.concatenate([first.sliced.moving, last.sliced.moving])).tolist())
    out = []
    for valve, leaflets in LEAFLETS.items():
        opening = [getattr(m.state, f"{valve}_opening") for m in (first.moment, moment, last.moment)]
        if max(opening) - min(opening) > _MOVES or not there.isdisjoint(leaflets):
            out.append(valve)
    return out
