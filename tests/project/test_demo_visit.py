"""The demo's second study: its marks lie beside the truth, and the movements that were put in are named in their sense.

The truth is the simulator's own: by how much the hand stood off the standard plane (ring A).
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fanlight.intake.request_sheet import read_sheet
from fanlight.simulate.visit.shoot import Wanted
from fanlight.study import FileMarks
from scripts import demo_visit

ROOT = Path(__file__).resolve().parents[2]
TILTED, TURNED = 2, 5  # numbers of two clips


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write two of the clips: each is the same as in the whole study."""
    folder = tmp_path_factory.mktemp("visit")
    visit = demo_visit.draw_visit()
    shots = tuple(shot for shot in visit.shots if shot.number in (TILTED, TURNED))
    wanted = Wanted(study=folder / "study", truth=folder / "truth")
    demo_visit.write_visit(replace(visit, shots=shots), wanted, workers=1)
    return folder


@pytest.fixture(scope="module")
def truths(written: Path) -> dict[int, Any]:
    return {n: json.loads((written / "truth" / f"{n:04d}.json").read_text("utf-8")) for n in (TILTED, TURNED)}


@pytest.fixture(scope="module")
def marks(written: Path) -> tuple[FileMarks, ...]:
    sheet = read_sheet((written / "study" / demo_visit.MARKS).read_bytes(), demo_visit.MARKS)
    assert sheet.notes == ()
    return sheet.marks


def fanlight(command: str, written: Path, *arguments: str) -> str:
    environment = dict(os.environ) | {"FANLIGHT_CACHE": str(written / "cache")}
    done = subprocess.run(
        [sys.executable, "-m", "fanlight.cli", command, str(written / "study"), "--workers", "1", *arguments],
        cwd=ROOT, env=environment, capture_output=True, text=True, check=True, timeout=300,
    )  # fmt: skip
    return done.stdout


def test_marks_lie_a_hand_beside_landmarks_that_are_in_the_plane(
    marks: tuple[FileMarks, ...], truths: dict[int, Any]
) -> None:
    assert [each.name for each in marks] == [truths[n]["file"] for n in (TILTED, TURNED)]
    for each, truth in zip(marks, truths.values(), strict=True):
        sector = truth["picture"]["sector"]
        error_px = demo_visit.ERROR * (sector["far_px"] - sector["near_px"])
        true = {(m["frame"], one["landmark"]): one for m in truth["moments"] for one in m["landmarks"]}
        off = []
        for mark in each.drawn:
            landmark = true[mark.frame, mark.landmark]
            assert landmark["in_picture"]
            off.append(np.subtract(mark.points[0], (landmark["row_px"], landmark["col_px"])) / error_px)

        assert each.view == truth["view"]
        assert len({mark.landmark for mark in each.drawn}) >= 5  # fewer tell no pose to a letter (docs/pose-fit.md)
        assert 0.6 < np.std(off) < 1.4  # 0.6 and 1.4: more than three standard errors of 40 draws


def test_the_movements_that_were_put_in_are_named_in_their_sense(written: Path, truths: dict[int, Any]) -> None:
    out = written / "review"
    fanlight("review", written, "--out", str(out), "--quiet")
    draft = json.loads((out / "review.json").read_text("utf-8"))

    names = {item["clip"]["key"]: item["clip"]["name"] for item in draft["readings"]}
    told = {item["cause"]: [names[key] for key in item["clips"]] for item in draft["corrections"]}
    put_in = {truth["file"]: truth["faults"][0]["fault"]["key"] for truth in truths.values()}
    (tilted,), (turned,) = told.pop("tilt_plus"), told.pop("rotate_minus")
    assert told == {}
    assert (put_in[tilted], put_in[turned]) == ("tilt_plus", "rotate_counterclockwise")  # minus is counter-clockwise
    letter = (out / "letter.html").read_text("utf-8")
    assert len(re.findall(">SIMULATION: after the movement", letter)) == 2


def test_check_says_the_movements_while_the_animal_is_on_the_table(written: Path) -> None:
    said = " ".join(fanlight("check", written, "--quiet").split())

    assert "Probe tilted too far" in said
    assert "tilt the cable end cranioventral" in said
    assert "turn the probe clockwise" in said
