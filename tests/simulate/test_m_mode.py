from dataclasses import replace

import numpy as np
import pytest

from fanlight.heart.tissue import Tissue
from fanlight.simulate.machine.b_mode import render
from fanlight.simulate.machine.console import GreyMap, default_console
from fanlight.simulate.machine.m_mode import ms_per_px, render_m_mode
from fanlight.simulate.machine.probe import PROBES
from fanlight.study import Species
from tests.simulate.phantoms import DOWN, even, painted, slab, state

PROBE = PROBES["phased medium"]
CONSOLE = replace(default_console(PROBE, Species.DOG, 12.0), grey_map=GreyMap.EVEN)


def strip(scene, cursor_deg=0.0, n_columns=24, column_ms=8.0, seed=1, states=state, console=CONSOLE):
    return render_m_mode(
        scene, DOWN, PROBE, console, cursor_deg, states, np.random.default_rng(seed), n_columns=n_columns,
        column_ms=column_ms,
    )  # fmt: skip


def test_still_tissue_gives_level_stripes():
    """What does not move looks alike in all columns but for receiver noise."""
    seen = strip(even(np)).levels.astype(float)[CONSOLE.n_samples // 4 : CONSOLE.n_samples // 2]

    assert seen.std(axis=1).mean() < 0.15 * seen.std(axis=0).mean()


@pytest.mark.parametrize("line", [40, 64, 90])
def test_speckle_is_that_of_the_picture(line):
    """With the seed of the 2-D picture, the cursor on one of its lines shows that line's speckle."""
    picture = render(even(np), DOWN, PROBE, CONSOLE, [state()], np.random.default_rng(1)).levels[0]
    angle = -CONSOLE.width_deg / 2 + (line + 0.5) * CONSOLE.width_deg / CONSOLE.n_lines
    rows = slice(CONSOLE.n_samples // 3, int(0.7 * CONSOLE.n_samples))

    column = strip(even(np), cursor_deg=angle, n_columns=2).levels[rows, 0].astype(float)

    assert np.corrcoef(column, picture[rows, line])[0, 1] > 0.97
    assert abs(np.corrcoef(column, picture[rows, line + 12])[0, 1]) < 0.4


def test_moving_border_draws_its_course():
    """A wall that swings 4 mm draws that course; each column shows the border where it was at its time."""
    at = lambda time_ms: 50.0 + 4.0 * np.sin(2 * np.pi * time_ms / 400)  # noqa: E731

    def scene_at(time_ms):
        return painted(np, [(Tissue.SEPTUM, slab(at(time_ms), 400))], Tissue.LV_CAVITY)

    class Moving:
        still = None

        @staticmethod
        def moving(now, x, y, z):
            return scene_at(now.time_ms).moving(now, x, y, z)

    seen = strip(Moving(), n_columns=50, states=lambda time_ms: state(time_ms))
    level = seen.levels.astype(float)
    depth = np.arange(CONSOLE.n_samples + 1) * CONSOLE.sample_mm
    total = np.cumsum(np.concatenate([np.zeros((1, 50)), level]), axis=0)
    span = int(3 / CONSOLE.sample_mm)
    rise = total[2 * span :] - 2 * total[span:-span] + total[: -2 * span]  # 3 mm below against 3 mm above
    found = depth[span + np.argmax(rise, axis=0)]

    # in a single line a dark grain of speckle at the border can hide a millimetre of muscle
    assert np.median(np.abs(found - [at(t) for t in seen.times_ms])) < 0.6
    assert np.abs(found - [at(t) for t in seen.times_ms]).max() < 1.5
    assert np.corrcoef(found, [at(t) for t in seen.times_ms])[0, 1] > 0.98


def test_columns_stand_for_their_times():
    seen = strip(even(np), n_columns=10, column_ms=5.0)

    assert seen.levels.shape == (CONSOLE.n_samples, 10)
    assert seen.levels.dtype == np.uint8
    assert seen.times_ms == pytest.approx([2.5 + 5.0 * k for k in range(10)])


@pytest.mark.parametrize(
    ("sweep_mm_s", "px_per_mm", "expected_ms"),
    [
        # a sweep of 50 mm/s shows 20 ms a millimetre (definition)
        pytest.param(50.0, 1.0, 20.0, id="definition, 1 px/mm"),
        pytest.param(100.0, 4.0, 2.5, id="definition, 4 px/mm"),
    ],
)
def test_sweep_speed_sets_the_time_of_a_column(sweep_mm_s, px_per_mm, expected_ms):
    assert ms_per_px(sweep_mm_s, px_per_mm) == pytest.approx(expected_ms)


def test_cursor_outside_the_sector_is_refused_with_advice():
    with pytest.raises(ValueError, match=r"must lie in the sector, -38 to 38 degrees, got 45\.0; move it or widen"):
        strip(even(np), cursor_deg=45.0)


@pytest.mark.parametrize(("n_columns", "column_ms"), [(0, 5.0), (10, 0.0)])
def test_strip_without_columns_is_refused(n_columns, column_ms):
    with pytest.raises(ValueError, match="needs columns that last"):
        strip(even(np), n_columns=n_columns, column_ms=column_ms)


def test_sweep_that_stands_still_is_refused():
    with pytest.raises(ValueError, match="got 0 mm/s"):
        ms_per_px(0, 4)
