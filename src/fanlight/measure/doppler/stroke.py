"""Stroke volume from the velocity-time integral of a tract and its cross-section."""

from __future__ import annotations

from dataclasses import replace

from fanlight.reference.formulas.domain import positive
from fanlight.study import Measurement

METHOD = "velocity-time integral times area/1"


def stroke_volume(integral: Measurement, area_cm2: float, area_uncertainty_cm2: float) -> Measurement:
    """Return the volume that passes a round or measured cross-section in a beat, VTI · area.

    Parameters
    ----------
    integral : Measurement
        In cm; without a value the reason goes on.
    area_cm2, area_uncertainty_cm2 : float
        Cross-section where the integral was taken, and its standard deviation: 5 % of a diameter are 10 % here.

    Notes
    -----
    Conservation of mass; u² = VTI²·u²(area) + area²·u²(VTI) for errors that are independent (JCGM 100:2008, 5.1.2).

    Raises
    ------
    SizeError
        If the area is not above 0 or its uncertainty is below 0.
    """
    area = positive("area", area_cm2)
    if area_uncertainty_cm2 < 0:
        raise ValueError(f"the uncertainty of an area cannot lie below 0, got {area_uncertainty_cm2} cm²")
    base = replace(integral, name="stroke_volume", label="Stroke volume", unit="mL", method=METHOD, readings=())
    if integral.value is None:
        return replace(base, value=None, uncertainty=None)
    spread = integral.uncertainty or 0.0
    return replace(
        base, value=integral.value * area,
        uncertainty=((integral.value * area_uncertainty_cm2) ** 2 + (area * spread) ** 2) ** 0.5,
        reason=f"{integral.value:.1f} cm times {area:.2f} cm²; {integral.reason}",
    )  # fmt: skip
