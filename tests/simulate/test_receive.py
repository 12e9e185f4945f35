from dataclasses import replace

import numpy as np
import pytest

from fanlight.simulate.machine.console import Console, GreyMap
from fanlight.simulate.machine.contact import Contact
from fanlight.simulate.machine.probe import PROBES
from fanlight.simulate.machine.receive import clutter_db, curve, depth_gain_db, slider_db, time_gain_db

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


def test_amplifier_ends_where_depth_gain_and_sliders_reach_its_most():
    """At 10 MHz 8 dB a centimetre: 60 dB are reached at 7.5 cm, and sliders add nothing there."""
    deep = replace(CONSOLE, depth_mm=160.0, frequency_mhz=10.0, tgc_db=(0, 0, 0, 0, 0, 0, 0, 12.0))
    gain = time_gain_db(deep, np.asarray([50.0, 80.0, 100.0, 150.0]))

    assert gain == pytest.approx([40.0, 60.0, 60.0, 60.0])
    assert time_gain_db(replace(deep, depth_gain_most_db=50.0), np.asarray(150.0)) == pytest.approx(50.0)


def test_near_field_haze_fades_with_depth_and_follows_contact_and_harmonics():
    probe, depth = PROBES["phased medium"], np.asarray([5.0, 15.0, 25.0])
    plain = clutter_db(probe, CONSOLE, Contact(), depth)
    poor = clutter_db(probe, CONSOLE, Contact(reverberation_db=12.0), depth)
    harmonic = clutter_db(probe, replace(CONSOLE, is_harmonic=True, frequency_mhz=2.5), Contact(), depth)

    assert np.all(np.diff(plain) < 0)
    assert poor - plain == pytest.approx([12.0] * 3)
    assert np.all(plain - harmonic >= 10)  # harmonics take 10 to 15 dB off at least (common practice, no source)
