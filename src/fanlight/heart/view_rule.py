"""A view said in landmarks, and the search for the place on the skin and the turn of the probe that keep to it best.

A rule names the point at which the beam is aimed and what the plane must do: run along a line of the heart, pass near
landmarks, keep clear of others, lie square to an axis. A hand tries the places of the window and turns the probe until
the picture fits; the search does the same over the allowed skin points, and takes the least misfit. The plane holds
the skin contact and the aim exactly, and the line where the rule has one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.pose import Pose, Vector, look

Floats = NDArray[np.float64]

# Tolerances of the hand. Engineering judgement: a probe leans freely to some 40 degrees from upright on the skin, with
# care to 60; beyond that its edge lifts off.
FREE_LEAN_DEG, LEAN_HOLD_DEG = 40.0, 5.0
MOST_LEAN_DEG, NEVER = 60.0, 1e6  # a place that asks for more is taken only where the window has no other
PLACE_HOLD_MM = 15.0  # at 10 kg: how readily a contact far from the middle of the window is taken
ROLL_STEP_DEG = 3.0
FINE_ROLL_DEG = 0.1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Near:
    """A point that the plane shall pass, within about `hold_mm`; or, with `clear_mm`, that it shall miss by so much."""

    point_mm: Vector
    hold_mm: float
    clear_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Toward:
    """A direction that beam or normal of the plane shall have, within about `hold_deg`; sign of a normal is free."""

    direction: Vector
    hold_deg: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ViewRule:
    """What defines one view on one animal. Points in mm of the patient frame."""

    aim_mm: Vector  # the central beam meets it
    marker: Vector  # side that screen right shall show
    along: Vector | None = None  # line of the heart that lies in the plane exactly; None: the turn is searched
    near: Sequence[Near] = field(default_factory=tuple)
    normal: Toward | None = None
    beam: Toward | None = None


def _angle_deg(cosine: Floats) -> Floats:
    return np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))


def _misfit(rule: ViewRule, contacts: Floats, beams: Floats, normals: Floats) -> Floats:
    """Return the misfit of planes (N,) given by contact, beam and normal, in squared tolerances."""
    total = np.zeros(len(contacts))
    for near in rule.near:
        off = np.abs(np.sum((near.point_mm - contacts) * normals, axis=-1))
        short = np.maximum(near.clear_mm - off, 0.0) if near.clear_mm else off
        total += (short / near.hold_mm) ** 2
    if rule.normal is not None:
        total += (_angle_deg(np.abs(normals @ rule.normal.direction)) / rule.normal.hold_deg) ** 2
    if rule.beam is not None:
        total += (_angle_deg(beams @ rule.beam.direction) / rule.beam.hold_deg) ** 2
    return total


def best_pose(
    rule: ViewRule, contacts_mm: Floats, inward: Floats, window_centre_mm: Vector, scale_ratio: float
) -> Pose:
    """Return the pose that keeps to the rule best among the skin points that a window offers.

    Parameters
    ----------
    rule : ViewRule
        The view on this animal.
    contacts_mm, inward : ndarray of shape (N, 3)
        Allowed skin points and the skin's normals into the animal there.
    window_centre_mm : ndarray of shape (3,)
        Where a hand sets the probe down first.
    scale_ratio : float
        Cube root of weight over 10 kg.
    """
    beams = rule.aim_mm - contacts_mm
    beams = beams / np.linalg.norm(beams, axis=-1, keepdims=True)
    lean = _angle_deg(np.sum(beams * inward, axis=-1))
    hand = (np.maximum(lean - FREE_LEAN_DEG, 0.0) / LEAN_HOLD_DEG) ** 2 + NEVER * (lean > MOST_LEAN_DEG)
    hand += (np.linalg.norm(contacts_mm - window_centre_mm, axis=-1) / (PLACE_HOLD_MM * scale_ratio)) ** 2
    if rule.along is not None:
        normals = np.cross(beams, rule.along)
        normals /= np.linalg.norm(normals, axis=-1, keepdims=True)
        best = int(np.argmin(hand + _misfit(rule, contacts_mm, beams, normals)))
        return _facing(rule, contacts_mm[best], normals[best])
    rolls = np.radians(np.arange(0.0, 180.0, ROLL_STEP_DEG))
    least = np.full(len(contacts_mm), np.inf)
    roll_of = np.zeros(len(contacts_mm))
    first, second = _across(beams, rule.marker)
    for roll in rolls:
        misfit = hand + _misfit(rule, contacts_mm, beams, np.cos(roll) * first + np.sin(roll) * second)
        better = misfit < least
        least, roll_of = np.where(better, misfit, least), np.where(better, roll, roll_of)
    best = int(np.argmin(least))
    fine = roll_of[best] + np.radians(np.arange(-ROLL_STEP_DEG, ROLL_STEP_DEG + FINE_ROLL_DEG, FINE_ROLL_DEG))
    normals = np.cos(fine)[:, None] * first[best] + np.sin(fine)[:, None] * second[best]
    ones = np.ones((len(fine), 1))
    turn = int(np.argmin(_misfit(rule, ones * contacts_mm[best], ones * beams[best], normals)))
    return _facing(rule, contacts_mm[best], normals[turn])


def _across(beams: Floats, marker: Vector) -> tuple[Floats, Floats]:
    """Return two unit vectors (N, 3) square to each beam and to each other."""
    first = np.cross(beams, marker)
    first /= np.linalg.norm(first, axis=-1, keepdims=True)
    return first, np.cross(beams, first)


def _facing(rule: ViewRule, contact_mm: Vector, normal: Vector) -> Pose:
    """Return the pose in this plane whose marker lies on the wanted side."""
    beam = rule.aim_mm - contact_mm
    side = np.cross(normal, beam)
    return look(contact_mm, rule.aim_mm, side if side @ rule.marker >= 0 else -side)
