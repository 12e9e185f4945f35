"""A whole study where the package that runs the picture network is not installed, as on Intel Macs.

The process that reads the clips knows nothing of what a test changed here. So a fresh one is started, and told by what
Python itself reads at its start: a folder on PYTHONPATH whose `sitecustomize` takes the package away.
"""

from __future__ import annotations

import multiprocessing
import os
import sys
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path

import pytest

from fanlight.critique.picture_masks import REACH
from fanlight.recognise.picture_network import network_hash, shipped_network
from fanlight.reference.load import load_house
from fanlight.review.cache import NoCache
from fanlight.review.events import ReviewFinished
from fanlight.review.opening import OpenStudy, ReviewOptions
from fanlight.review.run import review_study
from fanlight.review.stages import stage_keys
from fanlight.study import Clip, Mode, Patient, StudyReview, Verdict
from tests.review.dark_hole import dark_hole

NO_CONNECTIONS = Path(__file__).resolve().parent.parent / "no_network_site" / "sitecustomize.py"
TAKEN_AWAY = """
import runpy, sys
runpy.run_path({no_connections!r})
sys.modules["onnxruntime"] = None  # as Python marks what is not to be found
"""


@pytest.fixture
def without_onnxruntime(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Take the package away from this process and from those that it starts."""
    site = tmp_path / "site"
    site.mkdir()
    (site / "sitecustomize.py").write_text(TAKEN_AWAY.format(no_connections=str(NO_CONNECTIONS)), encoding="utf-8")
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join((str(site), os.environ.get("PYTHONPATH", ""))))
    monkeypatch.setitem(sys.modules, "onnxruntime", None)
    monkeypatch.setattr("fanlight.review.processes.process_context", lambda: multiprocessing.get_context("spawn"))
    for remembered in (network_hash, shipped_network):
        remembered.cache_clear()
    yield
    for remembered in (network_hash, shipped_network):
        remembered.cache_clear()


CLIP = Clip(
    key="k", number=1, name="k.dcm", container="DICOM", rows=320, cols=400, n_frames=12, is_colour=False
)  # fmt: skip


def review(folder: Path) -> StudyReview:
    with OpenStudy() as opened:
        *_, last = review_study(folder, load_house(), opened, ReviewOptions(workers=1), NoCache())
    assert isinstance(last, ReviewFinished)
    return last.review


@pytest.mark.usefixtures("without_onnxruntime")
def test_a_study_is_reviewed_whole_and_says_what_was_not_looked_at(tmp_path: Path) -> None:
    assert find_spec("onnxruntime") is None
    folder = tmp_path / "study"
    folder.mkdir()
    dark_hole(folder / "IM1.dcm")

    told = review(folder)
    assert told.refused == ()
    (reading,) = told.readings
    assert reading.picture is not None

    assert (reading.frames_read, reading.mode.mode, reading.damage) == (4, Mode.TWO_D, None)
    assert "no usable onnxruntime" in reading.picture.reason
    assert "install fanlight again" in reading.picture.reason
    assert reading.picture.network == ""
    assert reading.view.view == ""
    for said in (reading.view.reason, reading.layout.scale_reason):
        assert "screen text cannot be read" in said
    masks = next(item for item in reading.findings if item.criterion == REACH)
    assert (masks.verdict, masks.reason) == (Verdict.NOT_ASSESSABLE, reading.picture.reason)
    assert any(item.verdict is not Verdict.NOT_ASSESSABLE for item in reading.findings)


def test_what_was_kept_without_it_is_read_anew_once_it_is_there(request: pytest.FixtureRequest) -> None:
    """Layout and view rest on the text, all else on them; only the frames are the same."""
    there = stage_keys(CLIP, Patient(), None, load_house())
    request.getfixturevalue("without_onnxruntime")
    missing = stage_keys(CLIP, Patient(), None, load_house())

    assert there.frames == missing.frames
    assert not set(there.all()) & set(missing.all()) - {there.frames}
