"""Slope of the septum and its kink: signed, in degrees."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.heart.calipers import measure_septal_kink, measure_septal_slope
from fanlight.heart.calipers.left_ventricle import middle_third
from fanlight.heart.tissue import Tissue
from tests.heart.calipers.drawn import Grid, Shape, box, draw, long_axis_layers, short_axis_layers

TWO_RAYS_DEG = 1.5  # the outline is read every 0.75°; where the septum ends is known no better


def plank(atrial_deg: float = 0.0) -> list[tuple[Shape, Tissue]]:
    """Return a straight septum along the top of a box of blood, and an atrial septum turned by `atrial_deg`."""
    cos, sin = np.cos(np.radians(atrial_deg)), np.sin(np.radians(atrial_deg))

    def atrial(along: Grid, deep: Grid) -> NDArray[np.bool_]:
        a, d = along - 30, deep + 12
        return np.asarray((abs(cos * a + sin * d) <= 9) & (abs(-sin * a + cos * d) <= 1.2))

    return [
        (box((-25, 20), (-20, 20)), Tissue.LV_FREE_WALL),
        (box((-25, 20), (-20, -8)), Tissue.SEPTUM),
        (box((-20, 15), (-12, 12)), Tissue.LV_CAVITY),
        (atrial, Tissue.ATRIAL_SEPTUM),
    ]


@pytest.mark.parametrize("turn_deg", [-60.0, -25.0, -8.0, 0.0, 5.0, 15.0, 40.0, 75.0])
def test_slope_of_a_straight_septum_is_its_turn(turn_deg: float) -> None:
    """Turned clockwise on the screen the right end lies deeper, and the slope is above 0."""
    slope = measure_septal_slope(draw(plank(), turn_deg=turn_deg))

    assert slope.value == pytest.approx(turn_deg, abs=0.5)
    assert slope.unit == "deg"


@pytest.mark.parametrize("turn_deg", [-30.0, 0.0, 12.0])
def test_slope_of_a_round_ventricle_is_its_turn(turn_deg: float) -> None:
    """In a short axis the chord lies across the middle of the septum."""
    assert measure_septal_slope(draw(short_axis_layers(), turn_deg=turn_deg)).value == pytest.approx(
        turn_deg, abs=TWO_RAYS_DEG
    )


@pytest.mark.parametrize(("turn_deg", "lean_deg"), [(90.0, 0.0), (80.0, 10.0), (100.0, -10.0), (-80.0, -10.0)])
def test_lean_is_taken_from_the_vertical(turn_deg: float, lean_deg: float) -> None:
    """Deep end to the right of upright: above 0. Turned by 80° from the horizontal is 10° short of upright."""
    assert measure_septal_slope(draw(plank(), turn_deg=turn_deg), upright=True).value == pytest.approx(
        lean_deg, abs=0.5
    )


@pytest.mark.parametrize("kink_deg", [-40.0, -15.0, 0.0, 10.0, 30.0])
@pytest.mark.parametrize("turn_deg", [0.0, 20.0])
def test_kink_is_the_angle_between_the_septa(kink_deg: float, turn_deg: float) -> None:
    """However both are turned together; the sign tells the way."""
    assert measure_septal_kink(draw(plank(kink_deg), turn_deg=turn_deg)).value == pytest.approx(kink_deg, abs=1.0)


def test_chord_leaves_the_outer_thirds_out() -> None:
    """Ends that bend away do not turn the chord of the middle third."""
    along = np.linspace(0, 90, 200)
    bent = np.where(along < 28, 0.5 * (28 - along), 0.0) + np.where(along > 62, 0.2 * (along - 62), 0.0)
    first, second = middle_third(np.stack([bent, along], axis=-1))

    assert np.degrees(np.arctan2(*(second - first))) == pytest.approx(0.0, abs=0.3)


def test_ventricle_from_the_side_slopes_towards_its_apex() -> None:
    """The middle third of half an ellipse, apex to ring, falls to the apex: its chord is worked out here."""
    half = 55 / (1 + np.sqrt(1 - (10 / 15) ** 2))
    at = np.linspace(np.pi, np.arccos((55 - half) / half), 2000)
    outline = np.stack([-15 * np.sin(at), -55 + half + half * np.cos(at)], axis=-1)
    first, second = middle_third(outline)
    expected_deg = np.degrees(np.arctan2(*(second - first)))
    drawn = draw(long_axis_layers(), shift_mm=(12, 0))

    assert expected_deg < -4
    assert measure_septal_slope(drawn).value == pytest.approx(expected_deg, abs=TWO_RAYS_DEG)


@pytest.mark.parametrize("measure", [measure_septal_slope, measure_septal_kink])
def test_missing_ventricle_is_told(measure) -> None:
    assert measure(draw([])).reason == "the left ventricle is not in the picture"


def test_missing_atrial_septum_is_told() -> None:
    assert measure_septal_kink(draw(short_axis_layers())).reason == "the atrial septum is not in the picture"


def test_round_piece_of_atrial_septum_has_no_slope() -> None:
    """A septum cut along its edge shows as a spot, which points nowhere."""
    layers = [*short_axis_layers(), (box((30, 33), (0, 3)), Tissue.ATRIAL_SEPTUM)]

    assert "too short in the picture to have a slope" in measure_septal_kink(draw(layers)).reason
