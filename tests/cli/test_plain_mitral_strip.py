"""A plain picture of a strip through the mitral valve, from the command line to its numbers on every paper."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import pytest

from tests.cli.sealed import Commands
from tests.measure.m_mode.drawn_strip import MM_PER_ROW, MS_PER_COL
from tests.measure.valve_strip.drawn_mitral import COL0, ROW0, Valve, screen_of, strip_of

DOWN, ACROSS = 200, 250  # rows and columns between the marks, on the scales beside the strip
VALVE = Valve(e_mm=8.0, a_mm=10.0, rest_mm=12.0)
MARKS = f"""
[[file]]
name = "strip.png"
view = "right_parasternal_short_axis_mitral_valve"
points = [{{row = {ROW0 + 50}, col = 12}}, {{row = {ROW0 + 50 + DOWN}, col = 12}}]
distance_mm = {DOWN * MM_PER_ROW}

[[strip_scale]]
file = "strip.png"
axis = "time"
points = [{{row = {ROW0 + 430}, col = {COL0 + 50}}}, {{row = {ROW0 + 430}, col = {COL0 + 50 + ACROSS}}}]
amount = {ACROSS * MS_PER_COL}
"""


def test_the_separation_that_was_drawn_stands_on_the_study_sheet_alone(commands: Commands, tmp_path: Path) -> None:
    """No table says yet how often it is right: it is kept off the clinical summary, with what nothing judges."""
    (tmp_path / "study").mkdir()
    screen = screen_of(strip_of(VALVE), VALVE.starts_ms)
    cv2.imwrite(str(tmp_path / "study" / "strip.png"), cv2.cvtColor(screen, cv2.COLOR_RGB2BGR))
    (tmp_path / "marks.toml").write_text(MARKS, "utf-8")

    done = commands(
        "review", str(tmp_path / "study"), "--marks", str(tmp_path / "marks.toml"), "--out", str(tmp_path / "out"),
        home=tmp_path,
    )  # fmt: skip

    assert done.returncode == 0, done.stderr
    review = json.loads((tmp_path / "out" / "review.json").read_text("utf-8"))
    (epss,) = (item for item in review["measurements"] if item["name"] == "epss")
    assert epss["value"] == pytest.approx(VALVE.e_mm, abs=0.6)
    assert epss["sheet_only"]
    assert "through the tips of the leaflets" in epss["validity"]
    assert "EPSS" in done.stdout
    (sheet,) = (tmp_path / "out").glob("*sheet*.html")
    (summary,) = (tmp_path / "out").glob("*summary*.html")
    assert "EPSS" in sheet.read_text("utf-8")
    assert "EPSS" not in summary.read_text("utf-8")
