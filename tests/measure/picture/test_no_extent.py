"""Marks set by a slip of the hand, without length or area: each gives a reason, and none ends a review."""

from __future__ import annotations

import pytest

from fanlight.study import DrawnMark, Landmark
from tests.measure.picture.marked import BASE, CHORDAE, ED, ES, FOUR, TRUNK, line, measured, point, trace

_RING = (point(Landmark.MITRAL_SEPTAL_HINGE, 50, 20), point(Landmark.MITRAL_PARIETAL_HINGE, 50, 40))


@pytest.mark.parametrize(
    ("view", "marks"),
    [
        pytest.param(TRUNK, (line("Ao", 0.0), line("MPA", 12.0)), id="a ratio of nothing"),
        pytest.param(BASE, (line("Ao", 0.0), line("LA", 20.0)), id="LA:Ao without an aorta"),
        pytest.param(CHORDAE, (line("LVIDd", 0.0, ED), line("LVIDs", 20.0, ES)), id="shortening of nothing"),
        pytest.param(FOUR, (trace("EDV", [(10, 10), (20, 20), (30, 30)]),), id="a trace on a line"),
        pytest.param(FOUR, (*_RING, point(Landmark.LV_APEX, 50, 30)), id="an apex on the middle of its ring"),
        pytest.param(FOUR, (*_RING, point(Landmark.LV_APEX, 50, 20)), id="an apex on a hinge"),
        pytest.param(
            FOUR,
            (point(Landmark.MITRAL_SEPTAL_HINGE, 50, 20), point(Landmark.MITRAL_PARIETAL_HINGE, 50, 20)),
            id="a ring of one point",
        ),
    ],
)
def test_what_has_no_extent_measures_nothing_and_harms_nothing(view: str, marks: tuple[DrawnMark, ...]) -> None:
    found = measured(*marks, view=view)

    assert all(item.value is None or item.value > 0 for item in found)
    if any(mark.kind.value != "point" for mark in marks):
        assert any("no extent" in item.reason for item in found)
