from dataclasses import replace

import pytest

from fanlight.simulate.machine.console import Console, default_console, default_depth_mm, frame_rate_hz
from fanlight.simulate.machine.probe import PROBES, default_probe
from fanlight.study import Species

PLAIN = Console(depth_mm=100.0, width_deg=75.0, frequency_mhz=5.0, focus_mm=60.0, lines_per_pulse=1)

# c / (2 · depth · lines), c = 1540 m/s: time of flight there and back for each line (physics), rounded to 1 Hz
KNOWN = [
    pytest.param(100.0, 64, 120, id="10 cm, 64 lines"),
    pytest.param(100.0, 128, 60, id="10 cm, 128 lines"),
    pytest.param(60.0, 96, 134, id="6 cm, 96 lines"),
    pytest.param(60.0, 192, 67, id="6 cm, 192 lines"),
]


@pytest.mark.parametrize(("depth_mm", "n_lines", "expected_hz"), KNOWN)
def test_frame_rate_is_time_of_flight_of_all_lines(depth_mm, n_lines, expected_hz):
    assert frame_rate_hz(replace(PLAIN, depth_mm=depth_mm, n_lines=n_lines)) == pytest.approx(expected_hz, abs=0.5)


@pytest.mark.parametrize(
    ("change", "factor"),
    [({"n_foci": 3}, 1 / 3), ({"n_looks": 2}, 1 / 2), ({"lines_per_pulse": 4}, 4.0), ({"depth_mm": 50.0}, 2.0)],
)
def test_foci_and_looks_cost_frames_and_parallel_lines_win_them(change, factor):
    assert frame_rate_hz(replace(PLAIN, **change)) == pytest.approx(factor * frame_rate_hz(PLAIN))


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"depth_mm": 5.0}, "depth_mm must lie between 10.0 and 400.0, got 5.0"),
        ({"n_lines": 4}, "n_lines must lie between 8 and 512, got 4"),
        ({"tgc_db": (0.0, 1.0)}, "8 TGC sliders are needed, got 2"),
        ({"persistence_fraction": 1.0}, "persistence_fraction"),
    ],
)
def test_setting_that_no_machine_offers_is_refused(change, message):
    with pytest.raises(ValueError, match=message):
        replace(PLAIN, **change)


@pytest.mark.parametrize(
    ("species", "weight_kg", "low_mm", "high_mm"),
    [
        # displayed depth in use: cats 3 to 6 cm, small dogs 5 to 9, medium 8 to 13, large 11 to 18 (common practice, no
        # source); a centimetre more is allowed, since a heart must fit whole
        pytest.param(Species.CAT, 4.0, 30, 70, id="cat"),
        pytest.param(Species.DOG, 4.0, 50, 100, id="small dog"),
        pytest.param(Species.DOG, 15.0, 80, 140, id="medium dog"),
        pytest.param(Species.DOG, 40.0, 110, 190, id="large dog"),
    ],
)
def test_default_depth_suits_the_animal(species, weight_kg, low_mm, high_mm):
    assert low_mm <= default_depth_mm(species, weight_kg) <= high_mm


@pytest.mark.parametrize("weight_kg", [2.5, 10.0, 25.0, 60.0])
@pytest.mark.parametrize("is_harmonic", [False, True])
def test_default_console_sends_what_the_probe_can(weight_kg, is_harmonic):
    probe = default_probe(weight_kg)

    console = default_console(probe, Species.DOG, weight_kg, is_harmonic=is_harmonic)

    assert probe.low_mhz <= console.frequency_mhz <= probe.high_mhz
    assert console.focus_mm < console.depth_mm
    assert frame_rate_hz(console) > 40  # below that end-systole is missed


def test_default_console_of_a_curved_array_is_no_wider_than_its_face():
    probe = PROBES["curved large"]

    assert default_console(probe, Species.DOG, 30.0).width_deg <= probe.widest_deg
