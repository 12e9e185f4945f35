"""Each movement does what its sign says, leads back, and is told in the animal's own directions."""

import numpy as np
import pytest

from fanlight.heart.body_wall import skin_depth_mm
from fanlight.heart.cable_end import cable_end_direction, direction_word, marker_clock_hours, say_cable_end
from fanlight.heart.kinds import HeartClass
from fanlight.heart.movements import (
    Movement,
    lean_deg,
    met_point_mm,
    moved,
    shortest_turn,
    slid_with_frozen_handle,
    turn_matrix,
    turn_vector_rad,
)
from fanlight.heart.pose import look
from fanlight.heart.pose_difference import carried_out, difference, twist_between, undone
from fanlight.heart.skin import place_of
from fanlight.heart.standard_poses import STANDARD_VIEWS
from tests.heart.animals import animal_of, standard_pose_of

FOUR_CHAMBER = "right_parasternal_long_axis_four_chamber"
AMOUNTS = {
    Movement.SLIDE: 4.0,
    Movement.SPACE: 1.0,
    Movement.ROTATE: 25.0,
    Movement.TILT: 9.0,
    Movement.ROCK: 7.0,
    Movement.PRESS: 2.0,
    Movement.FLATTEN: 8.0,
}


@pytest.fixture
def animal():
    return animal_of("dog 10 kg")


@pytest.fixture
def pose():
    return standard_pose_of("dog 10 kg", HeartClass.NORMAL, FOUR_CHAMBER)


def _close(a, b, mm=1e-6):
    return np.abs(a.origin_mm - b.origin_mm).max() < mm and np.abs(a.axes - b.axes).max() < 1e-8


@pytest.mark.parametrize("view", STANDARD_VIEWS)
@pytest.mark.parametrize("movement", Movement)
def test_a_movement_undone_leads_back(animal, movement, view):
    """Every movement by an amount and by its negative is no movement, in every view."""
    pose = standard_pose_of("dog 10 kg", HeartClass.NORMAL, view)
    amount = AMOUNTS[movement]
    if movement is Movement.SPACE and view == "left_apical_four_chamber_right_heart":
        amount = -amount  # a space forward from this foremost apical contact lies nearer to the other left window
    there = moved(animal, pose, movement, amount)

    assert not _close(there, pose, mm=1e-3)
    assert _close(moved(animal, there, movement, -amount), pose)


@pytest.mark.parametrize("movement", Movement)
def test_no_amount_is_no_movement(animal, pose, movement):
    """Zero leaves the pose as it is."""
    assert _close(moved(animal, pose, movement, 0.0), pose)


@pytest.mark.parametrize(
    ("movement", "axis_of_probe"),
    [(Movement.ROTATE, (0, 0, 1)), (Movement.TILT, (-1, 0, 0)), (Movement.ROCK, (0, 1, 0))],
    ids=["rotate about +z", "tilt about -x", "rock about +y"],
)
def test_turns_are_the_exponential_of_their_twist(animal, pose, movement, axis_of_probe):
    """T' = T exp(twist) about the face: written with SciPy's rotations, an outside implementation."""
    from scipy.spatial.transform import Rotation

    outside = Rotation.from_rotvec(np.radians(12.0) * np.asarray(axis_of_probe, float)).as_matrix()
    after = moved(animal, pose, movement, 12.0)

    np.testing.assert_allclose(after.axes, pose.axes @ outside, atol=1e-12)
    np.testing.assert_array_equal(after.origin_mm, pose.origin_mm)


@pytest.mark.parametrize("side_y", [1.0, -1.0], ids=["right side", "left side"])
def test_rotate_is_clockwise_seen_from_the_cable_end(animal, side_y):
    """The marker goes from 12 o'clock (dorsal) to 3: on the right side that is cranial, on the left caudal."""
    at_12 = look(np.array([0.0, -50.0 * side_y, 0.0]), np.zeros(3), np.array([0.0, 0.0, 1.0]))
    after = moved(animal, at_12, Movement.ROTATE, 90.0)

    assert marker_clock_hours(at_12, at_12.z) == pytest.approx(0.0, abs=1e-9)
    assert marker_clock_hours(after, after.z) == pytest.approx(3.0)
    assert direction_word(after.x) == ("cranial" if side_y > 0 else "caudal")


