"""A mosaic is told from one stream that wraps as a whole, on drawn velocities."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.frames.doppler.colour_velocity import mosaic_share, wrapped_borders

SIDE = 200


def stream(speed: NDArray[np.float64]) -> NDArray[np.float32]:
    """Speeds over the end of the scale, wrapped into it: (v + 1) mod 2 - 1."""
    return ((speed + 1.0) % 2.0 - 1.0).astype(np.float32)


def profile(peak: float) -> NDArray[np.float64]:
    across = np.linspace(-1.0, 1.0, SIDE)[:, None]
    return np.repeat(peak * (1.0 - across**2), SIDE, axis=1)


def share_of(shares: NDArray[np.float32]) -> float:
    whole = np.ones((SIDE, SIDE), np.bool_)
    return mosaic_share(shares, whole, wrapped_borders(shares), SIDE * SIDE)


def test_a_stream_that_wraps_as_a_whole_is_no_mosaic() -> None:
    assert share_of(stream(profile(1.4))) < 0.1
    assert share_of(stream(profile(0.8))) == 0.0


@pytest.mark.parametrize("spread", [0.8, 1.5])
def test_many_speeds_side_by_side_are_one(spread: float) -> None:
    rng = np.random.default_rng(5)
    pieces = rng.normal(0.0, spread, (SIDE // 5, SIDE // 5)).repeat(5, axis=0).repeat(5, axis=1)
    assert share_of(stream(profile(4.0) * 0.25 + pieces)) > 0.3
