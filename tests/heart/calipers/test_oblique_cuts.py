"""Bodies of solid geometry, cut by a probe's plane: what an oblique or off-centre plane does to each measure.

The expected values are formulas of solid geometry, not results of the code:
tube cut at t to its cross-section: minor / major = cos t;
ellipsoid of revolution, length / diameter = k, cross-section tilted by t: minor / major = sqrt(cos² t + sin² t / k²);
the same cut along itself, tilted by t off the axis: length × 1 / sqrt(cos² t + k² sin² t);
plane parallel to the axis at a distance d of a body of radius R: diameter × sqrt(1 - (d / R)²).
"""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from fanlight.heart.calipers.ellipse import ellipse_axes, measure_roundness
from fanlight.heart.calipers.region import find_region
from fanlight.heart.label_map import LabelMap, slice_labels
from fanlight.heart.pose import Pose
from fanlight.heart.tissue import Tissue

RADIUS_MM, K = 15.0, 1.65  # length over diameter of the ventricle in the worked tables
DEPTH_MM = 100.0


def tube(x, y, z):
    """A tube of blood along Z."""
    return SimpleNamespace(tissue=np.where(x**2 + y**2 <= RADIUS_MM**2, int(Tissue.AORTA), 0))


def ventricle(x, y, z):
    """An ellipsoid of blood, long axis along Z."""
    inside = (x**2 + y**2) / RADIUS_MM**2 + z**2 / (K * RADIUS_MM) ** 2 <= 1
    return SimpleNamespace(tissue=np.where(inside, int(Tissue.LV_CAVITY), 0))


def cut(body, normal_tilt_deg: float, offset_mm: float = 0.0, *, along: bool = False) -> LabelMap:
    """Return the map of a plane whose normal is tilted about X from Z (across) or from Y (along the body's axis)."""
    t = np.radians(normal_tilt_deg)
    if along:
        normal, down = np.array([0.0, np.cos(t), np.sin(t)]), np.array([0.0, -np.sin(t), np.cos(t)])
    else:
        normal, down = np.array([0.0, np.sin(t), np.cos(t)]), np.array([0.0, np.cos(t), -np.sin(t)])
    right = np.cross(normal, down)
    pose = Pose(origin_mm=-DEPTH_MM / 2 * down + offset_mm * normal, axes=np.column_stack([right, normal, down]))
    return slice_labels(body, pose, depth_mm=DEPTH_MM, half_width_mm=40.0, mm_per_px=0.2)


def region_of(label_map: LabelMap):
    region = find_region(label_map.shown(), {Tissue.AORTA, Tissue.LV_CAVITY})
    assert region is not None
    return region


def axis_lengths_mm(label_map: LabelMap) -> tuple[float, float]:
    smaller, larger = ellipse_axes(region_of(label_map))
    return tuple(  # type: ignore[return-value]
        float(np.hypot(*(np.subtract(*ends)))) * label_map.mm_per_px for ends in (smaller, larger)
    )


@pytest.mark.parametrize("tilt_deg", [0, 10, 21, 30, 40])
def test_tube_loses_the_cosine(tilt_deg: float) -> None:
    """21° gives 0.934 and 30° gives 0.866."""
    roundness = measure_roundness("root", region_of(cut(tube, tilt_deg))).value

    assert roundness == pytest.approx(np.cos(np.radians(tilt_deg)), abs=0.005)


@pytest.mark.parametrize(("tilt_deg", "printed"), [(10, 0.990), (20, 0.962), (30, 0.918), (40, 0.859)])
def test_ventricle_hides_a_tilted_cross_section(tilt_deg: float, printed: float) -> None:
    t = np.radians(tilt_deg)
    expected = np.sqrt(np.cos(t) ** 2 + np.sin(t) ** 2 / K**2)
    roundness = measure_roundness("lv", region_of(cut(ventricle, tilt_deg))).value

    assert expected == pytest.approx(printed, abs=0.001)
    assert roundness == pytest.approx(expected, abs=0.005)


@pytest.mark.parametrize(("tilt_deg", "printed"), [(0, 1.0), (10, 0.975), (20, 0.912), (30, 0.836)])
def test_tilted_long_axis_is_foreshortened(tilt_deg: float, printed: float) -> None:
    t = np.radians(tilt_deg)
    expected = 1 / np.sqrt(np.cos(t) ** 2 + K**2 * np.sin(t) ** 2)
    _, length_mm = axis_lengths_mm(cut(ventricle, tilt_deg, along=True))

    assert expected == pytest.approx(printed, abs=0.001)
    assert length_mm / (2 * K * RADIUS_MM) == pytest.approx(expected, abs=0.005)


@pytest.mark.parametrize(("share", "printed"), [(0.2, 0.98), (0.3, 0.95), (0.4, 0.92), (0.5, 0.87)])
def test_plane_off_the_centre_cuts_a_chord(share: float, printed: float) -> None:
    expected = np.sqrt(1 - share**2)
    diameter_mm, _ = axis_lengths_mm(cut(ventricle, 0, share * RADIUS_MM, along=True))

    assert expected == pytest.approx(printed, abs=0.005)
    assert diameter_mm / (2 * RADIUS_MM) == pytest.approx(expected, abs=0.005)


def test_body_that_the_plane_misses_is_not_found() -> None:
    assert find_region(cut(ventricle, 0, RADIUS_MM + 1, along=True).shown(), {Tissue.LV_CAVITY}) is None