def test_tilt_sends_the_beam_to_the_viewers_side_and_rock_to_the_marker(animal, pose):
    """Signs as agreed: tilt + towards +y, rock + towards the marker; the other axis of the beam does not move."""
    tilted, rocked = moved(animal, pose, Movement.TILT, 10.0), moved(animal, pose, Movement.ROCK, 10.0)

    assert tilted.z @ pose.y == pytest.approx(np.sin(np.radians(10.0)))
    assert tilted.z @ pose.x == pytest.approx(0.0, abs=1e-12)
    assert rocked.z @ pose.x == pytest.approx(np.sin(np.radians(10.0)))
    assert rocked.z @ pose.y == pytest.approx(0.0, abs=1e-12)


def test_rock_to_the_marker_turns_the_picture_clockwise(animal, pose):
    """A line in the picture turns clockwise about the face, degree for degree: geometry of the sector."""
    right_down = pose.to_patient(np.array([[0.0, 0.0, 60.0], [20.0, 0.0, 60.0]]))
    seen = moved(animal, pose, Movement.ROCK, 8.0).to_probe(right_down)
    before = np.degrees(np.arctan2(0.0, 20.0))
    after = np.degrees(np.arctan2(seen[1, 2] - seen[0, 2], seen[1, 0] - seen[0, 0]))

    assert after - before == pytest.approx(8.0)  # rows run down: a growing angle is clockwise
    assert seen[0, 0] < 0  # what lay under the face goes to screen left


def test_press_goes_along_the_beam(animal, pose):
    """Everything comes nearer by what the probe is pressed."""
    after = moved(animal, pose, Movement.PRESS, 3.0)

    np.testing.assert_allclose(after.origin_mm - pose.origin_mm, 3.0 * pose.z)


@pytest.mark.parametrize("view", [FOUR_CHAMBER, "left_apical_four_chamber", "left_cranial_short_axis"])
def test_slide_goes_dorsal_in_its_space_on_skin_and_keeps_its_aim(animal, view):
    """The face stays on the skin and between the same ribs; the beam still meets the same point of the heart."""
    pose = standard_pose_of("dog 10 kg", HeartClass.NORMAL, view)
    aim = met_point_mm(animal, pose)
    after = moved(animal, pose, Movement.SLIDE, 6.0)
    wall, ribs = animal.thorax.wall, animal.thorax.ribs
    miss = np.linalg.norm(np.cross(aim - after.origin_mm, after.z))

    assert after.origin_mm[2] > pose.origin_mm[2]
    assert abs(float(skin_depth_mm(wall, *after.origin_mm))) < 1e-6
    assert place_of(wall, ribs, after.origin_mm).space == pytest.approx(
        place_of(wall, ribs, pose.origin_mm).space, abs=1e-9
    )
    assert miss < 1e-6


def test_space_goes_towards_the_head_over_one_rib(animal, pose):
    """One space cranial: the space's number falls by one."""
    after = moved(animal, pose, Movement.SPACE, 1.0)
    wall, ribs = animal.thorax.wall, animal.thorax.ribs

    assert after.origin_mm[0] > pose.origin_mm[0]
    assert place_of(wall, ribs, after.origin_mm).space == pytest.approx(
        place_of(wall, ribs, pose.origin_mm).space - 1.0, abs=1e-9
    )


def test_frozen_handle_is_another_movement(animal, pose):
    """Same place on the skin as a slide, but the handle's direction stays and the beam leaves its point."""
    frozen = slid_with_frozen_handle(animal, pose, 8.0)
    aimed = moved(animal, pose, Movement.SLIDE, 8.0)

    np.testing.assert_allclose(frozen.origin_mm, aimed.origin_mm)
    np.testing.assert_array_equal(frozen.axes, pose.axes)
    assert frozen.z @ aimed.z < np.cos(np.radians(3.0))


def test_flatten_lays_the_probe_lower(animal):
    """Degree for degree; the beam goes on to the side to which it leans."""
    pose = standard_pose_of("dog 10 kg", HeartClass.NORMAL, "left_apical_four_chamber")

    assert lean_deg(animal, moved(animal, pose, Movement.FLATTEN, 7.0)) == pytest.approx(lean_deg(animal, pose) + 7.0)


@pytest.mark.parametrize("view", STANDARD_VIEWS[1:8])
def test_difference_leads_from_pose_to_pose_and_back(animal, pose, view):
    """The steps carried out are the other pose exactly, and undone they are the first."""
    other = standard_pose_of("dog 10 kg", HeartClass.NORMAL, view)
    steps = difference(animal, pose, other)

    assert _close(carried_out(animal, pose, steps), other)
    assert _close(carried_out(animal, other, undone(steps)), pose)


