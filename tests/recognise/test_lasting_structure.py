"""Tissue beyond the near field is seen, however much of it hides; bands, streaks, noise and marks are no tissue."""

from itertools import pairwise

import numpy as np
import pytest

from fanlight.recognise.lasting_structure import lasting_structure

FRAMES, DEPTHS, BEAMS = 8, 160, 96
BEFORE = 30  # frames, until persistence has settled


def _air(rng, noise=6.0, persistence=0.0):
    """Bands that fade, streaks of single elements, noise that is another in each frame but for what persists of it."""
    depth = np.linspace(0.0, 1.0, DEPTHS)[None, :, None]
    bands = 120.0 * np.exp(-depth / 0.2) * (0.6 + 0.4 * np.cos(2 * np.pi * depth / 0.045))
    streaks = rng.uniform(0.0, 12.0, (1, 1, BEAMS))
    fresh = np.abs(rng.normal(0.0, noise, (BEFORE + FRAMES if persistence else FRAMES, DEPTHS, BEAMS)))
    for before, frame in pairwise(fresh):  # a share of the frame before stays
        frame[:] = persistence * before + (1 - persistence) * frame
    return (bands + streaks + fresh[-FRAMES:]).astype(np.float32)


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


LOUD = 60.0  # far more noise than machines show: what hides in less than 0.5 grey levels stands out


@pytest.mark.parametrize(
    "order", [[0, 0, 1, 1, 2, 2, 3, 3], [0, 0, 0, 0, 1, 1, 1, 1], [0, 1, 0, 1, 0, 1, 0, 1], [0] * 8]
)
def test_noise_stored_twice_is_no_tissue(order):
    """In pairs, in fours, over and over."""
    for noise in (6.0, LOUD):
        assert lasting_structure(_air(np.random.default_rng(11), noise)[order]) == 0.0


def test_noise_stored_twice_by_a_lossy_way_is_no_tissue():
    """Pairs that differ by a grey level here and there."""
    rng = np.random.default_rng(12)
    pairs = np.repeat(_air(rng, LOUD)[:4], 2, axis=0) + rng.integers(-1, 2, (FRAMES, DEPTHS, BEAMS))

    assert lasting_structure(pairs.astype(np.float32)) == 0.0


@pytest.mark.parametrize("persistence", [0.3, 0.5, 0.7, 0.8, 0.85])
def test_noise_that_persists_is_no_tissue(persistence):
    """A graded series of the machine's persistence."""
    assert lasting_structure(_air(np.random.default_rng(13), LOUD, persistence)) == 0.0


@pytest.mark.parametrize("order", [[0, 0, 1, 1, 2, 2, 3, 3], [0, 1, 0, 1, 0, 1, 0, 1]])
def test_wall_stored_twice_stands_out_all_the_same(order):
    """As much as in the frames once."""
    clip = _with_wall(_air(np.random.default_rng(5)), 0.7, 90.0)

    assert lasting_structure(clip[order]) == pytest.approx(lasting_structure(clip), abs=0.3)


def test_wall_that_moves_stands_out():
    """Up and down by a few samples, as the heart moves it."""
    air = _air(np.random.default_rng(15))
    moving = np.stack([np.roll(_with_wall(air, 0.7, 90.0)[k], round(4 * np.sin(k)), axis=0) for k in range(FRAMES)])

    assert lasting_structure(moving) > 1.5
