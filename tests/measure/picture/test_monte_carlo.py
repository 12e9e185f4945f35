"""The stated error of each value is the spread of values when points and scale are drawn anew (numpy)."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from fanlight.measure.picture.obliquity import drawn_out
from fanlight.measure.picture.placed import PIXEL_PX, Points, carried, moved_out
from fanlight.measure.picture.ventricle import area_length_ml, axis_length, discs_ml
from fanlight.measure.shapes import SQUARE, Pixel, distance

N = 4000
SD_PX = 1.5
PIXEL = Pixel(down=0.3, across=0.3)
BORDER = tuple(
    (100 + 170 * math.cos(t), 300 + 55 * math.sin(t)) for t in np.linspace(-math.pi / 2, math.pi / 2, 25)
)  # fmt: skip
CASES: dict[str, tuple[Callable[[Points], float], Points, float]] = {
    "a length": (lambda p: distance(p[0], p[1], PIXEL), ((100.0, 100.0), (160.0, 180.0)), 0.0),
    "a ratio": (
        lambda p: distance(p[0], p[1], PIXEL) / distance(p[2], p[3], PIXEL),
        ((100.0, 100.0), (180.0, 190.0), (90.0, 90.0), (60.0, 40.0)), 0.0,
    ),
    "the ventricle's length": (lambda p: axis_length(p, PIXEL), ((0.0, 0.0), (0.0, 80.0), (180.0, 90.0)), 0.0),
    "discs": (lambda p: discs_ml(p, PIXEL), BORDER, 1.0),
    "area and length": (lambda p: area_length_ml(p, PIXEL), BORDER, 1.0),
    "roundness": (
        lambda p: drawn_out(p, SQUARE), ((100.0, 130.0), (135.0, 75.0), (65.0, 75.0)), 0.0,
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_the_carried_error_is_the_spread_of_drawn_values(name: str) -> None:
    value, points, common = CASES[name]
    rng = np.random.default_rng(7)
    sd = math.hypot(SD_PX, PIXEL_PX)
    drawn = [
        value(moved_out(_off(points, rng, sd), float(rng.normal(0, common))) if common else _off(points, rng, sd))
        for _ in range(N)
    ]
    stated = carried(value, points, [SD_PX] * len(points), common_px=common)

    # A tenth: what derivatives at one point leave out of a spread, and what 4000 draws leave open (1.1 %).
    assert stated == pytest.approx(float(np.std(drawn)), rel=0.10)


def _off(points: Points, rng: np.random.Generator, sd: float) -> Points:
    return tuple((float(row), float(col)) for row, col in np.array(points) + rng.normal(0, sd, (len(points), 2)))
