"""Fitted offsets as steps of the hand, to be carried out on an animal: the pose as it was, and the way back."""

from __future__ import annotations

from collections.abc import Sequence

from fanlight.heart.fit.forward import ORDER
from fanlight.heart.fit.pose_values import Offset
from fanlight.heart.pose_difference import Step


def steps_of(offsets: Sequence[Offset]) -> tuple[Step, ...]:
    """Return the steps from the standard plane to where the probe stood, at the mean amounts, in the house's order.

    Notes
    -----
    `pose_difference.carried_out` does them on an animal, `pose_difference.undone` gives the correction. Give only the
    offsets that are sure: the mean of an open one is a compromise, not a pose.
    """
    ordered = sorted(offsets, key=lambda one: ORDER.index(one.movement))
    return tuple(Step(movement=one.movement, amount=one.amount.mean) for one in ordered)
