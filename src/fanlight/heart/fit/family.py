"""The family of hearts and standard planes that the fit moves in: means, modes and scatter over drawn animals.

Written by training/pose_family.py from animals of ring A. A heart is its unit (inner diameter of its healthy left
ventricle) and the places of all landmarks at end-diastole and end-systole in the heart's own frame; both follow from a
few numbers that are standard normal over healthy and diseased animals. The standard planes follow from the same
numbers, with the scatter that chest and heart axis leave.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import as_file, files

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.standard_poses import STANDARD_VIEWS
from fanlight.study import Landmark

Floats = NDArray[np.float64]
VERSION = 1  # of the layout of the file


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Family:
    """K numbers make a heart; V standard views, L landmarks. Lengths in units of the heart unless they say mm."""

    log_unit_mean: float  # of the natural logarithm of the unit in mm
    log_unit_slope: Floats  # (K,)
    shape_mean: Floats  # (2, L, 3): end-diastole, end-systole; frame long, front, depth
    shape_slope: Floats  # (K, 2, L, 3)
    plane_mean: Floats  # (V, 6): origin of the face, turn vector in radians on top of `axes_mean`
    plane_slope: Floats  # (V, K, 6)
    axes_mean: Floats  # (V, 3, 3)
    plane_scatter: Floats  # (V, 6, V, 6), covariance of what the heart leaves open, 0 between windows
    aims: Floats  # (V,), depth of the point that the beam meets
    slides: Floats  # (V, 2, 3), tangent and half the bend of a slide, probe's frame
    spaces: Floats  # (V, 2, 3), of a step over a rib, per space
    sizes_mean: Floats  # (3,): LV diameter in units, LA:Ao ratio, wall over unit
    sizes_slope: Floats  # (K, 3)
    weight: Mapping[str, Floats]  # by species: log unit = a + b log kg, and its standard deviation; (3,)
    seeds: str

    @property
    def n_heart(self) -> int:
        """How many numbers make a heart."""
        return len(self.log_unit_slope)


def load_family() -> Family:
    """Return the family that is shipped."""
    return _shipped()


@lru_cache(maxsize=1)
def _shipped() -> Family:
    with as_file(files("fanlight.heart.fit") / "family.npz") as path, np.load(path, allow_pickle=False) as data:
        version, names = int(data["version"]), [str(name) for name in data["landmarks"]]
        views = [str(view) for view in data["views"]]
        if version != VERSION or names != [mark.name for mark in Landmark] or views != list(STANDARD_VIEWS):
            raise ValueError(
                f"family.npz is of version {version} with {len(names)} landmarks and {len(views)} views; this code "
                f"reads version {VERSION} with {len(Landmark)} and {len(STANDARD_VIEWS)}: run training/pose_family.py"
            )
        return Family(
            log_unit_mean=float(data["log_unit_mean"]),
            **{
                name: np.asarray(data[name], dtype=np.float64)
                for name in (
                    "log_unit_slope", "shape_mean", "shape_slope", "plane_mean", "plane_slope", "axes_mean",
                    "plane_scatter", "aims", "slides", "spaces", "sizes_mean", "sizes_slope",
                )
            },
            weight={"dog": np.asarray(data["weight_dog"], float), "cat": np.asarray(data["weight_cat"], float)},
            seeds=str(data["seeds"]),
        )  # fmt: skip
