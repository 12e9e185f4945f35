"""What colour settings imply: scale, pulses and pictures a second, and what no machine can do."""

from dataclasses import replace

import pytest

from fanlight.simulate.colour.colour_setting import (
    ColourBox,
    ColourSetting,
    check_box,
    colour_frame_rate_hz,
    default_colour,
    mirrored_setting,
    most_prf_hz,
    most_scale_m_s,
)
from fanlight.simulate.machine.console import Console, default_console
from fanlight.simulate.machine.probe import PROBES
from fanlight.study import Species

PROBE = PROBES["phased medium"]
CONSOLE = default_console(PROBE, Species.DOG, 12.0)
BOX = ColourBox(left_deg=-20.0, right_deg=20.0, near_mm=30.0, far_mm=80.0)


def setting(far_mm=80.0, n_lines=24, ensemble=8, frequency_mhz=3.0, **others):
    box = replace(BOX, far_mm=far_mm)
    scale = others.pop("scale_m_s", most_scale_m_s(far_mm, frequency_mhz))
    return ColourSetting(
        box=box, frequency_mhz=frequency_mhz, scale_m_s=scale, n_lines=n_lines, lines_per_pulse=1, ensemble=ensemble,
        **others,
    )  # fmt: skip


# Worked by hand from c = 1540 m/s: PRF = c / 2d, v = c · PRF / (4 · f).
@pytest.mark.parametrize(
    ("depth_cm", "prf_hz", "at_2", "at_3_3", "at_5", "at_7"),
    [(3, 25_667, 4.94, 2.99, 1.98, 1.41), (5, 15_400, 2.96, 1.80, 1.19, 0.85), (7, 11_000, 2.12, 1.28, 0.85, 0.60),
     (10, 7_700, 1.48, 0.90, 0.59, 0.42), (15, 5_133, 0.99, 0.60, 0.40, 0.28)],
)  # fmt: skip
def test_highest_scale_follows_depth_and_frequency(depth_cm, prf_hz, at_2, at_3_3, at_5, at_7):
    assert most_prf_hz(10.0 * depth_cm) == pytest.approx(prf_hz, abs=0.5)
    for frequency_mhz, v in ((2.0, at_2), (3.3, at_3_3), (5.0, at_5), (7.0, at_7)):
        assert most_scale_m_s(10.0 * depth_cm, frequency_mhz) == pytest.approx(v, abs=0.0051)


# c / (2d · (grey lines + colour lines · packet)), worked by hand for 96 grey lines, one pulse each.
@pytest.mark.parametrize(
    ("depth_mm", "n_lines", "ensemble", "rate_hz"),
    [(80, 24, 8, 33), (80, 64, 12, 11), (150, 24, 8, 18), (150, 64, 12, 6)],
)
def test_frame_rate_of_a_box_as_deep_as_the_picture(depth_mm, n_lines, ensemble, rate_hz):
    console = Console(
        depth_mm=depth_mm, width_deg=75.0, frequency_mhz=5.0, focus_mm=50.0, n_lines=96, lines_per_pulse=1
    )

    assert colour_frame_rate_hz(console, setting(depth_mm, n_lines, ensemble)) == pytest.approx(rate_hz, abs=0.5)


def test_frame_rate_rises_with_a_smaller_box_and_never_passes_the_time_of_flight():
    wide = setting(n_lines=48)
    few, shallow = replace(wide, n_lines=16), setting(far_mm=50.0, n_lines=48)
    slow = replace(wide, scale_m_s=wide.scale_m_s * 0.3)  # others are served while a line waits

    assert colour_frame_rate_hz(CONSOLE, few) > colour_frame_rate_hz(CONSOLE, wide)
    assert colour_frame_rate_hz(CONSOLE, shallow) > colour_frame_rate_hz(CONSOLE, wide)
    for chosen in (wide, few, slow):
        flight = 1 / CONSOLE.frame_rate_hz + chosen.n_lines * chosen.ensemble / most_prf_hz(chosen.box.far_mm)
        assert colour_frame_rate_hz(CONSOLE, chosen) <= 1 / flight * (1 + 1e-9)
        assert colour_frame_rate_hz(CONSOLE, chosen) > 0.7 / flight


def test_scale_and_pulses_hang_together():
    chosen = setting(scale_m_s=0.6)

    assert 1540.0 * chosen.prf_hz / (4 * 3.0e6) == pytest.approx(0.6)
    assert chosen.range_m_s == pytest.approx((-0.6, 0.6))
    assert replace(chosen, baseline_shift_fraction=0.5).range_m_s == pytest.approx((-0.3, 0.9))


def test_impossible_settings_are_refused_with_the_limit():
    with pytest.raises(ValueError, match=r"1\.20 m/s cannot be had at 80 mm with 5\.0 MHz; 0\.74 m/s is the most"):
        setting(frequency_mhz=5.0, scale_m_s=1.2)
    with pytest.raises(ValueError, match="a packet of 5 pulses carries a wall filter of order 2 at most, got 4"):
        setting(ensemble=5, wall_filter_order=4)
    with pytest.raises(ValueError, match="there is no map 'mud'"):
        setting(map_key="mud")
    with pytest.raises(ValueError, match="ensemble must lie between 4 and 32, got 40"):
        setting(ensemble=40)
    with pytest.raises(ValueError, match="left edge must lie left"):
        replace(BOX, left_deg=30.0)
    with pytest.raises(ValueError, match="near edge must lie"):
        replace(BOX, near_mm=90.0)


def test_box_must_lie_in_the_picture():
    inside = default_colour(CONSOLE, BOX)
    check_box(PROBE, CONSOLE, inside)

    with pytest.raises(ValueError, match="does not lie inside the picture's -38 to 38"):
        check_box(PROBE, CONSOLE, replace(inside, box=replace(BOX, right_deg=50.0)))
    with pytest.raises(ValueError, match="120 mm is deeper than the picture"):
        check_box(PROBE, CONSOLE, replace(inside, scale_m_s=0.3, box=replace(BOX, far_mm=120.0)))


@pytest.mark.parametrize(
    ("weight_kg", "probe"), [(4.0, "phased small"), (12.0, "phased medium"), (60.0, "phased large")]
)
def test_defaults_are_possible_and_lower_than_the_picture(weight_kg, probe):
    """Doppler is sent 20 to 50 % lower than the picture (common practice, no source)."""
    console = default_console(PROBES[probe], Species.DOG, weight_kg)
    chosen = default_colour(console, replace(BOX, near_mm=0.3 * console.depth_mm, far_mm=0.8 * console.depth_mm))

    assert 0.5 <= chosen.frequency_mhz / console.frequency_mhz <= 0.8
    assert chosen.scale_m_s <= most_scale_m_s(chosen.box.far_mm, chosen.frequency_mhz)
    assert chosen.scale_m_s > 0.4
    assert colour_frame_rate_hz(console, chosen) > 10


def test_a_flipped_setting_has_its_box_on_the_other_side():
    flipped = mirrored_setting(default_colour(CONSOLE, replace(BOX, left_deg=-5.0)))

    assert (flipped.box.left_deg, flipped.box.right_deg) == (-20.0, 5.0)
    assert mirrored_setting(flipped) == default_colour(CONSOLE, replace(BOX, left_deg=-5.0))
