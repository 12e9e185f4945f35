"""Where a probe stands on an animal and where it looks: a rigid pose in the patient frame.

Frames (right-handed, millimetres)
----------------------------------
Patient: X cranial, Y left, Z dorsal. The origin is the centre of the left ventricle (level of its largest diameter) at
end-diastole and at the end of expiration. Rolling the animal onto its side changes nothing here.

Probe: the origin is the centre of the face; z runs out of the face into the animal (the central beam), x towards the
marker (screen right), and y = z cross x is the normal of the image plane; y points out of the screen to the viewer.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Vector = NDArray[np.float64]  # shape (3,)
ORTHOGONAL_WITHIN = 1e-6  # numerical: far above rounding, far below any angle that matters


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pose:
    """A probe's position and orientation in the patient frame.

    Raises
    ------
    ValueError
        If the axes are not a right-handed set of unit vectors at right angles.
    """

    origin_mm: Vector  # (3,), centre of the probe's face
    axes: NDArray[np.float64]  # (3, 3); columns are the probe's x, y and z in the patient frame

    def __post_init__(self) -> None:
        if np.shape(self.origin_mm) != (3,) or np.shape(self.axes) != (3, 3):
            raise ValueError(
                f"a pose needs a point (3,) and axes (3, 3), got {np.shape(self.origin_mm)} and {np.shape(self.axes)}"
            )
        off = float(np.abs(self.axes.T @ self.axes - np.eye(3)).max())
        if off > ORTHOGONAL_WITHIN or np.linalg.det(self.axes) < 0:
            raise ValueError(f"probe axes must be right-handed unit vectors at right angles; they are off by {off:.2g}")

    @property
    def x(self) -> Vector:
        """Unit vector towards the marker: screen right."""
        return self.axes[:, 0]

    @property
    def y(self) -> Vector:
        """Normal of the image plane, towards the viewer of the screen."""
        return self.axes[:, 1]

    @property
    def z(self) -> Vector:
        """Unit vector of the central beam: screen down."""
        return self.axes[:, 2]

    def to_patient(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return points (..., 3) given in the probe frame, in the patient frame."""
        return np.asarray(self.origin_mm + points_mm @ self.axes.T)

    def to_probe(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return points (..., 3) given in the patient frame, in the probe frame."""
        return np.asarray((points_mm - self.origin_mm) @ self.axes)


def look(origin_mm: Vector, target_mm: Vector, marker: Vector) -> Pose:
    """Return the pose at `origin_mm` whose central beam meets `target_mm`, marker turned towards `marker`.

    Parameters
    ----------
    origin_mm, target_mm : ndarray of shape (3,)
        Points of the patient frame, mm.
    marker : ndarray of shape (3,)
        Direction that the marker shall face; its part across the beam is used.

    Raises
    ------
    ValueError
        If target and origin coincide, or the marker direction runs along the beam.
    """
    beam = np.asarray(target_mm, dtype=float) - origin_mm
    length = float(np.linalg.norm(beam))
    if length == 0:
        raise ValueError("the probe must look at a point other than its own place")
    z = beam / length
    across = marker - (marker @ z) * z
    size = float(np.linalg.norm(across))
    if size < 1e-9 * max(float(np.linalg.norm(marker)), 1.0):
        raise ValueError("the marker must not point along the beam")
    x = across / size
    return Pose(origin_mm=np.asarray(origin_mm, dtype=float), axes=np.column_stack([x, np.cross(z, x), z]))
