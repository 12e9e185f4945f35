"""What one opening's flow does to the blood at points: velocities for a unit of what passes, at one shape of the heart.

Where blood streams changes as slowly as the heart's shape, how much of it within milliseconds. With the two apart,
shapes are asked for now and then and flows at every moment.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import array_api_compat.numpy
import numpy as np
from numpy.typing import NDArray

from fanlight.heart.blood.blood_velocity import STIRRED_MM_S, STIRRED_SHARE, places_in, seen_among
from fanlight.heart.blood.circulation import Circulation
from fanlight.heart.blood.flow_now import CHANGING, FlowNow
from fanlight.heart.blood.jet import Jet, drawn_in, jet_at
from fanlight.heart.blood.left_streams import left_jets, left_streams
from fanlight.heart.blood.right_streams import right_jets, right_streams
from fanlight.heart.blood.stream import Way, drawn, velocities_in
from fanlight.heart.distance import Points
from fanlight.heart.layout import Layout

Floats = NDArray[np.floating[Any]]

# What flows through them is what velocities are proportional to; the rest of `FlowNow` are areas that stay.
OPENINGS = CHANGING


_JETS = ("mitral_jet", "aortic", "tricuspid_jet", "pulmonic")  # the order in which `blood_velocity` lays them


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JetField:
    """A jet of unit strength at points."""

    direction: Floats  # (3, 1)
    drawn: Floats | None  # (3, n) velocity before the opening; None: a stream leads up to it
    speed: Floats  # (n,)
    unsteady: Floats  # (n,)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OpeningField:
    """Velocities at n points (heart coordinates) for a unit of what passes one opening."""

    stream: Floats | None  # (3, n); None: no stream reaches the points
    jets: tuple[JetField, ...]


BloodField = Mapping[str, OpeningField]  # by the name of the opening


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Asked:
    """What a field is asked of: a shape of the heart and points in it."""

    heart: Layout
    flow: FlowNow  # of which the areas count
    openings: Sequence[str]  # out of `OPENINGS`: those through which anything passes about this moment
    points: Points  # (n,) each, as for `blood_velocity`; NumPy
    tissue: Any


def blood_field(
    heart: Layout, circulation: Circulation, flow: FlowNow, openings: Sequence[str], p: Points, tissue: Any
) -> BloodField:
    """Return what a unit through each of some openings does; the parameters as in `Asked`, lesions beside them."""
    asked = Asked(heart=heart, flow=flow, openings=openings, points=p, tissue=tissue)
    return blood_fields([asked], circulation)[0]


def blood_fields(asked: Sequence[Asked], circulation: Circulation) -> list[BloodField]:
    """Return the same of some shapes of one heart: the lines of their streams are drawn together."""
    units = []
    for one in asked:
        none = replace(one.flow, **dict.fromkeys(OPENINGS, 0.0))
        units.append({name: replace(none, **{name: 1.0}) for name in one.openings})
    ways = [_ways(one, circulation, flows, _Places(one.tissue)) for one, flows in zip(asked, units, strict=True)]
    streams = drawn([way for own in ways for _, way, _ in own])
    points = [
        (one.points[0][at], one.points[1][at], one.points[2][at])
        for one, own in zip(asked, ways, strict=True)
        for *_, at in own
    ]
    velocities = iter(velocities_in(list(zip(streams, points, strict=True)), array_api_compat.numpy))
    out: list[BloodField] = []
    for one, flows, own in zip(asked, units, ways, strict=True):
        fields: dict[str, Floats] = {}
        for name, _, at in own:
            total = fields.setdefault(name, np.zeros((3, len(one.points[0])), np.float32))
            for part, velocity in zip(total, next(velocities), strict=True):
                part[at] += velocity
        out.append({name: _opening(one, circulation, unit, fields.get(name)) for name, unit in flows.items()})
    return out


class _Places:
    """Where in a list of labels some chambers lie, looked up once for each."""

    def __init__(self, tissue: Any) -> None:
        self._tissue = tissue
        self._known: dict[Any, Any] = {}

    def of(self, chambers: Any) -> Any:
        """Return the numbers of the points."""
        if chambers not in self._known:
            self._known[chambers] = places_in(self._tissue, chambers, np)
        return self._known[chambers]


def _ways(
    one: Asked, circulation: Circulation, units: Mapping[str, FlowNow], places: _Places
) -> list[tuple[str, Way, Any]]:
    """Return the opening of each stream that reaches any of the points, the stream and the numbers of the points."""
    seen, out = seen_among(one.tissue, np), []
    for name, unit in units.items():
        for way in (
            *left_streams(one.heart, circulation, unit, seen),
            *right_streams(one.heart, circulation, unit, seen),
        ):
            at = places.of(way.chambers)
            if len(at):
                out.append((name, way, at))
    return out


def _opening(one: Asked, circulation: Circulation, unit: FlowNow, stream: Floats | None) -> OpeningField:
    jets = (*left_jets(one.heart, circulation, unit), *right_jets(one.heart, circulation, unit))
    return OpeningField(stream=stream, jets=tuple(_jet_field(jet, one.points, one.tissue) for jet in jets))


def _jet_field(jet: Jet, p: Points, tissue: Any) -> JetField:
    n = len(p[0])
    behind = places_in(tissue, jet.behind, np)
    speed, unsteady, drawn = np.zeros(n, np.float32), np.zeros(n, np.float32), None
    if len(behind):
        speed[behind], unsteady[behind] = jet_at(jet, tuple(v[behind] for v in p), np)
    if jet.before:
        drawn, before = np.zeros((3, n), np.float32), places_in(tissue, jet.before, np)
        if len(before):
            drawn[:, before] = drawn_in(jet, tuple(v[before] for v in p), np)
    return JetField(
        direction=np.asarray(jet.direction, np.float32)[:, None], drawn=drawn, speed=speed,
        unsteady=unsteady,
    )  # fmt: skip


def part_of(field: BloodField, at: slice) -> BloodField:
    """Return what a field says of some of its points."""
    return _each(field, lambda values: values[..., at])


def with_rows(field: BloodField, rows: NDArray[np.intp], n: int) -> BloodField:
    """Return a field whose points are those of some rows, of n points each; rows may come again."""

    def taken(values: Floats) -> Floats:
        lead = values.shape[:-1]
        return values.reshape(*lead, -1, n).take(rows, axis=-2).reshape(*lead, -1)

    return _each(field, taken)


def _each(field: BloodField, change: Callable[[Floats], Floats]) -> BloodField:
    """Return a field with all that it says of points changed."""
    return {
        name: OpeningField(
            stream=None if one.stream is None else change(one.stream),
            jets=tuple(
                replace(
                    jet, drawn=None if jet.drawn is None else change(jet.drawn), speed=change(jet.speed),
                    unsteady=change(jet.unsteady),
                )
                for jet in one.jets
            ),
        )
        for name, one in field.items()
    }  # fmt: skip


def velocity_at(field: BloodField, flows: Sequence[FlowNow], n: int) -> tuple[Floats, Floats]:
    """Return velocity (3, m·n) and its fluctuation (m·n,) of m flows, at n points each of a field, in their order."""
    total, unsteady = np.zeros((3, n * len(flows)), np.float32), np.zeros(n * len(flows), np.float32)
    passing = {name: np.asarray([getattr(flow, name) for flow in flows], np.float32) for name in field}
    strengths = {name: np.repeat(each, n) for name, each in passing.items() if each.any()}
    for name, strength in strengths.items():
        stream = field[name].stream
        if stream is not None:
            total += stream * strength
    whole = (np.float32(1.0), np.float32(0.0))
    for name in (name for name in _JETS if name in strengths):
        for jet in field[name].jets:
            unsteady = _with_jet(total, unsteady, jet, jet, whole, strengths[name])
    return total, _stirred(total, unsteady)


def velocity_between(
    first: BloodField, last: BloodField, weights: tuple[Floats, Floats], flow: FlowNow
) -> tuple[Floats, Floats]:
    """Return velocity (3, n) and its fluctuation (n,) of a flow, at a shape between two.

    Parameters
    ----------
    first, last : BloodField
        Of the same points. What is open in one of them only has no flow between them: it opens or shuts there.
    weights : two arrays of shape (n,)
        What each of them counts at each point.
    flow : FlowNow
        What passes.
    """
    early, late = weights
    total, unsteady = np.zeros((3, len(early)), np.float32), np.zeros(len(early), np.float32)
    names = [name for name in first if name in last and getattr(flow, name)]
    for name in names:
        for field, weight in ((first[name], early), (last[name], late)):
            if field.stream is not None:
                total += field.stream * (weight * np.float32(getattr(flow, name)))
    for name in (name for name in _JETS if name in names):
        for one, other in zip(first[name].jets, last[name].jets, strict=True):
            unsteady = _with_jet(total, unsteady, one, other, weights, np.float32(getattr(flow, name)))
    return total, _stirred(total, unsteady)


def _stirred(total: Floats, unsteady: Floats) -> Floats:
    """Return the fluctuation of blood with that which all blood has."""
    still = STIRRED_MM_S + STIRRED_SHARE * np.sqrt((total**2).sum(axis=0))
    return np.asarray(np.sqrt(unsteady**2 + still**2))


def _with_jet(
    total: Floats, unsteady: Floats, one: JetField, other: JetField, weights: tuple[Any, Any], strength: Any
) -> Floats:
    """Lay a jet over what flows, in place; return the fluctuation. See `blood_velocity`."""
    strength = np.maximum(strength, np.float32(0.0))  # a jet has no way back
    if not strength.any():
        return unsteady
    early, late = weights[0] * strength, weights[1] * strength
    if one.drawn is not None and other.drawn is not None:
        total += early * one.drawn + late * other.drawn
    speed = early * one.speed + late * other.speed
    wins = speed > np.sqrt((total**2).sum(axis=0))
    if wins.any():
        along = weights[0] * one.direction + weights[1] * other.direction
        total[:, wins] = (speed * along)[:, wins]
    return np.asarray(np.maximum(unsteady, early * one.unsteady + late * other.unsteady))
