from dataclasses import replace

import array_api_strict
import numpy as np
import pytest

from fanlight.frames.polar import to_beams
from fanlight.simulate.machine.beams import Beams, line_geometry
from fanlight.simulate.machine.console import Console, default_console
from fanlight.simulate.machine.probe import PROBES
from fanlight.simulate.machine.scan_convert import fitted_sector, scan_convert, scan_convert_array
from fanlight.study import Sector, Species

PHASED, CURVED = PROBES["phased medium"], PROBES["curved small"]


def beams_of(probe, levels, **change):
    console = replace(default_console(probe, Species.DOG, 12.0), n_samples=levels.shape[1], n_lines=levels.shape[2])
    return Beams(
        levels=levels,
        geometry=line_geometry(probe, replace(console, **change)),
        times_ms=tuple(10.0 * k for k in range(len(levels))),
        frame_rate_hz=100.0,
    )


def smooth(probe, seed=0, **change):
    """Levels that change slowly, so that a resampled picture can be compared with them."""
    rng = np.random.default_rng(seed)
    row, col = np.mgrid[0:200, 0:96]
    a, b, c = rng.uniform(0.5, 2.0, 3)
    level = 128 + 60 * np.sin(a * row / 25) + 50 * np.cos(b * col / 15 + c)
    return beams_of(probe, np.stack([level, 255 - level]).astype(np.uint8), **change)


@pytest.mark.parametrize("probe", [PHASED, CURVED], ids=["phased", "curved"])
@pytest.mark.parametrize("steer_deg", [0.0, 12.0])
def test_both_backends_agree_to_one_grey_level(probe, steer_deg):
    rng = np.random.default_rng(3)
    beams = beams_of(probe, rng.integers(0, 256, (3, 160, 64), dtype=np.uint8), steer_deg=steer_deg)
    sector = fitted_sector(beams, rows=240, cols=320)

    painted = scan_convert(beams, sector, rows=240, cols=320)
    strict = replace(beams, levels=array_api_strict.asarray(beams.levels))
    by_array = np.asarray(scan_convert_array(array_api_strict, strict, sector, rows=240, cols=320))

    difference = np.abs(painted.astype(int) - by_array.astype(int))
    assert difference.max() <= 1


@pytest.mark.parametrize("probe", [PHASED, CURVED], ids=["phased", "curved"])
@pytest.mark.parametrize("col_stretch", [1.0, 1.1])
def test_painted_picture_gives_its_beams_back(probe, col_stretch):
    """The screen's sector and the reader of real clips agree: what is painted is found again where it was."""
    beams = smooth(probe)
    sector = replace(fitted_sector(beams, rows=480, cols=640), col_stretch=col_stretch)

    back = to_beams(scan_convert(beams, sector, rows=480, cols=640), sector, 200, 96).astype(int)

    error = np.abs(back - beams.levels.astype(int))[:, 20:-4, 3:-3]
    assert np.median(error) <= 1
    assert np.quantile(error, 0.99) <= 4


def test_outside_the_sector_is_black():
    beams = beams_of(PHASED, np.full((1, 160, 64), 200, np.uint8))
    sector = fitted_sector(beams, rows=240, cols=320)

    painted = scan_convert(beams, sector, rows=240, cols=320)[0]

    assert painted[0].max() == 0
    assert painted[:, 0].max() == 0
    assert set(np.unique(painted)) == {0, 200}
    # area of a ring sector: half of angle · (far² - near²) (identity)
    area = np.radians(sector.width_deg) / 2 * (sector.far_px**2 - sector.near_px**2)
    assert (painted > 0).sum() == pytest.approx(area, rel=0.01)


def test_fitted_sector_is_true_to_scale_and_fits():
    beams = smooth(CURVED)
    sector = fitted_sector(beams, rows=480, cols=640, margin_px=20)
    depth, apex = beams.geometry.depth_mm, beams.geometry.apex_mm

    assert isinstance(sector, Sector)
    assert sector.near_px / sector.far_px == pytest.approx(apex / (apex + depth))
    assert sector.point(1.0, 0.5)[0] <= 460.5
    assert min(sector.point(1.0, 0.0)[1], 640 - sector.point(1.0, 1.0)[1]) >= 19.5


def test_geometry_of_a_phased_array_starts_at_the_face():
    console = Console(depth_mm=100.0, width_deg=80.0, frequency_mhz=5.0, focus_mm=60.0, steer_deg=5.0)
    lines = line_geometry(PHASED, console)

    sector = lines.on_screen(apex_row_px=10, apex_col_px=100, mm_per_px=0.25)

    assert (sector.near_px, sector.far_px) == (0.0, 400.0)
    assert (sector.left_deg, sector.right_deg) == (-35.0, 45.0)
