"""Use of the depth and width of the sector, both from what beats."""

import numpy as np
import pytest

from fanlight.critique import depth_use, sector_width
from fanlight.critique.beating_map import BeatingMap, quantile_place
from fanlight.study import PictureChunk, Verdict
from tests.critique.series import finding, rises, values

HEART_ENDS_MM = (0.52 + 0.33) * 90  # centre and half height of the phantom's heart


@pytest.mark.parametrize("depth_mm", [90, 110, 140, 180, 230])
def test_depth_use_is_where_the_heart_ends(depth_mm: float) -> None:
    """Tolerance: 4 % of the displayed depth, a third of the band between borderline and missed."""
    value = finding(depth_use.FAMILY, "depth_use", depth_mm=depth_mm).value

    assert value == pytest.approx(HEART_ENDS_MM / depth_mm, abs=0.04)


def test_twice_the_depth_is_missed() -> None:
    assert finding(depth_use.FAMILY, "depth_use", depth_mm=190).verdict is Verdict.MISSED


def test_a_still_with_echo_to_the_bottom_is_not_judged() -> None:
    assert finding(depth_use.FAMILY, "depth_use", n_frames=1).verdict is Verdict.NOT_ASSESSABLE


def test_noise_alone_does_not_beat() -> None:
    """Electronic noise is new in each frame: however strong, its covariance from frame to frame is zero."""
    noise = np.random.default_rng(4).integers(0, 120, (40, 256, 128)).astype(np.uint8)
    beating = BeatingMap()
    beating.add(PictureChunk(first=0, pixels=noise, grey=noise, beams=noise))

    assert np.count_nonzero(beating.energy) < depth_use.FEWEST_CELLS / 2


def test_a_wider_sector_has_more_width_to_spare() -> None:
    assert rises(values(sector_width.FAMILY, "sector_spare_width", "width_deg", (60, 76, 92, 108, 124)))


def test_quantile_place_fills_cells_evenly() -> None:
    assert quantile_place(np.array([0.0, 1.0, 1.0, 0.0]), 0.5) == pytest.approx(0.5)
