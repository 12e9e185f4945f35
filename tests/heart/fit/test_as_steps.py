"""Offsets as steps lead to the fitted pose on an animal, and back."""

import numpy as np

from fanlight.heart.fit.as_steps import steps_of
from fanlight.heart.fit.fit_pose import fit_pose
from fanlight.heart.movements import Movement
from fanlight.heart.pose_difference import carried_out, undone
from fanlight.heart.standard_poses import standard_pose
from measure._pose_cases import pose_after
from tests.heart.fit.cases import FOUR_CHAMBER, animal, clip_of

AMOUNTS = {Movement.ROCK: 14.0, Movement.TILT: 12.0}


def _turn_deg(a, b):
    return np.degrees(np.arccos(np.clip((np.trace(a.axes.T @ b.axes) - 1) / 2, -1, 1)))


def test_sure_offsets_lead_near_the_true_pose_and_back_exactly():
    """Sure tilt and rock are carried out on the animal: near the pose that was scanned; undone: the standard."""
    subject = animal(301)
    standard = standard_pose(subject, FOUR_CHAMBER)
    sure = fit_pose([clip_of(301, FOUR_CHAMBER, AMOUNTS)]).clips[0].named(0.95)
    steps = steps_of(sure)
    there = carried_out(subject, standard, steps)
    back = carried_out(subject, there, undone(steps))

    assert [step.movement for step in steps] == [Movement.TILT, Movement.ROCK]
    assert _turn_deg(there, pose_after(subject, FOUR_CHAMBER, AMOUNTS)) < 6.0
    assert _turn_deg(back, standard) < 1e-3
