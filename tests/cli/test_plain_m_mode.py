"""A plain picture of an M-mode with two marked points an axis, from the command line to its numbers."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import pytest

from tests.cli.sealed import Commands
from tests.measure.m_mode.drawn_strip import MM_PER_ROW, MS_PER_COL
from tests.measure.m_mode.test_on_screen import BOX, HEART, drawn_screen

DOWN, ACROSS = 200, 250  # rows and columns between the marks, on the scales beside the strip
MARKS = f"""
[[file]]
name = "strip.png"
view = "right_parasternal_short_axis_chordae"
points = [{{row = {BOX.row0 + 50}, col = 12}}, {{row = {BOX.row0 + 50 + DOWN}, col = 12}}]
distance_mm = {DOWN * MM_PER_ROW}

[[strip_scale]]
file = "strip.png"
axis = "time"
points = [{{row = {BOX.row1 + 10}, col = {BOX.col0 + 50}}}, {{row = {BOX.row1 + 10}, col = {BOX.col0 + 50 + ACROSS}}}]
amount = {ACROSS * MS_PER_COL}
"""


def test_a_png_with_marked_scales_is_measured(commands: Commands, tmp_path: Path) -> None:
    """The sizes that were drawn, over the whole strip and not what the marks span; what was taken is said."""
    (tmp_path / "study").mkdir()
    cv2.imwrite(str(tmp_path / "study" / "strip.png"), cv2.cvtColor(drawn_screen(), cv2.COLOR_RGB2BGR))
    (tmp_path / "marks.toml").write_text(MARKS, "utf-8")

    done = commands(
        "review", str(tmp_path / "study"), "--marks", str(tmp_path / "marks.toml"), "--out", str(tmp_path / "out"),
        home=tmp_path,
    )  # fmt: skip

    assert done.returncode == 0, done.stderr
    found = {
        item["name"] or item["label"]: item
        for item in json.loads((tmp_path / "out" / "review.json").read_text("utf-8"))["measurements"]
    }
    assert found["lvidd"]["value"] == pytest.approx(HEART.cavity, rel=0.03)
    assert found["lvids"]["value"] == pytest.approx(HEART.cavity * (1 - HEART.shortening), rel=0.03)
    assert found["heart rate on the strip"]["value"] == pytest.approx(60_000 / HEART.beat_ms, rel=0.01)
    assert f"rows {BOX.row0} to {BOX.row1 - 1}, columns {BOX.col0} to {BOX.col1 - 1}" in found["lvidd"]["reason"]
