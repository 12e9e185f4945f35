"""Colours are looked up on the bar as the definition says: the nearest one counts, to the last bit."""

from __future__ import annotations

import numpy as np
import pytest

from fanlight.frames.doppler.colour_bar import ColourBar
from fanlight.frames.doppler.colour_velocity import MOST_APART_LEVELS, colour_places, colour_tables, velocity_shares
from fanlight.study import Box

RGB = tuple[int, int, int]
COLOURS: tuple[RGB, ...] = ((250, 200, 4), (200, 40, 4), (110, 8, 4), (4, 8, 110), (4, 40, 200), (4, 200, 250))
SHARES = (1.0, 0.6, 0.2, -0.2, -0.6, -1.0)


def bar(scatter: tuple[float, ...] | None = None) -> ColourBar:
    return ColourBar(
        box=Box(row0=0, col0=0, row1=len(COLOURS), col1=1), zero_row_px=3.0,
        colours=np.array(COLOURS, np.uint8), shares=np.array(SHARES, np.float32),
        scatter=None if scatter is None else np.array(scatter, np.float32),
    )  # fmt: skip


def nearest(place: int) -> int | None:
    """Return which colour of the bar is nearest to the middle of a step, by distances written out; None: none is."""
    asked = [((place >> shift) & 31) * 8 + 4 for shift in (10, 5, 0)]
    if max(asked) - min(asked) < 37:  # grey
        return None
    apart = [sum((a - (c >> 2 << 2) - 2) ** 2 for a, c in zip(asked, colour, strict=True)) for colour in COLOURS]
    best = apart.index(min(apart))
    return best if apart[best] <= MOST_APART_LEVELS**2 else None


def test_each_colour_has_the_value_of_the_nearest_on_the_bar() -> None:
    shares, scatter = colour_tables(bar((0.0, 0.0, 0.5, 0.5, 1.0, 1.0)))
    assert scatter is not None
    places = np.random.default_rng(3).integers(0, 32**3, 3000)
    wanted = [nearest(int(place)) for place in places]
    assert 300 < sum(found is not None for found in wanted) < 2700
    for table, values in ((shares, SHARES), (scatter, (0.0, 0.0, 0.5, 0.5, 1.0, 1.0))):
        expected = np.array([np.nan if found is None else values[found] for found in wanted], np.float32)
        assert np.array_equal(table.reshape(-1)[places], expected, equal_nan=True)


def test_a_bar_without_a_tint_has_no_second_table() -> None:
    assert colour_tables(bar())[1] is None


@pytest.mark.parametrize("rgb", [(0, 0, 0), (255, 255, 255), (7, 8, 15), (200, 40, 4)])
def test_the_place_of_a_colour_is_its_upper_five_bits(rgb: RGB) -> None:
    frame = np.array(rgb, np.uint8).reshape(1, 1, 1, 3)
    assert colour_places(frame).item() == (rgb[0] >> 3) * 1024 + (rgb[1] >> 3) * 32 + (rgb[2] >> 3)


def test_grey_has_no_velocity_and_colours_of_the_bar_have_theirs() -> None:
    frame = np.array([*COLOURS, (128, 128, 128)], np.uint8).reshape(1, 1, -1, 3)
    found = velocity_shares(frame, colour_tables(bar())[0])
    assert np.array_equal(found.ravel(), np.array([*SHARES, np.nan], np.float32), equal_nan=True)
