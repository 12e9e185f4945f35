"""Tissue beyond the near field is seen, however much of it hides; bands, streaks, noise and marks are no tissue."""

import numpy as np
import pytest

from fanlight.recognise.lasting_structure import lasting_structure

FRAMES, DEPTHS, BEAMS = 8, 160, 96


def _air(rng, noise=6.0):
    """Bands that fade, streaks of single elements, noise that is another in each frame."""
    depth = np.linspace(0.0, 1.0, DEPTHS)[None, :, None]
    bands = 120.0 * np.exp(-depth / 0.2) * (0.6 + 0.4 * np.cos(2 * np.pi * depth / 0.045))
    streaks = rng.uniform(0.0, 12.0, (1, 1, BEAMS))
    return (bands + streaks + np.abs(rng.normal(0.0, noise, (FRAMES, DEPTHS, BEAMS)))).astype(np.float32)


def _with_wall(beams, share, level):
    """A wall that runs down slantwise within that share of the width, the rest as it was."""
    out = beams.copy()
    for beam in range(8, 8 + int(share * BEAMS)):
        out[:, 55 + beam : 75 + beam, beam] += level
    return out


@pytest.mark.parametrize("noise", [2.0, 6.0, 12.0])
def test_probe_in_air_has_none(noise):
    """However strong the noise."""
    assert lasting_structure(_air(np.random.default_rng(3), noise)) < 0.5


def test_wall_stands_out_the_more_the_brighter_it_is():
    """A graded series."""
    air = _air(np.random.default_rng(5))

    found = [lasting_structure(_with_wall(air, 0.7, level)) for level in (0.0, 10.0, 30.0, 90.0)]

    assert found == sorted(found)
    assert found[-1] > 1.5


def test_mark_of_the_console_is_no_tissue():
    """A bright mark that covers less than a quarter."""
    marked = _air(np.random.default_rng(7))
    marked[:, 80:105, 40:60] = 220.0

    assert lasting_structure(marked) < 0.5


def test_still_says_nothing():
    """In one frame, and in one frame stored many times, noise lasts as tissue does."""
    one = _with_wall(_air(np.random.default_rng(9)), 0.7, 90.0)[:1]

    assert lasting_structure(one) == 0.0
    assert lasting_structure(np.repeat(one, FRAMES, axis=0)) == 0.0
