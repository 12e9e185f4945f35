"""What the colour families reckon with: parts of a mask by their size, and a percentile of many speeds."""

from __future__ import annotations

import numpy as np
import pytest

from fanlight.critique.doppler.colour_frames import small_parts
from fanlight.critique.doppler.colour_scale import percentile


def test_parts_up_to_a_size_are_small_and_corners_join_them() -> None:
    mask = np.zeros((20, 30), np.bool_)
    mask[2:4, 2:4] = mask[4, 4] = True  # 5, joined at a corner
    mask[10:16, 10:16] = True  # 36
    mask[0, 29] = True  # 1, in the corner of the picture
    small = small_parts(mask, 5)
    assert np.array_equal(small, mask & (np.add.outer(np.arange(20), np.zeros(30)) < 9))
    assert not small_parts(mask, 0.5).any()
    assert np.array_equal(small_parts(mask, 36), mask)


def test_of_an_empty_mask_nothing_is_small() -> None:
    assert not small_parts(np.zeros((5, 5), np.bool_), 100).any()


@pytest.mark.parametrize("percent", [0.0, 50.0, 90.0, 99.0, 100.0])
@pytest.mark.parametrize("n", [1, 2, 80, 81, 1000, 4321])
def test_the_percentile_is_that_of_the_library(n: int, percent: float) -> None:
    rng = np.random.default_rng(n)
    for values in (rng.uniform(0, 1, n).astype(np.float32), rng.integers(0, 9, n).astype(np.float32) / np.float32(8)):
        expected = float(np.percentile(values, percent))
        assert percentile(values, percent) == pytest.approx(expected, abs=1e-6)  # a float32 holds seven digits
