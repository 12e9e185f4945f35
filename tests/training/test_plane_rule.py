"""What a picture is called: the distance of planes against geometry worked out by hand, and how names are shared."""

import numpy as np
import pytest

from fanlight.heart.movements import turn_matrix
from fanlight.heart.pose import Pose
from training.plane_rule import (
    DEPTHS_UNITS,
    FAR_UNITS,
    NEAR_UNITS,
    SIDES_UNITS,
    WITHIN_PLANE_WEIGHT,
    half_turned,
    named,
    plane_distance_units,
    shares_of,
)

STANDARD = Pose(origin_mm=np.array([1.0, 2.0, 3.0]), axes=turn_matrix(np.array([0.3, -0.2, 0.5])))


def turned(twist_deg: tuple[float, float, float]) -> Pose:
    return Pose(origin_mm=STANDARD.origin_mm, axes=STANDARD.axes @ turn_matrix(np.radians(np.array(twist_deg))))


def test_the_same_pose_has_no_distance() -> None:
    assert plane_distance_units(STANDARD, STANDARD, 30.0) == pytest.approx(0.0, abs=1e-9)


def test_a_tilt_moves_each_point_by_its_depth() -> None:
    """A tilt by t leaves the across coordinate, takes a depth z to z sin t off the plane and z (1 - cos t) short."""
    t = np.radians(8.0)
    depth = np.array(DEPTHS_UNITS)
    expected = np.sqrt(np.mean((depth * np.sin(t)) ** 2 + (WITHIN_PLANE_WEIGHT * depth * (1 - np.cos(t))) ** 2))

    assert plane_distance_units(turned((8.0, 0.0, 0.0)), STANDARD, 30.0) == pytest.approx(expected)


def test_a_turn_about_the_beam_moves_each_point_by_its_side() -> None:
    t = np.radians(20.0)
    side = np.array(SIDES_UNITS)
    expected = np.sqrt(np.mean((side * np.sin(t)) ** 2 + (WITHIN_PLANE_WEIGHT * side * (1 - np.cos(t))) ** 2))

    assert plane_distance_units(turned((0.0, 0.0, 20.0)), STANDARD, 30.0) == pytest.approx(expected)


def test_a_slide_within_the_plane_counts_by_its_part_and_in_units() -> None:
    aside = Pose(origin_mm=STANDARD.origin_mm + 6.0 * STANDARD.x, axes=STANDARD.axes)
    off = Pose(origin_mm=STANDARD.origin_mm + 6.0 * STANDARD.y, axes=STANDARD.axes)

    assert plane_distance_units(aside, STANDARD, 30.0) == pytest.approx(WITHIN_PLANE_WEIGHT * 0.2)
    assert plane_distance_units(off, STANDARD, 30.0) == pytest.approx(0.2)


def test_names_near_between_and_far() -> None:
    other = turned((0.0, 0.0, 90.0))
    at_it = named(STANDARD, {"a": STANDARD, "b": other}, 30.0)
    far = named(turned((40.0, 0.0, 40.0)), {"a": STANDARD, "b": other}, 30.0)

    assert at_it.best == 0
    assert at_it.is_clear
    assert far.distances_units.min() > FAR_UNITS
    assert far.best == 2
    assert far.is_clear


def test_a_probe_turned_half_round_shows_the_view_mirrored() -> None:
    """The picture of a pose turned by 180° about its beam is that of the pose, left and right exchanged (geometry)."""
    standards = {"a": STANDARD, "b": turned((0.0, 0.0, 90.0))}
    straight, over = named(turned((0.0, 0.0, 6.0)), standards, 30.0), named(turned((0.0, 0.0, 186.0)), standards, 30.0)
    point = np.array([[7.0, 0.0, 30.0]])  # in the plane, 7 mm beside the beam

    assert half_turned(STANDARD).to_probe(STANDARD.to_patient(point)) == pytest.approx(point * [-1, 1, 1], abs=1e-9)
    assert straight.best == over.best == 0
    assert (straight.is_mirrored, over.is_mirrored) == (False, True)
    assert over.distances_units == pytest.approx(straight.distances_units)
    assert over.distances_units[0] < NEAR_UNITS


def test_shares_sum_to_one_and_equal_distances_share_equally() -> None:
    shares = shares_of(np.array([0.1, 0.1, 0.9]), 0.36)

    assert shares.sum() == pytest.approx(1.0)
    assert shares[0] == pytest.approx(shares[1])
    assert shares[0] > shares[3] > shares[2]
