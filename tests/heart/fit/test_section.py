"""Cuts of an ellipsoid follow the geometry of the trade's sheet on views."""

import numpy as np
import pytest

from fanlight.heart.fit.section import section_axes

# A left ventricle 1.65 times as long as wide. Computed from geometry in the project's reference on views (section 1.1),
# before this code was written; half of the last printed digit.
LV = np.array([1.65, 1.0, 1.0])


def _normal(angle_deg):
    """Normal of a plane so far off the long axis (x)."""
    return np.array([np.sin(np.radians(angle_deg)), np.cos(np.radians(angle_deg)), 0.0])


@pytest.mark.parametrize(("off_deg", "seen"), [(10, 0.975), (20, 0.912), (30, 0.836)])
def test_plane_off_the_long_axis_foreshortens(off_deg, seen):
    """Length in a plane tilted off the true long axis."""
    assert section_axes(LV, _normal(off_deg), 0.0)[0] / 1.65 == pytest.approx(seen, abs=0.0006)


@pytest.mark.parametrize(("offset", "seen"), [(0.2, 0.98), (0.3, 0.95), (0.4, 0.92), (0.5, 0.87)])
def test_parallel_plane_off_centre_narrows(offset, seen):
    """Diameter in a plane along the axis that passes beside it by a share of the radius."""
    assert section_axes(LV, _normal(0), offset)[1] == pytest.approx(seen, abs=0.006)


@pytest.mark.parametrize(("tilt_deg", "ratio"), [(10, 0.990), (20, 0.962), (30, 0.918), (40, 0.859)])
def test_tilted_short_axis_is_oval(tilt_deg, ratio):
    """Shorter over longer axis of a short-axis cut."""
    longer, shorter = section_axes(LV, _normal(90 - tilt_deg), 0.0)
    assert shorter / longer == pytest.approx(ratio, abs=0.0006)


@pytest.mark.parametrize("tilt_deg", [10, 21, 30])
def test_tube_is_as_oval_as_the_cosine(tilt_deg):
    """A very long ellipsoid is a tube: shorter over longer axis is the cosine of the obliquity (identity)."""
    longer, shorter = section_axes(np.array([1000.0, 1.0, 1.0]), _normal(90 - tilt_deg), 0.0)
    assert shorter / longer == pytest.approx(np.cos(np.radians(tilt_deg)), abs=1e-4)


def test_plane_beside_the_ellipsoid_is_refused():
    """The message tells how far it reaches."""
    with pytest.raises(ValueError, match="misses the ellipsoid, which ends at 1"):
        section_axes(LV, _normal(0), 1.2)
