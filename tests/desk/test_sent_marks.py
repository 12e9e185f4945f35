"""Marks that came with a study in a marks file, over the wire: what the stage shows of them."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import numpy as np

from fanlight.desk import Desk, DeskOptions
from fanlight.store import clip_readings, open_store
from fanlight.study import House
from tests.desk.browser import Browser
from tests.intake.dicom_files import native, speckle

MARKS = """
[[mark]]
file = "a.dcm"
kind = "line"
frame = {frame}
points = [{{row = 20, col = 30}}, {{row = 60, col = 60}}]
label = "septum"

[[mark]]
file = "nowhere.dcm"
kind = "point"
points = [{{row = 20, col = 30}}]
label = "lost"
"""


def test_marks_sent_with_a_study_are_told_by_clip(tmp_path: Path, house: House) -> None:
    """Those of a file that is there; a marks file that comes later counts; frames count from 0 as on the wire."""
    path = native(tmp_path / "a.dcm", speckle(np.random.default_rng(4), 3, 90, 120), FrameTime="40")
    with open_store(tmp_path / "store") as store, Desk(store, house, DeskOptions(quiet_s=0.1)) as desk:
        browser = Browser(desk)
        browser.enter()
        study = browser.new_study()
        assert browser.get(f"/api/studies/{study}/marks/sent").json() == {}
        browser.put_file(study, "a.dcm", Path(path).read_bytes())
        browser.put_file(study, "marks.toml", MARKS.format(frame=2).encode())
        browser.post(f"/api/studies/{study}/complete")
        until = time.monotonic() + 120
        read: Any = {"marks": []}
        while len(clip_readings(store, study)) < 1 or not read["marks"]:  # the first file may be read alone first
            assert time.monotonic() < until
            time.sleep(0.1)
            read = browser.get(f"/api/studies/{study}").json()["study"] or {"marks": []}
        (clip,) = read["clips"]

        (found,) = browser.get(f"/api/studies/{study}/marks/sent").json().items()
        browser.put_file(study, "marks.toml", MARKS.format(frame=3).encode())
        later = browser.get(f"/api/studies/{study}/marks/sent").json()
        missing = browser.get("/api/studies/00000000-0000-4000-8000-000000000000/marks/sent")
        browser.close()

    assert [item["name"] for item in read["marks"]] == ["a.dcm", "nowhere.dcm"], "they travel with the study"
    key, marks = found
    assert key == clip["key"]
    (drawn,) = marks["drawn"]
    assert (drawn["kind"], drawn["frame"], drawn["label"]) == ("line", 1, "septum")
    assert drawn["points"] == [[20, 30], [60, 60]]
    assert later[key]["drawn"][0]["frame"] == 2
    assert missing.status_code == 404
