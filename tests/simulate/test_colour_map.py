"""Colour maps: direction, darkness at rest, even steps, the tint of scattered flow."""

import numpy as np
import pytest

from fanlight.simulate.colour.colour_map import _TO_CONES, _TO_LAB, COLOUR_MAPS, N_VELOCITIES, colour_table

EVERY = sorted(COLOUR_MAPS)


def light(rgb):
    """Luma, ITU-R BT.601."""
    return rgb @ np.array([0.299, 0.587, 0.114])


def test_the_space_has_white_at_lightness_one():
    """Oklab (Ottosson 2020): white is (1, 0, 0), by definition."""
    assert np.allclose(_TO_LAB @ np.cbrt(_TO_CONES @ np.ones(3)), [1, 0, 0], atol=1e-3)


@pytest.mark.parametrize("key", EVERY)
def test_red_comes_blue_goes_and_rest_is_dark(key):
    """Red towards the probe, blue away: convention of the trade (common practice, no source)."""
    calm = colour_table(key)[0].astype(int)
    middle = N_VELOCITIES // 2

    assert calm.shape == (N_VELOCITIES, 3)
    away, towards = calm[middle // 2], calm[middle + middle // 2]
    assert towards[0] > towards[2] + 100
    assert away[2] > away[0] + 100
    assert light(calm[middle]) < 30
    assert (np.diff(light(calm[middle:])) >= -1.5).all()  # ever brighter towards the ends
    assert (np.diff(light(calm[:middle])) <= 1.5).all()
    assert np.abs(np.diff(calm, axis=0))[:, :].max() < 40  # no step in the map but the colour of direction at rest


@pytest.mark.parametrize("key", EVERY)
def test_inverting_swaps_the_directions(key):
    plain, inverted = colour_table(key)[0].astype(int), colour_table(key, 0.0, True)[0].astype(int)

    assert np.abs(plain - inverted[::-1]).max() <= 1


def test_a_shifted_baseline_moves_rest_and_keeps_the_ends():
    plain, shifted = colour_table("ember")[0], colour_table("ember", 0.5)[0]

    # a shift by half of the scale leaves a quarter of the range below rest
    assert abs(int(np.argmin(light(shifted))) - N_VELOCITIES // 4) <= 1
    assert np.abs(plain[-1].astype(int) - shifted[-1]).max() < 12


def test_only_maps_with_a_tint_show_scatter():
    plain, tinted = colour_table("ember").astype(int), colour_table("ember scattered").astype(int)

    assert (plain == plain[0]).all()
    greener = tinted[-1, :, 1] - tinted[-1, :, 0], tinted[0, :, 1] - tinted[0, :, 0]
    assert (greener[0] > greener[1]).mean() > 0.9
    assert (tinted[:3] == tinted[0]).all()  # laminar flow has no tint


def test_all_maps_are_unlike():
    tables = [colour_table(key).astype(int) for key in EVERY]

    assert len(tables) >= 3
    for index, table in enumerate(tables):
        assert all(np.abs(table - other).mean() > 3 for other in tables[:index])
