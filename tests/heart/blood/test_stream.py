"""A stream keeps its volume: what passes one cross-section passes the next, however wide it is."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.heart.blood.stream import BLUNT, Knot, Stream, through, velocity_in
from fanlight.heart.tissue import Tissue

FLOW = 200_000.0  # mm³/s
Floats = NDArray[np.float64]


def funnel() -> Stream:
    return through(
        (
            Knot(at=(0.0, 0.0, 0.0), radius_mm=10.0), Knot(at=(10.0, 0.0, 0.0), radius_mm=10.0),
            Knot(at=(30.0, 0.0, 0.0), radius_mm=5.0), Knot(at=(50.0, 0.0, 0.0), radius_mm=5.0),
        ),
        FLOW, (Tissue.AORTA,),
    )  # fmt: skip


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
