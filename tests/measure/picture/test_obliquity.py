"""How much an oblique plane can do: formulas against sections that numpy cuts."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fanlight.measure.picture.obliquity import (
    drawn_out,
    length_shortfall,
    tilt_of_tube_deg,
    tube_excess,
    width_shortfall,
)
from fanlight.measure.shapes import SQUARE, Pixel


@pytest.mark.parametrize("tilt_deg", [0.0, 10.0, 20.0, 30.0])
def test_the_length_in_a_tilted_plane_is_that_of_a_cut_ellipsoid(tilt_deg: float) -> None:
    """A ray from the centre of x²/k² + y² = 1 in the tilted direction ends where the section does."""
    k, tilt = 1.9, math.radians(tilt_deg)
    ways = np.linspace(0, 1.2 * k, 200_001)
    inside = (ways * math.cos(tilt) / k) ** 2 + (ways * math.sin(tilt)) ** 2 <= 1

    assert k * (1 - length_shortfall(tilt_deg, k)) == pytest.approx(ways[inside].max(), abs=1e-4)


def test_a_cut_beside_the_axis_is_narrower() -> None:
    assert 2 * (1 - width_shortfall(0.6)) == pytest.approx(2 * 0.8)  # chord of a circle: 3-4-5


@pytest.mark.parametrize("tilt_deg", [0.0, 12.0, 30.0, 50.0])
@pytest.mark.parametrize("turn_deg", [0.0, 37.0, 90.0])
def test_three_commissures_tell_how_far_a_tube_is_cut_off(tilt_deg: float, turn_deg: float) -> None:
    """Points of a circle in space, thrown along the tube onto the tilted plane, lie on an ellipse."""
    turn, tilt = math.radians(turn_deg), math.radians(tilt_deg)
    ends = [(math.cos(turn + k * 2 * math.pi / 3), math.sin(turn + k * 2 * math.pi / 3)) for k in range(3)]
    seen = [(down / math.cos(tilt), across) for down, across in ends]
    roundness = drawn_out(seen, SQUARE)

    assert roundness == pytest.approx(math.cos(tilt))
    assert tilt_of_tube_deg(min(roundness, 1.0)) == pytest.approx(tilt_deg, abs=1e-5)
    assert 1 / roundness - 1 == pytest.approx(tube_excess(tilt_deg))


def test_pixels_that_are_not_square_draw_nothing_out() -> None:
    ends = [(10 * math.cos(k * 2.0944), 10 * math.sin(k * 2.0944) / 2) for k in range(3)]
    assert drawn_out(ends, Pixel(down=1.0, across=2.0)) == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize(
    "call", [lambda: tube_excess(90.0), lambda: width_shortfall(1.0), lambda: tilt_of_tube_deg(0.0)]
)
def test_what_no_plane_can_be_is_refused(call: object) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match="must"):
        call()