@pytest.mark.parametrize("movement", [m for m in Movement if m is not Movement.FLATTEN])
def test_difference_names_the_movement_that_was_made(animal, pose, movement):
    """One movement, one step that is not nothing; from the other end its amount changes sign."""
    other = moved(animal, pose, movement, AMOUNTS[movement])
    there = {step.movement: step.amount for step in difference(animal, pose, other)}
    back = {step.movement: step.amount for step in difference(animal, other, pose)}

    for name, amount in there.items():
        expected = AMOUNTS[movement] if name is movement else 0.0
        assert amount == pytest.approx(expected, abs=1e-6)
        assert back[name] == pytest.approx(-expected, abs=1e-6)


def test_twist_between_poses_is_odd(animal, pose):
    """From b to a every number of the twist is that from a to b with the other sign."""
    other = moved(animal, moved(animal, pose, Movement.ROTATE, 40.0), Movement.TILT, -15.0)
    there, back = twist_between(pose, other), twist_between(other, pose)

    assert there.rotate_deg == pytest.approx(-back.rotate_deg)
    assert there.tilt_deg == pytest.approx(-back.tilt_deg)
    assert there.rock_deg == pytest.approx(-back.rock_deg)


def test_poses_of_two_sides_have_no_difference(animal, pose):
    """The message says which sides."""
    left = standard_pose_of("dog 10 kg", HeartClass.NORMAL, "left_apical_four_chamber")
    with pytest.raises(ValueError, match="different sides of the sternum"):
        difference(animal, pose, left)


def test_long_chains_of_movements_keep_right_angles(animal, pose):
    """A thousand small turns leave a pose that is still one."""
    for _ in range(250):
        for movement in (Movement.ROTATE, Movement.TILT, Movement.ROCK, Movement.FLATTEN):
            pose = moved(animal, pose, movement, 0.37)

    assert np.abs(pose.axes.T @ pose.axes - np.eye(3)).max() < 1e-12


@pytest.mark.parametrize("angle", [0.0, 1e-9, 1e-4, 1.0, 3.0, np.pi - 1e-7])
def test_turn_and_its_vector_are_each_others_inverse(angle):
    """Small, large and nearly half turns."""
    vector = angle * np.array([0.6, -0.64, 0.48])
    matrix = turn_matrix(vector)

    np.testing.assert_allclose(turn_matrix(turn_vector_rad(matrix)), matrix, atol=1e-7)


def test_shortest_turn_takes_one_direction_to_the_other():
    """And leaves what is square to both."""
    a, b = np.array([1.0, 2.0, 3.0]), np.array([-2.0, 0.5, 1.0])
    turn = shortest_turn(a, b)

    np.testing.assert_allclose(turn @ (a / np.linalg.norm(a)), b / np.linalg.norm(b), atol=1e-12)
    np.testing.assert_allclose(turn @ np.cross(a, b), np.cross(a, b), atol=1e-12)


# Probe on the right side, beam to the left. marker | movement | amount | cable end goes
SAID = [
    ((0, 0, 1), Movement.TILT, 8.0, "caudal"),  # marker dorsal: +y is cranial
    ((0, 0, 1), Movement.TILT, -8.0, "cranial"),
    ((0, 0, 1), Movement.ROCK, 8.0, "ventral"),
    ((1, 0, 0), Movement.ROCK, 8.0, "caudal"),
    ((1, 0, 0), Movement.TILT, 8.0, "dorsal"),  # marker cranial: +y is ventral
    ((1, 0, -1), Movement.ROCK, -5.0, "cranioventral"),
    ((1, 0, -1), Movement.TILT, 5.0, "craniodorsal"),  # short axis: +y is caudoventral, towards the apex
]


@pytest.mark.parametrize(("marker", "movement", "amount", "word"), SAID)
def test_cable_end_is_said_for_the_marker_as_it_stands(marker, movement, amount, word):
    """The cable end goes the other way than the beam, in the animal's directions."""
    pose = look(np.array([0.0, -50.0, 0.0]), np.zeros(3), np.asarray(marker, float))

    assert direction_word(cable_end_direction(pose, movement, amount)) == word
    assert f"cable end {word} {abs(amount):.0f}°" in say_cable_end(pose, movement, amount)


def test_turning_the_marker_moves_no_cable_end():
    """Only a tilt or rock of some amount leans the handle."""
    pose = look(np.array([0.0, -50.0, 0.0]), np.zeros(3), np.array([0.0, 0.0, 1.0]))
    with pytest.raises(ValueError, match="leans the cable end, got rotate"):
        say_cable_end(pose, Movement.ROTATE, 5.0)
    with pytest.raises(ValueError, match="no length has no name"):
        direction_word(np.zeros(3))
