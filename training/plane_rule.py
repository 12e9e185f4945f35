"""How far a picture is from a standard view, and what it should therefore be called.

The distance compares what two poses show: points of the standard picture, where the heart lies, are looked for in the
other pose's frame. How far they lie off its plane counts in full; how far they have moved within the picture counts
by a part, since a picture that is turned or shifted within its plane still shows the same. A probe turned half round
about its beam shows the same picture with left and right exchanged: that is the view too, mirrored. Lengths are in
units of the healthy left ventricle's diameter of this animal.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.pose import Pose

Floats = NDArray[np.float64]

# All numbers: engineering judgement. Depths at which a heart lies from its window, and how far to the sides it reaches,
# in units; the pictures of two neighbouring short axes then differ by 0.3 to 0.6.
DEPTHS_UNITS = (0.8, 1.4, 2.0, 2.6, 3.2)
SIDES_UNITS = (-1.0, -0.5, 0.0, 0.5, 1.0)
WITHIN_PLANE_WEIGHT = 0.3
NEAR_UNITS = 0.22  # a picture so near to a standard one is that view
FAR_UNITS = 0.50  # one so far from all of them is none
SOFTNESS_UNITS = 0.09  # of the passage between two names
CLEAR_SHARE = 0.75  # a picture whose name has at least this share is asked for it in the accuracy figures


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Named:
    """What a picture should be called."""

    shares: Floats  # (view + 1,), of each view and, last, of none; sum 1
    distances_units: Floats  # (view,) of the pose or of the pose turned half round, whichever is nearer to the view
    is_mirrored: bool  # whether the nearest view is met by the pose turned half round

    @property
    def best(self) -> int:
        """Number of the name with the largest share; the number of views stands for none."""
        return int(np.argmax(self.shares))

    @property
    def is_clear(self) -> bool:
        """Whether one name is right beyond dispute."""
        return bool(self.shares.max() >= CLEAR_SHARE)


def picture_points_mm(unit_mm: float) -> Floats:
    """Return the points of a picture that are compared, in the probe's frame, shape (point, 3)."""
    depth, side = np.meshgrid(DEPTHS_UNITS, SIDES_UNITS, indexing="ij")
    return np.stack([side.ravel(), np.zeros(side.size), depth.ravel()], axis=-1) * unit_mm


def plane_distance_units(pose: Pose, standard: Pose, unit_mm: float) -> float:
    """Return how unlike the pictures of two poses are, 0 for the same."""
    points = picture_points_mm(unit_mm)
    moved = (pose.to_probe(standard.to_patient(points)) - points) / unit_mm
    off, within = moved[:, 1] ** 2, moved[:, 0] ** 2 + moved[:, 2] ** 2
    return float(np.sqrt(np.mean(off + WITHIN_PLANE_WEIGHT**2 * within)))


def half_turned(pose: Pose) -> Pose:
    """Return the pose turned half round about its beam: the same plane, left and right exchanged."""
    return Pose(origin_mm=pose.origin_mm, axes=pose.axes * np.array([-1.0, -1.0, 1.0]))


def named(pose: Pose, standards: Mapping[str, Pose], unit_mm: float) -> Named:
    """Return what the picture of a pose should be called among the standard views of the same animal.

    A view's share falls with its distance; none has the share of a view that lies `FAR_UNITS` away, so that a pose
    far from all views is none and a pose between two views is shared between them.
    """
    straight, turned = (
        np.array([plane_distance_units(one, standard, unit_mm) for standard in standards.values()])
        for one in (pose, half_turned(pose))
    )
    distances = np.minimum(straight, turned)
    return Named(
        shares=shares_of(distances, (NEAR_UNITS + FAR_UNITS) / 2),
        distances_units=distances,
        is_mirrored=bool(turned.min() < straight.min()),
    )


def shares_of(distances_units: Floats, none_at_units: float) -> Floats:
    """Return the shares of views at these distances and of none."""
    worth = -np.append(distances_units, none_at_units) / SOFTNESS_UNITS
    weights = np.exp(worth - worth.max())
    return np.asarray(weights / weights.sum())
