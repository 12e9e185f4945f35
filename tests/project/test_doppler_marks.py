"""The marks of a mentor on simulated Doppler clips, against where the model has the places."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import pytest

from fanlight.critique.doppler.guide import FLOW_AXIS, marked_axis
from fanlight.critique.doppler.valve_plane import HINGES, ValvePlane, valve_plane
from fanlight.simulate.clip.ring import Ring
from fanlight.study import DrawnMark, Landmark, MarkKind
from measure._doppler_bench import Bench, Wanted, draw_bench, rungs_of
from measure._doppler_marks import HAND_MM, _marks, _placed

SEED = 1  # colour of the tricuspid, pulsed wave of the pulmonic, continuous wave of the mitral valve


@lru_cache(maxsize=1)
def _subject() -> tuple[Bench, tuple[Wanted, ...]]:
    bench = draw_bench(SEED, Ring.A)
    return bench, tuple(Wanted(rung=rung, clip=rung.steady, fault=None) for rung in rungs_of(bench))


def _points(marks: tuple[DrawnMark, ...]) -> dict[str, tuple[float, float]]:
    return {mark.landmark: mark.points[0] for mark in marks if mark.kind is MarkKind.POINT}


@pytest.mark.parametrize("index", range(3))
def test_each_clip_has_a_plane_and_a_stream(index: int) -> None:
    bench, wanted = _subject()
    marks, valve = _marks(bench, wanted[index]), wanted[index].clip.doppler.valve
    plane = valve_plane(marks, valve)
    assert isinstance(plane, ValvePlane)
    assert plane.valve is valve
    assert marked_axis(marks, valve) is not None
    assert [mark.label for mark in marks if mark.kind is MarkKind.LINE] == [FLOW_AXIS]


def test_the_same_clip_is_marked_the_same() -> None:
    bench, wanted = _subject()
    assert _marks(bench, wanted[0]) == _marks(bench, wanted[0])


def test_the_ring_is_as_wide_as_the_models_within_the_hand() -> None:
    """Two hinges, each off by HAND_MM: their distance errs by no more than four deviations of both together."""
    bench, wanted = _subject()
    item = next(item for item in wanted if item.clip.doppler.valve in HINGES)
    valve, placed = item.clip.doppler.valve, _placed(bench, item.clip)
    assert placed is not None
    points = _points(_marks(bench, item))
    first, second = (points[name.name] for name in HINGES[valve])
    seen_mm = math.dist(first, second) * placed.mm_per_px
    radius_mm = bench.flow.valve(valve, item.clip.doppler.sought).radius_mm
    assert seen_mm < 2.4 * radius_mm + 4 * HAND_MM * math.sqrt(2)  # the ring is wider in filling than at its narrowest


def test_a_hand_errs_by_as_much_as_it_says(monkeypatch: pytest.MonkeyPatch) -> None:
    bench, wanted = _subject()
    item, placed = wanted[0], _placed(bench, wanted[0].clip)
    assert placed is not None
    drawn = _points(_marks(bench, item))
    monkeypatch.setattr("measure._doppler_marks.HAND_MM", 0.0)
    exact = _points(_marks(bench, item))
    off_mm = [math.dist(drawn[name], exact[name]) * placed.mm_per_px for name in exact]
    assert set(drawn) == set(exact) <= set(Landmark.__members__)
    assert 0.0 < float(np.sqrt(np.mean(np.square(off_mm)))) < 3 * HAND_MM
