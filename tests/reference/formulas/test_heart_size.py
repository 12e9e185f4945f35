"""Sizes against limits and identities."""

from __future__ import annotations

import pytest

from fanlight.reference.formulas.domain import SizeError
from fanlight.reference.formulas.heart_size import (
    LVIDD_EXPONENT,
    SurfaceConstant,
    allometric_size_cm,
    body_surface_m2,
    distensibility_percent,
    fractional_shortening_percent,
    index_by_weight,
)


def test_the_index_undoes_the_power_law() -> None:
    """Round trip: an animal of the expected size has the constant as its index, whatever its weight."""
    for weight_kg in (2.2, 10.0, 95.0):
        size = allometric_size_cm(1.53, weight_kg, LVIDD_EXPONENT)
        assert index_by_weight(size, weight_kg, LVIDD_EXPONENT) == pytest.approx(1.53)


def test_eight_times_the_weight_is_four_times_the_surface() -> None:
    """Identity of the exponent two thirds."""
    small, large = (body_surface_m2(weight, SurfaceConstant.DOG) for weight in (5.0, 40.0))

    assert large == pytest.approx(4 * small)


def test_impossible_sizes_are_refused_with_advice() -> None:
    """Messages name limit, value and remedy."""
    with pytest.raises(SizeError, match=r"at most the one in end-diastole \(2.0\), got 3.0; check the two frames"):
        fractional_shortening_percent(2.0, 3.0)
    with pytest.raises(SizeError, match="body weight must be a number above 0"):
        index_by_weight(3.0, 0.0, LVIDD_EXPONENT)
    with pytest.raises(SizeError, match="exchange the two"):
        distensibility_percent(5.0, 8.0)
