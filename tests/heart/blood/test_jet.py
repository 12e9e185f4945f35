"""Jets behave as round turbulent jets do, and draw blood in from all sides before the opening."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fanlight.heart.blood.jet import Jet, drawn_in, jet_at
from fanlight.heart.tissue import Tissue

JET = Jet(
    origin=(0.0, 0.0, 0.0), direction=(1.0, 0.0, 0.0), orifice_mm2=math.pi, speed_mm_s=5000.0,
    before=(Tissue.LV_CAVITY,), behind=(Tissue.LA_CAVITY,),
)  # fmt: skip


def points(*rows: tuple[float, float, float]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    return tuple(np.asarray([row[i] for row in rows], np.float32) for i in range(3))  # type: ignore[return-value]


def test_core_keeps_its_speed_and_then_it_falls_with_distance() -> None:
    d = JET.diameter_mm
    speed, _ = jet_at(JET, points((2.0 * d, 0, 0), (11.6 * d, 0, 0), (23.2 * d, 0, 0)), np)
    assert speed[0] == pytest.approx(5000.0, rel=0.01)
    # centre-line law U = 5.8 d / x · U0 (Pope 2000, section 5.1, from memory): half, a quarter
    assert speed[1] == pytest.approx(2500.0, rel=0.01)
    assert speed[2] == pytest.approx(1250.0, rel=0.01)


def test_it_widens_by_a_tenth_of_its_way() -> None:
    x = 30.0
    half = 0.094 * x
    speed, _ = jet_at(JET, points((x, 0, 0), (x, half, 0)), np)
    assert speed[1] / speed[0] == pytest.approx(0.5, abs=0.01)


def test_momentum_far_away_is_that_of_the_opening() -> None:
    # a free jet keeps its momentum: the integral of u² over the cross-section (physics); the laws above keep it to 15 %
    rho = np.linspace(0.0, 40.0, 4000, dtype=np.float32)
    for x in (20.0, 40.0):
        speed, _ = jet_at(JET, (np.full_like(rho, x), rho, np.zeros_like(rho)), np)
        flux = float(np.trapezoid(speed.astype(float) ** 2 * 2.0 * math.pi * rho, rho))
        assert flux == pytest.approx(5000.0**2 * JET.orifice_mm2, rel=0.2)


def test_flow_towards_it_passes_every_half_sphere() -> None:
    for radius in (3.0, 6.0):
        towards = drawn_in(JET, points((-radius, 0, 0)), np)[0][0]
        assert towards * 2.0 * math.pi * radius**2 == pytest.approx(JET.speed_mm_s * JET.orifice_mm2, rel=0.01)


def test_sides_are_kept_apart() -> None:
    assert jet_at(JET, points((-1.0, 0, 0)), np)[0][0] == 0.0
    assert all(part[0] == 0.0 for part in drawn_in(JET, points((1.0, 0.0, 0.0)), np))
