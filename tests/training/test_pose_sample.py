"""What the pose fit learns from: one animal in its heart's own frame, and the regressions over many."""

import numpy as np
import pytest

from fanlight.heart.movements import Movement, moved
from fanlight.heart.standard_poses import STANDARD_VIEWS, standard_pose
from fanlight.study import Landmark
from training.pose_family import _regressed, _scatter
from training.pose_sample import heart_axes, sample_animal, wide_animal

VIEW = STANDARD_VIEWS.index("right_parasternal_long_axis_four_chamber")


@pytest.fixture(scope="module")
def animal():
    return wide_animal(400)  # ring A, not among those learned from


@pytest.fixture(scope="module")
def sample(animal):
    return sample_animal(animal)


def test_sample_is_in_the_frame_of_the_heart(sample):
    """The apex lies on the long axis below the centre, planes are right-handed, and aims lie before the probe."""
    apex = sample.shape[0, list(Landmark).index(Landmark.LV_APEX)]

    assert apex[0] < -0.5
    assert np.abs(apex[1:]).max() < 1e-6
    assert np.allclose(np.linalg.det(sample.axes), 1.0)
    assert (sample.aims > 0.5).all()


@pytest.mark.parametrize("amount", [8.0, -8.0])
def test_slide_of_the_sample_is_the_slide_of_the_hand(animal, sample, amount):
    """Tangent and bend lead to where the hand really slides, within a tenth of the way."""
    pose = standard_pose(animal, STANDARD_VIEWS[VIEW])
    true = pose.to_probe(moved(animal, pose, Movement.SLIDE, amount).origin_mm)
    way = amount / sample.unit_mm
    tangent, bend = sample.slides[VIEW]

    assert np.linalg.norm((tangent * way + bend * way**2) * sample.unit_mm - true) < 0.1 * abs(amount)


def test_heart_axes_are_right_angled(animal):
    """Long, front and depth are a right-handed set."""
    assert np.allclose(heart_axes(animal).T @ heart_axes(animal), np.eye(3))


def test_regression_finds_a_known_slope():
    """Values made from a slope give it back, pulled a little towards 0."""
    rng = np.random.default_rng(6)
    numbers, slope = rng.standard_normal((400, 4)), rng.normal(0, 1, (4, 2))
    constant, found = _regressed(numbers, numbers @ slope + 2.0)

    assert np.allclose(found, slope, atol=0.05)
    assert constant.shape == (2,)


def test_scatter_does_not_cross_windows():
    """Planes of two windows are held apart; within a window they go together."""
    shared = np.random.default_rng(3).standard_normal((50, 1, 1))
    covariance = _scatter(np.broadcast_to(shared, (50, len(STANDARD_VIEWS), 6)), 50)
    apical = STANDARD_VIEWS.index("left_apical_four_chamber")

    assert covariance[VIEW, 0, VIEW + 1, 0] > 0.5
    assert not covariance[VIEW, :, apical].any()
