"""A stream keeps its volume: what passes one cross-section passes the next, however wide it is."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.heart.blood.stream import BLUNT, Knot, Stream, centre_lines, drawn, through, velocities_in, velocity_in
from fanlight.heart.tissue import Tissue

FLOW = 200_000.0  # mm³/s
Floats = NDArray[np.float64]


FUNNEL = (
    Knot(at=(0.0, 0.0, 0.0), radius_mm=10.0), Knot(at=(10.0, 0.0, 0.0), radius_mm=10.0),
    Knot(at=(30.0, 0.0, 0.0), radius_mm=5.0), Knot(at=(50.0, 0.0, 0.0), radius_mm=5.0),
)  # fmt: skip


def funnel() -> Stream:
    return drawn([through(FUNNEL, FLOW, (Tissue.AORTA,))])[0]


def test_lines_drawn_together_are_those_drawn_alone() -> None:
    """Bit for bit, of any number of knots; each begins and ends in its own, and points downstream."""
    rng = np.random.default_rng(6)
    lines = [
        tuple(
            Knot(at=(float(x), float(y), float(z)), radius_mm=float(r), share=float(s), rounded=float(s))
            for x, y, z, r, s in rng.uniform(0.1, 60.0, (n, 5))
        )
        for n in (2, 5, 3, 2, 7)
    ]
    for knots, together in zip(lines, centre_lines(lines), strict=True):
        for many, one in zip(together, centre_lines([knots])[0], strict=True):
            assert np.array_equal(many, one)
        line, along, carried = together
        assert np.array_equal(line[[0, -1]], [knots[0].at, knots[-1].at])
        assert carried[0, 0] == knots[0].radius_mm
        assert carried[-1, 0] == knots[-1].radius_mm
        assert np.linalg.norm(along, axis=1) == pytest.approx(1.0)
        assert ((line[1:] - line[:-1]) * (along[1:] + along[:-1])).sum(axis=1).min() > 0


def test_a_straight_line_has_a_point_every_two_millimetres() -> None:
    line, along, carried = centre_lines([FUNNEL])[0]
    assert len(line) == 26
    # The spline hastens where knots lie far apart.
    assert line[:, 0] == pytest.approx(np.arange(0.0, 51.0, 2.0), abs=1.0)
    assert along[:, 0] == pytest.approx(1.0)
    assert carried[5, 0] == 10.0  # at the second knot


def test_velocities_of_many_points_are_those_of_each_piece() -> None:
    """Points beyond what is worked out at once are worked out piece by piece."""
    at = [disc(15.0 + k, 9.0, 3000) for k in range(7)]
    together = velocities_in([(funnel(), p) for p in at], np)
    for many, p in zip(together, at, strict=True):
        for one, other in zip(many, velocity_in(funnel(), p, np), strict=True):
            assert np.array_equal(one, other)


def disc(at: float, radius_mm: float, n: int = 400) -> tuple[Floats, Floats, Floats]:
    """Points spread evenly over a disc across the first axis (golden angle)."""
    k = np.arange(n) + 0.5
    rho, turn = radius_mm * np.sqrt(k / n), k * math.pi * (3.0 - math.sqrt(5.0))
    return np.full(n, at, np.float32), (rho * np.cos(turn)).astype(np.float32), (rho * np.sin(turn)).astype(np.float32)


def point(x: float, y: float, z: float) -> tuple[Floats, Floats, Floats]:
    return np.asarray([x], np.float32), np.asarray([y], np.float32), np.asarray([z], np.float32)


@pytest.mark.parametrize("at", [6.0, 15.0, 20.0, 25.0, 40.0])
def test_flux_is_the_same_everywhere(at: float) -> None:
    reach = 11.0
    along, _, _ = velocity_in(funnel(), disc(at, reach, 4000), np)
    assert float(np.mean(along)) * math.pi * reach**2 == pytest.approx(FLOW, rel=0.04)


def test_speed_is_flow_over_cross_section() -> None:
    along, *_ = velocity_in(funnel(), point(45.0, 0.0, 0.0), np)
    assert along[0] == pytest.approx(FLOW / (math.pi * 25.0) * (BLUNT + 2.0) / BLUNT, rel=1e-3)


def test_field_has_no_sources_inside() -> None:
    # divergence by differences, against the size of the slopes themselves
    rng = np.random.default_rng(5)
    at = np.stack([rng.uniform(14.0, 26.0, 300), rng.uniform(-3.0, 3.0, 300), rng.uniform(-3.0, 3.0, 300)])
    step, divergence, slope = 0.4, 0.0, 0.0
    for axis in range(3):
        ahead, behind = at.copy(), at.copy()
        ahead[axis] += step
        behind[axis] -= step
        there, here = (velocity_in(funnel(), tuple(v.astype(np.float32) for v in p), np)[axis] for p in (ahead, behind))
        change = (there - here) / (2.0 * step)
        divergence, slope = divergence + change, slope + np.abs(change)
    assert np.median(np.abs(divergence)) < 0.15 * np.median(slope)


def test_nothing_flows_outside() -> None:
    for outside in (point(45.0, 8.0, 0.0), point(70.0, 0.0, 0.0)):
        assert all(float(part[0]) == 0.0 for part in velocity_in(funnel(), outside, np))
