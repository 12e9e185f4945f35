"""Fractional shortening from two diameters, and ejection fraction from two volumes."""

from __future__ import annotations

from fanlight.heart.calipers.caliper import Caliper, no_value


def _share_lost(name: str, convention: str, full: Caliper, small: Caliper) -> Caliper:
    for part, phase in ((full, "end-diastole"), (small, "end-systole")):
        if part.value is None:
            return no_value(name, convention, "%", f"{phase}: {part.reason}")
    assert full.value is not None
    assert small.value is not None
    if full.value <= 0:
        return no_value(name, convention, "%", f"{full.name} at end-diastole is 0")
    return Caliper(
        name=name, convention=convention, value=100 * (full.value - small.value) / full.value, unit="%"
    )  # no lines: its two parts lie on two maps


def measure_fractional_shortening(end_diastole: Caliper, end_systole: Caliper) -> Caliper:
    """Return by how many per cent the diameter falls from end-diastole (QRS onset) to end-systole (smallest cavity)."""
    convention = f"100 (diastole - systole) / diastole; {end_diastole.convention}"
    return _share_lost("fractional_shortening", convention, end_diastole, end_systole)


def measure_ejection_fraction(end_diastole: Caliper, end_systole: Caliper) -> Caliper:
    """Return by how many per cent the volume falls from end-diastole to end-systole."""
    convention = f"100 (diastole - systole) / diastole; {end_diastole.convention}"
    return _share_lost("ejection_fraction", convention, end_diastole, end_systole)
