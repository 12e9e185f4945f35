"""Say in the animal's own directions where the cable end goes: cranial, caudal, dorsal, ventral, left or right."""

from __future__ import annotations

import numpy as np

from fanlight.heart.movements import Movement
from fanlight.heart.pose import Pose, Vector

# Patient frame: X cranial, Y left, Z dorsal.
_WORDS = (("cranial", "caudal"), ("left", "right"), ("dorsal", "ventral"))
SECOND_WORD_FROM = (
    0.5  # of the larger share: below it (27 degrees off) a second word would mislead. Engineering judgement
)
JOINED = {
    ("cranial", "dorsal"): "craniodorsal",
    ("cranial", "ventral"): "cranioventral",
    ("caudal", "dorsal"): "caudodorsal",
    ("caudal", "ventral"): "caudoventral",
}


def direction_word(direction: Vector) -> str:
    """Return the anatomical word for a direction of the patient frame: one or two of its largest shares."""
    order = np.argsort(-np.abs(direction))
    largest = abs(float(direction[order[0]]))
    if largest == 0:
        raise ValueError("a direction of no length has no name")
    words = [
        _WORDS[axis][0 if direction[axis] > 0 else 1]
        for axis in order[:2]
        if abs(float(direction[axis])) >= SECOND_WORD_FROM * largest
    ]
    joined = JOINED.get((words[0], words[-1])) or JOINED.get((words[-1], words[0]))
    return joined or " and ".join(words)


def cable_end_direction(pose: Pose, movement: Movement, amount: float) -> Vector:
    """Return the way (3,) the cable end goes in the patient frame when the probe is tilted or rocked.

    Raises
    ------
    ValueError
        For a movement that does not lean the probe, or one of no amount.
    """
    if amount == 0 or movement not in (Movement.TILT, Movement.ROCK):
        raise ValueError(f"only a tilt or a rock of some amount leans the cable end, got {movement.value} {amount}")
    beam_goes = pose.y if movement is Movement.TILT else pose.x
    return np.asarray(-np.sign(amount) * beam_goes)


def say_cable_end(pose: Pose, movement: Movement, amount_deg: float) -> str:
    """Return words for a tilt or rock with the marker as it stands now: where cable end and beam go.

    Examples
    --------
    >>> from fanlight.heart.pose import look
    >>> pose = look(np.array([0.0, -50.0, 0.0]), np.zeros(3), np.array([0.0, 0.0, 1.0]))
    >>> say_cable_end(pose, Movement.TILT, 8.0)
    'cable end caudal 8°, the beam goes cranial'
    """
    way = cable_end_direction(pose, movement, amount_deg)
    return f"cable end {direction_word(way)} {abs(amount_deg):.0f}°, the beam goes {direction_word(-way)}"


def marker_clock_hours(pose: Pose, inward: Vector) -> float:
    """Return where the marker stands on the clock seen from the cable end, 12 = dorsal, in hours (0 to 12).

    Parameters
    ----------
    pose : Pose
        The probe.
    inward : ndarray of shape (3,)
        Direction in which the observer looks: the skin's normal into the animal (or the beam).
    """
    dorsal = np.array([0.0, 0.0, 1.0])
    up = dorsal - (dorsal @ inward) * inward
    right = np.cross(inward, up)
    return float((np.degrees(np.arctan2(pose.x @ right, pose.x @ up)) / 30.0) % 12.0)
