"""Shapes that an oblique plane makes of a tube and of an ellipsoid, against closed formulas.

The formulas are plane geometry: a tube of circular section cut at an angle a to its square section is an ellipse of
axis ratio cos a; an ellipsoid of revolution of length over diameter k, cut at a to its short axis, has the ratio
sqrt(cos^2 a + sin^2 a / k^2), and a plane tilted by a off its long axis shows 1 / sqrt(cos^2 a + k^2 sin^2 a) of its
length. The printed values are those of a table worked out from them for k = 1.65.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from fanlight.plane.rounds import axis_ratio
from fanlight.study import Landmark, Verdict
from tests.plane.clips import APICAL, BASE, CHORDAE, FOUR, clip, marked, must, oval, point, told

K = 1.65


def cut_ellipsoid(tilt_deg: float) -> np.ndarray:
    """Return the outline (point, 2) of the ellipsoid x^2 + y^2 + (z / k)^2 = 1 in a plane tilted about x."""
    tilt = math.radians(tilt_deg)
    out = np.array([0.0, math.cos(tilt), math.sin(tilt)])  # in the plane, across the axis that it is tilted about
    angles = np.linspace(0, math.tau, 400, endpoint=False)
    rays = np.cos(angles)[:, None] * np.array([1.0, 0.0, 0.0]) + np.sin(angles)[:, None] * out
    reach = 1.0 / np.sqrt(rays[:, 0] ** 2 + rays[:, 1] ** 2 + (rays[:, 2] / K) ** 2)
    return np.stack([np.cos(angles) * reach, np.sin(angles) * reach], axis=-1)


@pytest.mark.parametrize(("tilt_deg", "ratio"), [(10, 0.990), (20, 0.962), (30, 0.918), (40, 0.859)])
def test_a_ventricle_cut_obliquely_is_as_oval_as_an_ellipsoid(tilt_deg: float, ratio: float) -> None:
    found = axis_ratio(cut_ellipsoid(tilt_deg))

    assert found == pytest.approx(
        math.hypot(math.cos(math.radians(tilt_deg)), math.sin(math.radians(tilt_deg)) / K), abs=1e-3
    )
    assert found == pytest.approx(ratio, abs=0.0006)


def test_the_shape_of_an_outline_is_neither_its_size_nor_its_place() -> None:
    outline = cut_ellipsoid(30)
    turned = outline @ np.array([[0.6, -0.8], [0.8, 0.6]]) * 37 + np.array([500, -80])

    assert axis_ratio(turned) == pytest.approx(axis_ratio(outline), rel=1e-6)
    assert axis_ratio(outline[::-1]) == pytest.approx(axis_ratio(outline), rel=1e-6)


@pytest.mark.parametrize(("tilt_deg", "verdict"), [(10, Verdict.MET), (40, Verdict.MISSED)])
def test_a_root_cut_obliquely_is_told_by_its_three_commissures(tilt_deg: float, verdict: Verdict) -> None:
    """A tube: cos 10 degrees is 0.98, cos 40 degrees 0.77."""
    radius, squeeze = 140.0, math.cos(math.radians(tilt_deg))
    names = (
        Landmark.COMMISSURE_RIGHT_NONCORONARY,
        Landmark.COMMISSURE_LEFT_NONCORONARY,
        Landmark.COMMISSURE_RIGHT_LEFT,
    )
    points = [
        point(name, (300 + radius * squeeze * math.sin(angle), 400 + radius * math.cos(angle)))
        for name, angle in zip(names, (0.4, 0.4 + math.tau / 3, 0.4 + 2 * math.tau / 3), strict=True)
    ]
    item = must(told(clip(BASE), "aorta_round", marks=marked(*points)))

    assert item.value == pytest.approx(squeeze, abs=1e-6)
    assert item.verdict is verdict


@pytest.mark.parametrize(("tilt_deg", "share", "verdict"), [
    (10, 0.975, Verdict.MET), (20, 0.912, Verdict.BORDERLINE), (30, 0.836, Verdict.MISSED),
])  # fmt: skip
def test_a_ventricle_cut_beside_its_apex_is_as_short_as_an_ellipsoid(
    tilt_deg: float, share: float, verdict: Verdict
) -> None:
    tilt = math.radians(tilt_deg)
    exact = 1 / math.sqrt(math.cos(tilt) ** 2 + K**2 * math.sin(tilt) ** 2)
    assert exact == pytest.approx(share, abs=0.0006)
    whole = marked(point(Landmark.LV_APEX, (120, 400)), point(Landmark.MITRAL_CENTRE, (480, 400)))
    short = marked(point(Landmark.LV_APEX, (480 - 360 * exact, 400)), point(Landmark.MITRAL_CENTRE, (480, 400)))
    item = must(
        told(clip(APICAL), "ventricle_length", marks=short, others=(clip(FOUR, number=2),), other_marks={"k2": whole})
    )

    assert item.value == pytest.approx(exact, abs=1e-6)
    assert item.verdict is verdict


@pytest.mark.parametrize(("short_px", "verdict"), [(98, Verdict.MET), (87, Verdict.BORDERLINE), (70, Verdict.MISSED)])
@pytest.mark.parametrize("turn_deg", [0, 35, 90])
def test_an_oval_ventricle_is_told_whichever_way_it_lies(short_px: float, verdict: Verdict, turn_deg: float) -> None:
    item = must(
        told(clip(CHORDAE), "ventricle_round", marks=marked(oval("Left ventricle", short_px, 100.0, turn_deg=turn_deg)))
    )

    assert item.value == pytest.approx(short_px / 100, abs=1e-3)
    assert item.verdict is verdict
    assert "short axis" in item.reason
