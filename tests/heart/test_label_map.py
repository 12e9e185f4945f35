"""A label map knows where each pixel lies in the plane and in the animal."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fanlight.heart.label_map import LabelMap, slice_labels
from fanlight.heart.pose import look
from fanlight.heart.tissue import Tissue
from tests.heart.calipers.drawn import pixels

POSE = look(np.array([4.0, -50.0, -10.0]), np.array([1.0, 2.0, 3.0]), np.array([0.2, 0.1, 1.0]))


def half_space(x, y, z):
    """Everything cranial of x = 2 mm is blood of the right ventricle."""
    return SimpleNamespace(tissue=np.where(x > 2.0, int(Tissue.RV_CAVITY), int(Tissue.LUNG)))


def small() -> LabelMap:
    return slice_labels(half_space, POSE, depth_mm=80, half_width_mm=40, mm_per_px=0.5)


def test_pixels_there_and_back() -> None:
    """(row, col) to mm to (row, col), and through the patient frame, with no distance off the plane."""
    drawn = small()
    points = np.array([[0.0, 80.0], [10.5, 3.25], [159.0, 0.0]])
    back, off_mm = drawn.from_patient_mm(drawn.to_patient_mm(points))

    assert drawn.from_plane_mm(drawn.to_plane_mm(points)) == pytest.approx(points)
    assert back == pytest.approx(points)
    assert off_mm == pytest.approx([0, 0, 0], abs=1e-9)


def test_rows_go_deeper_and_columns_go_to_the_marker() -> None:
    drawn = small()
    face = np.array([drawn.face_row_px, drawn.face_col_px])
    ends = drawn.to_patient_mm(face + np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))

    assert ends[0] == pytest.approx(POSE.origin_mm)
    assert ends[1] - ends[0] == pytest.approx(0.5 * POSE.z)
    assert ends[2] - ends[0] == pytest.approx(0.5 * POSE.x)


def test_points_off_the_plane_are_told_by_their_side() -> None:
    """Above 0 on the viewer's side."""
    drawn = small()
    place, off_mm = drawn.from_patient_mm(POSE.origin_mm + 30 * POSE.z - 5 * POSE.x + 7 * POSE.y)

    assert drawn.to_plane_mm(place) == pytest.approx([30, -5])
    assert off_mm == pytest.approx(7)


def test_tissue_is_that_of_the_animal_at_every_pixel() -> None:
    """Each pixel's own place, looked up one by one, holds the tissue shown there."""
    drawn = small()
    x = drawn.to_patient_mm(pixels(drawn))[..., 0]
    far = np.abs(x - 2.0) > 1e-3  # points are sampled with 32 bits

    assert ((drawn.tissue == Tissue.RV_CAVITY) == (x > 2.0))[far].all()
    assert drawn.tissue.shape == (161, 161)


def test_sector_leaves_out_what_the_beam_does_not_reach() -> None:
    drawn = slice_labels(half_space, POSE, depth_mm=60, half_angle_deg=40, mm_per_px=0.5)
    depth, across = np.moveaxis(drawn.to_plane_mm(pixels(drawn)), -1, 0)
    angle_deg = np.degrees(np.arctan2(np.abs(across), depth))
    radius_mm = np.hypot(depth, across)

    assert drawn.inside is not None
    assert not drawn.inside[(angle_deg > 40.1) | (radius_mm > 60.1)].any()
    assert drawn.inside[(angle_deg < 39.9) & (radius_mm < 59.9)].all()
    assert (drawn.shown()[~drawn.inside] == Tissue.OUTSIDE).all()


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({}, "give either half_width_mm or half_angle_deg"),
        ({"half_width_mm": 10, "half_angle_deg": 10}, "give either half_width_mm or half_angle_deg"),
        ({"half_angle_deg": 95}, "above 0 and up to 90 degrees, got 95"),
        ({"half_width_mm": -1}, "must be above 0 mm, got 40, -1"),
    ],
)
def test_impossible_pictures_are_refused(wrong: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        slice_labels(half_space, POSE, depth_mm=40, mm_per_px=0.5, **wrong)


def test_impossible_maps_are_refused() -> None:
    drawn = small()
    with pytest.raises(ValueError, match="bytes of shape"):
        replace(drawn, tissue=drawn.tissue.astype(np.int32))
    with pytest.raises(ValueError, match="a size above 0 mm, got 0"):
        replace(drawn, mm_per_px=0)
    with pytest.raises(ValueError, match="must have the shape of the map"):
        replace(drawn, inside=np.ones((2, 2), dtype=bool))
