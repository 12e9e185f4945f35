"""From heart, standard plane and movement of the hand to where each landmark lies in the picture.

A pose is the standard plane of the view on this heart, then the movements in the order of the house: step over ribs
and slide along the skin (both re-aimed), rotate, tilt, rock, press. All is done for many sets of numbers at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.fit.family import Family
from fanlight.heart.movements import Movement
from fanlight.heart.standard_poses import STANDARD_VIEWS

Floats = NDArray[np.float64]
# The numbers of a movement, in this order. Lengths in units of the heart, steps in spaces, turns in radians.
ORDER = (Movement.SPACE, Movement.SLIDE, Movement.ROTATE, Movement.TILT, Movement.ROCK, Movement.PRESS)
LENGTHS = (Movement.SLIDE, Movement.PRESS)
TURNS = (Movement.ROTATE, Movement.TILT, Movement.ROCK)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Probe:
    """B poses in the frame of the heart, lengths in units."""

    origin: Floats  # (B, 3)
    axes: Floats  # (B, 3, 3), columns are x, y and z
    aim: Floats  # (B, 3): the point of the heart at which the standard plane was aimed, seen from the moved probe


def turn_matrices(vectors_rad: Floats) -> Floats:
    """Return the rotation matrices (B, 3, 3) of turn vectors (B, 3)."""
    angle = np.linalg.norm(vectors_rad, axis=-1)[:, None, None]
    skew = _skew(vectors_rad)
    return np.asarray(
        np.eye(3) + np.sinc(angle / np.pi) * skew + 0.5 * np.sinc(angle / (2 * np.pi)) ** 2 * (skew @ skew)
    )


def _skew(v: Floats) -> Floats:
    out = np.zeros((len(v), 3, 3))
    out[:, 0, 1], out[:, 0, 2], out[:, 1, 2] = -v[:, 2], v[:, 1], -v[:, 0]
    out[:, 1, 0], out[:, 2, 0], out[:, 2, 1] = v[:, 2], -v[:, 1], v[:, 0]
    return out


def _shortest_turns(start: Floats, end: Floats) -> Floats:
    """Return the rotations (B, 3, 3) that take one direction (B, 3) to another the shortest way."""
    a = start / np.linalg.norm(start, axis=-1, keepdims=True)
    b = end / np.linalg.norm(end, axis=-1, keepdims=True)
    skew = _skew(np.cross(a, b))
    cosine = np.sum(a * b, axis=-1)[:, None, None]
    return np.asarray(np.eye(3) + skew + (skew @ skew) / (1.0 + cosine))


def moved_locally(family: Family, view: str, movement: Floats) -> tuple[Floats, Floats]:
    """Return where the face (B, 3) and its axes (B, 3, 3) go, in the frame of the standard pose, in units.

    Parameters
    ----------
    family : Family
        Holds how skin and aim lie at the standard pose of the view.
    view : str
        Key of the standard view.
    movement : ndarray of shape (B, 6)
        In the order of `ORDER`.
    """
    v = STANDARD_VIEWS.index(view)
    space, slide, rotate, tilt, rock, press = movement.T
    aim = np.array([0.0, 0.0, family.aims[v]])
    crossed = _along(family.spaces[v], space)
    there = crossed + _along(family.slides[v], slide)
    start = np.broadcast_to(aim, crossed.shape)
    axes = _shortest_turns(aim - crossed, aim - there) @ _shortest_turns(start, aim - crossed)
    for axis, angle in ((2, rotate), (0, -tilt), (1, rock)):
        vectors = np.zeros((len(movement), 3))
        vectors[:, axis] = angle
        axes = axes @ turn_matrices(vectors)
    return there + press[:, None] * axes[:, :, 2], axes


def _along(curve: Floats, way: Floats) -> Floats:
    """Return points (B, 3) of a curve given by tangent and half its bend, at ways (B,)."""
    return np.asarray(way[:, None] * curve[0] + (way**2)[:, None] * curve[1])


def probe_at(family: Family, view: str, heart: Floats, plane: Floats, movement: Floats) -> Probe:
    """Return the poses of probes that were moved away from the standard plane.

    Parameters
    ----------
    family : Family
    view : str
        Key of the standard view.
    heart : ndarray of shape (B, K)
        What makes the heart, standard normal.
    plane : ndarray of shape (B, 6)
        By how much the standard plane differs from the one usual for this heart: origin in units, turn in radians.
    movement : ndarray of shape (B, 6)
        In the order of `ORDER`.
    """
    v = STANDARD_VIEWS.index(view)
    where = family.plane_mean[v] + heart @ family.plane_slope[v] + plane
    standard = family.axes_mean[v] @ turn_matrices(where[:, 3:])
    face, turned = moved_locally(family, view, movement)
    aim = np.array([0.0, 0.0, family.aims[v]]) - face
    return Probe(
        origin=where[:, :3] + np.einsum("bij,bj->bi", standard, face),
        axes=standard @ turned,
        aim=np.einsum("bi,bij->bj", aim, turned),
    )


def units_mm(family: Family, heart: Floats) -> Floats:
    """Return the units (B,) of hearts, mm."""
    return np.asarray(np.exp(family.log_unit_mean + heart @ family.log_unit_slope))


def shapes(family: Family, heart: Floats) -> Floats:
    """Return the landmarks (B, 2, L, 3) of hearts in their own frame, in units: end-diastole, end-systole."""
    return np.asarray(family.shape_mean + np.tensordot(heart, family.shape_slope, axes=1))


def expected_places(family: Family, view: str, heart: Floats, plane: Floats, movement: Floats) -> Floats:
    """Return where all landmarks lie seen from the probe, in units.

    Returns
    -------
    ndarray of shape (B, 2, L, 3)
        End-diastole and end-systole; right in the picture, towards the viewer (0: in the plane), down in the picture.
    """
    probe = probe_at(family, view, heart, plane, movement)
    return np.asarray((shapes(family, heart) - probe.origin[:, None, None]) @ probe.axes[:, None])
