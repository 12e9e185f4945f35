"""What lies in the picture: the tissue under every pixel of a plane, and the way from pixels to the animal and back."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import partial
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal, animal_landmarks, sample
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.pose import Pose, Vector
from fanlight.heart.sampled import Array, Sampled
from fanlight.study import Landmark

Sampler = Callable[[Array, Array, Array], Sampled]  # what lies at points x, y, z of the patient frame, mm
_NOWHERE: Mapping[Landmark, Vector] = MappingProxyType({})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LabelMap:
    """Tissue in an image plane at one moment. Rows run with depth, columns towards the marker (screen right).

    The place (row, col) of a pixel is its centre. In the plane, places in mm are (depth, across) from the centre of
    the probe's face, in the same order as (row, col).

    Raises
    ------
    ValueError
        If the tissue is no picture of bytes, a pixel has no size, or the mask has another shape.
    """

    tissue: NDArray[np.uint8]  # (row, col), see tissue.Tissue
    mm_per_px: float
    pose: Pose
    face_row_px: float  # place of the centre of the probe's face; may lie outside the map
    face_col_px: float
    inside: NDArray[np.bool_] | None = None  # (row, col), True where the sector shows the animal; None: everywhere
    landmarks_mm: Mapping[Landmark, Vector] = field(default_factory=lambda: _NOWHERE)  # patient frame, same moment

    def __post_init__(self) -> None:
        if self.tissue.ndim != 2 or self.tissue.dtype != np.uint8:
            raise ValueError(
                f"a label map needs bytes of shape (row, col), got {self.tissue.dtype} of shape {self.tissue.shape}"
            )
        if not self.mm_per_px > 0:
            raise ValueError(f"a pixel of a label map needs a size above 0 mm, got {self.mm_per_px}")
        if self.inside is not None and self.inside.shape != self.tissue.shape:
            raise ValueError(
                f"the sector's mask must have the shape of the map, {self.tissue.shape}, got {self.inside.shape}"
            )

    def shown(self) -> NDArray[np.uint8]:
        """Return the tissue with everything outside the sector as OUTSIDE (0)."""
        return self.tissue if self.inside is None else np.where(self.inside, self.tissue, np.uint8(0))

    def to_plane_mm(self, points_px: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return points (..., 2) given as (row, col) as (depth, across) in mm from the centre of the face."""
        return np.asarray((points_px - np.array([self.face_row_px, self.face_col_px])) * self.mm_per_px)

    def from_plane_mm(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return points (..., 2) given as (depth, across) in mm as (row, col)."""
        return np.asarray(points_mm / self.mm_per_px + np.array([self.face_row_px, self.face_col_px]))

    def to_patient_mm(self, points_px: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return points (..., 2) given as (row, col) in the patient frame, shape (..., 3), mm."""
        plane = self.to_plane_mm(points_px)
        probe = np.stack([plane[..., 1], np.zeros(plane.shape[:-1]), plane[..., 0]], axis=-1)
        return self.pose.to_patient(probe)

    def from_patient_mm(self, points_mm: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return where points (..., 3) of the patient frame fall in the picture, and how far off its plane they lie.

        Returns
        -------
        points_px : ndarray of shape (..., 2)
            (row, col) of the nearest point of the plane.
        off_plane_mm : ndarray of shape (...)
            Distance from the plane, above 0 on the viewer's side of the screen.
        """
        probe = self.pose.to_probe(points_mm)
        return self.from_plane_mm(np.stack([probe[..., 2], probe[..., 0]], axis=-1)), probe[..., 1]


def slice_labels(
    sampler: Sampler,
    pose: Pose,
    *,
    depth_mm: float,
    mm_per_px: float,
    half_width_mm: float | None = None,
    half_angle_deg: float | None = None,
    landmarks_mm: Mapping[Landmark, Vector] = _NOWHERE,
) -> LabelMap:
    """Return the tissue in the image plane of a probe.

    Parameters
    ----------
    sampler : callable
        Gives what lies at points of the patient frame.
    pose : Pose
        Where the probe stands and looks.
    depth_mm : float
        How deep the picture goes.
    mm_per_px : float
        Size of a pixel.
    half_width_mm : float, optional
        The picture is a rectangle that reaches this far to each side of the central beam.
    half_angle_deg : float, optional
        The picture is a sector from the centre of the face, this wide to each side (0 to 90); `inside` marks it.
        Exactly one of the two must be given.
    landmarks_mm : mapping of Landmark to ndarray of shape (3,)
        Places of the heart at the same moment, kept with the map.

    Raises
    ------
    ValueError
        If not exactly one width is given, or a length is not above 0.
    """
    if (half_width_mm is None) == (half_angle_deg is None):
        raise ValueError("give either half_width_mm or half_angle_deg to say how wide a label map is")
    if half_angle_deg is not None:
        if not 0 < half_angle_deg <= 90:
            raise ValueError(f"a sector's half angle must be above 0 and up to 90 degrees, got {half_angle_deg}")
        half_width_mm = depth_mm * float(np.sin(np.radians(half_angle_deg)))
    assert half_width_mm is not None
    if not (depth_mm > 0 and mm_per_px > 0 and half_width_mm > 0):
        raise ValueError(
            f"depth, width and pixel of a label map must be above 0 mm, got {depth_mm}, {half_width_mm}, {mm_per_px}"
        )
    half_cols = int(np.ceil(half_width_mm / mm_per_px))
    across_mm = (np.arange(2 * half_cols + 1) - half_cols) * mm_per_px
    depths_mm = np.arange(int(np.ceil(depth_mm / mm_per_px)) + 1) * mm_per_px
    depth, across = np.meshgrid(depths_mm, across_mm, indexing="ij")
    x, y, z = ((pose.origin_mm[i] + across * pose.x[i] + depth * pose.z[i]).astype(np.float32) for i in range(3))
    inside = None
    if half_angle_deg is not None:
        inside = np.hypot(depth, across) <= depth_mm
        inside &= np.abs(across) <= depth * np.tan(np.radians(half_angle_deg)) if half_angle_deg < 90 else True
    return LabelMap(
        tissue=np.asarray(sampler(x, y, z).tissue, dtype=np.uint8),
        mm_per_px=mm_per_px,
        pose=pose,
        face_row_px=0.0,
        face_col_px=float(half_cols),
        inside=inside,
        landmarks_mm=landmarks_mm,
    )


def label_map(
    animal: Animal,
    state: CycleState,
    pose: Pose,
    *,
    depth_mm: float,
    mm_per_px: float,
    half_width_mm: float | None = None,
    half_angle_deg: float | None = None,
) -> LabelMap:
    """Return the tissue in the image plane of a probe on an animal, with the heart's landmarks at that moment.

    Parameters
    ----------
    animal : Animal
        The animal.
    state : CycleState
        The moment.
    pose : Pose
        Where the probe stands and looks.
    depth_mm, mm_per_px, half_width_mm, half_angle_deg : float
        The picture, see `slice_labels`.
    """
    return slice_labels(
        partial(sample, animal, state),
        pose,
        depth_mm=depth_mm,
        mm_per_px=mm_per_px,
        half_width_mm=half_width_mm,
        half_angle_deg=half_angle_deg,
        landmarks_mm=MappingProxyType(animal_landmarks(animal, state)),
    )
