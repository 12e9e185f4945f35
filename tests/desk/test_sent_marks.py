"""Marks that came with a study in a marks file, over the wire: what the stage shows of them."""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from fanlight.desk import Desk, DeskOptions
from fanlight.desk.marks_file import sent_with
from fanlight.review.conclude import conclude
from fanlight.review.events import ClipFinished, StudyAssembled
from fanlight.store import Store, add_study, clip_readings, open_store, record_event
from fanlight.study import Breathing, House, MarkedDistance
from tests.desk.browser import Browser, new_id
from tests.desk.test_decided_movements import ROCKED, causes, landmarks
from tests.heart.fit.cases import FOUR_CHAMBER
from tests.intake.dicom_files import native, speckle
from tests.plane.clips import PX_PER_MM, clip
from tests.report.sample import sample_review

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


def test_a_scale_that_was_sent_holds_while_the_study_is_still_being_read(store: Store, desk: Desk) -> None:
    """A clip that has none from its file: planes and probe go by the two points from the first draft on."""
    ruler = MarkedDistance(start=(100.0, 400.0), end=(500.0, 400.0), distance_mm=400.0 / PX_PER_MM)
    whole = clip(FOUR_CHAMBER)
    bare = replace(whole, layout=replace(whole.layout, scale=None, scale_reason="the file states none"))
    marks = replace(landmarks(ROCKED), scale=ruler)
    sample = sample_review().study
    request = replace(sample.request, breathing=Breathing.NORMAL)
    study = replace(sample, request=request, clips=(bare.clip,), marks=(marks,))
    finished = conclude(study, (bare,), (), desk.house, marks={"k1": marks})

    key = add_study(store, new_id(), title="Juniper").id
    for event in (StudyAssembled(study=study), ClipFinished(reading=bare, from_cache=False)):
        record_event(store, key, event, house=desk.house.fingerprint())
    early = desk.draft(key)

    assert early is not None
    assert causes(finished) == ["rock_plus"]
    assert causes(early) == causes(finished)
    assert early.stands == finished.stands
    assert early.readings == finished.readings
    assert sent_with(study)["k1"].scale == ruler
