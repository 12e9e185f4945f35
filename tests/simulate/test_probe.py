import math
from typing import Any

import pytest

from fanlight.simulate.machine.probe import PROBES, ArrayKind, Probe, default_probe, wavelength_mm

GOOD: dict[str, Any] = {
    "name": "p", "kind": ArrayKind.PHASED, "aperture_mm": 14.0, "elevation_mm": 9.0, "elevation_focus_mm": 50.0,
    "low_mhz": 3.0, "high_mhz": 8.0,
}  # fmt: skip


@pytest.mark.parametrize(
    ("frequency_mhz", "expected_mm"),
    [
        pytest.param(1.54, 1.0, id="definition: 1540 m/s / 1.54 MHz"),
        pytest.param(5.0, 0.308, id="definition: 1540 m/s / 5 MHz"),
    ],
)
def test_wavelength_is_speed_over_frequency(frequency_mhz, expected_mm):
    assert wavelength_mm(frequency_mhz) == pytest.approx(expected_mm, abs=1e-9)


def test_every_preset_is_kept_under_its_own_name():
    assert all(name == probe.name for name, probe in PROBES.items())


@pytest.mark.parametrize("weight_kg", [3.0, 10.0, 40.0])
def test_default_probe_is_phased_and_larger_for_larger_animals(weight_kg):
    probe = default_probe(weight_kg)

    assert probe.kind is ArrayKind.PHASED
    assert probe.aperture_mm >= default_probe(weight_kg / 2).aperture_mm


def test_curved_array_opens_as_wide_as_its_arc():
    probe = Probe(**GOOD | {"kind": ArrayKind.CURVED, "radius_mm": 20.0, "footprint_mm": 20.0})

    assert probe.widest_deg == pytest.approx(math.degrees(1.0))


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"aperture_mm": 0.0}, "above 0"),
        ({"low_mhz": 9.0}, "9.0 to 8.0 MHz is not a range"),
        ({"radius_mm": 20.0}, "a phased one has none"),
        ({"kind": ArrayKind.CURVED}, "needs a radius"),
    ],
)
def test_probe_that_cannot_be_built_is_refused(change, message):
    with pytest.raises(ValueError, match=message):
        Probe(**GOOD | change)
