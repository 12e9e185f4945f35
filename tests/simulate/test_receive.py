from dataclasses import replace

import numpy as np
import pytest

from fanlight.simulate.console import Console, GreyMap
from fanlight.simulate.receive import curve, depth_gain_db, slider_db

CONSOLE = Console(depth_mm=80.0, width_deg=75.0, frequency_mhz=5.0, focus_mm=50.0)


@pytest.mark.parametrize("grey_map", list(GreyMap))
def test_grey_curve_keeps_black_and_white_and_never_falls(grey_map):
    grey = np.linspace(0.0, 1.0, 101)
    out = curve(np, grey_map, grey)

    assert out[0] == 0
    assert out[-1] == pytest.approx(1.0)
    assert np.all(np.diff(out) > 0)


def test_curves_differ_where_the_weak_echoes_lie():
    soft, even, steep = (
        float(curve(np, kind, np.asarray(0.3))) for kind in (GreyMap.SOFT, GreyMap.EVEN, GreyMap.STEEP)
    )

    assert soft > even + 0.05
    assert steep < even - 0.05


def test_slider_is_exact_at_the_middle_of_its_part_and_straight_between():
    console = replace(CONSOLE, tgc_db=(0, 0, 4.0, 0, 0, 0, 0, -8.0))

    assert slider_db(console, np.asarray([25.0, 30.0, 35.0, 75.0, 80.0])) == pytest.approx([4.0, 2.0, 0.0, -8.0, -8.0])


def test_depth_gain_grows_with_depth_and_frequency():
    """0.4 dB/cm/MHz there and back: 5 MHz, 8 cm: 32 dB."""
    assert float(depth_gain_db(CONSOLE, np.asarray(80.0))) == pytest.approx(32.0)
