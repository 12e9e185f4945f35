"""Volumes against solids whose volume is known exactly."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate

from fanlight.reference.formulas.domain import SizeError
from fanlight.reference.formulas.ventricle import (
    area_length_volume_ml,
    biplane_area_length_volume_ml,
    discs_volume_ml,
    ejected_percent,
    muscle_mass_g,
    teichholz_volume_ml,
)


@pytest.mark.parametrize(("length", "diameter"), [(5.2, 3.0), (8.0, 4.5), (2.5, 1.4)])
def test_area_length_is_exact_for_an_ellipsoid(length: float, diameter: float) -> None:
    """Identity: an ellipsoid of revolution has the section π·L·D/4 and the volume π·L·D²/6."""
    assert area_length_volume_ml(math.pi * length * diameter / 4, length) == pytest.approx(
        math.pi * length * diameter**2 / 6
    )


def test_biplane_is_exact_for_an_ellipsoid_with_three_axes() -> None:
    """Identity: sections π·L·D₁/4 and π·L·D₂/4, volume π·L·D₁·D₂/6."""
    first, second = math.pi * 6 * 3.2 / 4, math.pi * 6 * 2.4 / 4

    assert biplane_area_length_volume_ml(first, second, 6) == pytest.approx(math.pi * 6 * 3.2 * 2.4 / 6)


@pytest.mark.parametrize("discs", [10, 20, 100])
def test_more_discs_come_closer_to_the_integral(discs: int) -> None:
    """The stack tends to the integral of a bullet (scipy.integrate.quad), within 1/discs² of its size."""
    exact = integrate.quad(lambda x: math.pi / 4 * 9 * (1 - x**2), 0, 1)[0] * 5.2
    middles = (np.arange(discs) + 0.5) / discs

    stacked = discs_volume_ml((3 * np.sqrt(1 - middles**2)).tolist(), 5.2)

    assert stacked == pytest.approx(exact, rel=1 / discs**2)


def test_volumes_grow_with_the_diameter() -> None:
    """A larger ventricle never gets the smaller volume."""
    volumes = [teichholz_volume_ml(diameter) for diameter in np.linspace(0.5, 8, 40)]

    assert (np.diff(volumes) > 0).all()


def test_mass_without_muscle_is_the_constant() -> None:
    """Limit: walls that thin out leave the constant of the formula, 0.6 g."""
    assert muscle_mass_g(1e-9, 4.0, 1e-9) == pytest.approx(0.6, abs=1e-6)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: teichholz_volume_ml(0.0), "diameter must be a number above 0, got 0.0"),
        (lambda: teichholz_volume_ml(float("nan")), "got nan"),
        (lambda: discs_volume_ml([], 5.0), "trace the chamber"),
        (lambda: ejected_percent(10.0, 12.0), r"at most the end-diastolic one \(10.0\), got 12.0"),
    ],
)
def test_impossible_sizes_are_refused_with_advice(call: object, words: str) -> None:
    """The message names limit, value and remedy."""
    with pytest.raises(SizeError, match=words):
        call()  # type: ignore[operator]
