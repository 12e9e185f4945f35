"""A pose is rigid, right-handed, and looks where it is told."""

import numpy as np
import pytest

from fanlight.heart.pose import Pose, look

RIGHT_WINDOW = np.array([2.0, -49.0, -16.0])


def test_the_central_beam_meets_the_target():
    """`look` puts the target straight below the face."""
    target = np.array([5.0, 0.0, 3.0])

    pose = look(RIGHT_WINDOW, target, np.array([0.0, 0.0, 1.0]))

    assert pose.to_probe(target) == pytest.approx([0, 0, np.linalg.norm(target - RIGHT_WINDOW)])


def test_axes_are_right_handed_with_y_towards_the_viewer():
    """y = z cross x: beam to the left and marker dorsal give a normal that faces cranially.

    Source: the directions of the right parasternal long axis are vectors worked out from the frame (computed).
    """
    pose = look(np.zeros(3), np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0]))

    assert pose.y == pytest.approx([1, 0, 0])


def test_points_return_through_both_frames():
    """Patient to probe and back is the identity."""
    points = np.random.default_rng(3).normal(size=(5, 4, 3)) * 40
    pose = look(RIGHT_WINDOW, np.zeros(3), np.array([0.3, 0.1, 0.9]))

    assert pose.to_patient(pose.to_probe(points)) == pytest.approx(points)


def test_a_left_handed_pose_is_refused():
    """Mirrored axes would mirror the picture."""
    with pytest.raises(ValueError, match="right-handed unit vectors"):
        Pose(origin_mm=np.zeros(3), axes=np.diag([-1.0, 1.0, 1.0]))


def test_axes_of_the_wrong_shape_are_refused():
    """The message names the shapes it wants."""
    with pytest.raises(ValueError, match=r"axes \(3, 3\)"):
        Pose(origin_mm=np.zeros(3), axes=np.eye(2))


@pytest.mark.parametrize(
    ("target", "marker", "words"),
    [(RIGHT_WINDOW, [0, 0, 1], "other than its own place"), ([2.0, 0.0, -16.0], [0, 1, 0], "along the beam")],
)
def test_a_view_without_direction_is_refused(target, marker, words):
    """Nothing to look at, or a marker that runs along the beam."""
    with pytest.raises(ValueError, match=words):
        look(RIGHT_WINDOW, np.array(target, dtype=float), np.array(marker, dtype=float))
