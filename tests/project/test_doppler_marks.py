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


def _exact(bench: Bench, item: Wanted) -> dict[str, tuple[float, float]]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("measure._doppler_marks.HAND_MM", 0.0)
        return _points(_marks(bench, item))


def test_without_the_hands_error_the_hinges_span_the_ring() -> None:
    """The picture cuts the ring off its middle and at another moment than its narrowest: 0.7 to 1.4 of its width."""
    bench, wanted = _subject()
    item = next(item for item in wanted if item.clip.doppler.valve in HINGES)
    valve, placed = item.clip.doppler.valve, _placed(bench, item.clip)
    assert placed is not None
    points = _exact(bench, item)
    first, second = (points[name.name] for name in HINGES[valve])
    seen_mm = math.dist(first, second) * placed.mm_per_px
    assert 1.4 < seen_mm / bench.flow.valve(valve, item.clip.doppler.sought).radius_mm < 2.8


def test_a_hand_errs_by_as_much_as_it_says() -> None:
    """Of n errors in a plane the mean square lies within 1 ± 4 / sqrt(n) of the stated one but once in thousands."""
    bench, wanted = _subject()
    squares = []
    for item in wanted:
        placed = _placed(bench, item.clip)
        assert placed is not None
        drawn, exact = _points(_marks(bench, item)), _exact(bench, item)
        assert set(drawn) == set(exact) <= set(Landmark.__members__)
        squares += [(math.dist(drawn[name], exact[name]) * placed.mm_per_px / HAND_MM) ** 2 for name in exact]
    assert len(squares) >= 6
    assert float(np.mean(squares)) == pytest.approx(1.0, abs=4 / math.sqrt(len(squares)))
    assert float(np.mean(squares)) > 0.3
