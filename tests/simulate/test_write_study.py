"""A simulated study on the disk: valid files that tell nothing, and a truth that no review opens."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pydicom
import pytest

from fanlight.heart.thorax import REST
from fanlight.heart.tissue import Tissue
from fanlight.reference.load import load_house
from fanlight.reference.views import match_view_text, read_views
from fanlight.simulate.machine.beams import line_geometry
from fanlight.simulate.screen.screen import place_sector
from fanlight.simulate.visit.examination import Examination
from fanlight.simulate.visit.shoot import Wanted
from fanlight.simulate.visit.shot_truth import labels_of, landmarks_of
from fanlight.simulate.visit.truth import TruthPlaceError, settle_truth_folder
from fanlight.simulate.visit.write_study import FolderInUseError, make_folders, write_study
from fanlight.study import Landmark, Mode
from tests.simulate.small_study import examination, small

ROOT = Path(__file__).resolve().parents[2]
WATCHED = Path(__file__).parent / "watched_site"


@pytest.fixture(scope="module")
def whole() -> Examination:
    return examination()


@pytest.fixture(scope="module")
def tiny(whole: Examination) -> Examination:
    """A still, an M-mode still and a clip, a clip with a fault among them."""
    still = next(s for s in whole.shots if s.setting.recording.is_still and s.setting.mode.value == "two_d")
    strip = next(s for s in whole.shots if s.setting.mode.value == "m_mode" and s.setting.recording.is_still)
    faulty = next(s for s in whole.shots if s.faults and not s.setting.recording.is_still)
    return small(whole, (still.number, strip.number, faulty.number))


def write(made: Examination, folder: Path, *, workers: int = 1, **more: Any) -> Wanted:
    wanted = Wanted(study=folder / "study", truth=folder / "study-truth", **more)
    make_folders(wanted)
    assert [event.done for event in write_study(made, wanted, workers=workers)] == list(range(1, len(made.shots) + 1))
    return wanted


@pytest.fixture(scope="module")
def written(tiny: Examination, tmp_path_factory: pytest.TempPathFactory) -> Wanted:
    return write(tiny, tmp_path_factory.mktemp("plain"), label_maps=True)


def short(made: Examination) -> Examination:
    """Return its 2-D clip alone, a few frames of it."""
    numbers = [s.number for s in made.shots if not s.setting.recording.is_still]
    return small(made, numbers, beats=0.1)


def truths(wanted: Wanted) -> list[dict[str, Any]]:
    return [json.loads(path.read_text()) for path in sorted(wanted.truth.glob("0*.json"))]


def test_files_are_valid_dicom(written: Wanted) -> None:
    """dciodvfy from Debian's dicom3tools, the open validator, finds no error."""
    checker = shutil.which("dciodvfy")
    assert checker, "dciodvfy is missing; install the packages of scripts/system-packages.txt"
    files = sorted(written.study.glob("*.dcm"))

    assert len(files) == 3
    for file in files:
        said = subprocess.run([checker, str(file)], capture_output=True, text=True, check=False, timeout=60)
        assert [line for line in said.stderr.splitlines() if line.startswith("Error")] == []


def test_an_unlabelled_study_names_no_view(written: Wanted) -> None:
    """Neither in tags nor in names of files, nor in the request sheet, nor on the screen."""
    house = load_house()
    titles = [view.title.encode().lower() for view in read_views(house).values()]
    for file in written.study.iterdir():
        content = file.read_bytes().lower()
        assert match_view_text(house, file.stem).view == ""
        assert not any(title in content for title in titles)
        assert b"parasternal" not in content
        assert b"truth" not in content
        assert b"fault" not in content
    for truth in truths(written):
        assert not any(match_view_text(house, item["text"]).view for item in truth["texts"])
        data = pydicom.dcmread(written.study / truth["file"], stop_before_pixels=True)
        assert "ViewName" not in data
        assert "ViewCodeSequence" not in data
        assert match_view_text(house, str(data.get("SeriesDescription", ""))).view == ""


def test_a_labelled_study_names_the_view_that_the_hand_says(tiny: Examination, tmp_path: Path) -> None:
    wanted = write(short(tiny), tmp_path, labelled=True)
    (truth,) = truths(wanted)
    title = read_views(load_house())[truth["said_view"]].title
    data = pydicom.dcmread(wanted.study / truth["file"], stop_before_pixels=True)

    assert data.SeriesDescription == title
    assert title in [item["text"] for item in truth["texts"]]


def test_strips_alone_can_name_their_view(tiny: Examination, tmp_path: Path) -> None:
    """As people label what they measure on: the M-mode says its view, the picture beside it none."""
    seen = [next(shot for shot in tiny.shots if (shot.mode is Mode.M_MODE) is strip) for strip in (False, True)]
    wanted = write(replace(tiny, shots=tuple(seen)), tmp_path, labels_strips=True)
    house = load_house()
    said = {
        truth["mode"]: match_view_text(
            house, str(pydicom.dcmread(wanted.study / truth["file"]).get("SeriesDescription", ""))
        ).view
        for truth in truths(wanted)
    }

    assert said["m_mode"] == next(truth["said_view"] for truth in truths(wanted) if truth["mode"] == "m_mode")
    assert [view for mode, view in said.items() if mode != "m_mode"] == [""]


def test_the_truth_tells_pose_faults_and_habits(tiny: Examination, written: Wanted) -> None:
    study = json.loads((written.truth / "study.json").read_text())
    files = truths(written)

    assert study["files"] == [truth["file"] for truth in files] == sorted(p.name for p in written.study.glob("*.dcm"))
    assert study["seed"] == tiny.seed
    assert study["ring"] == "A"
    for truth, shot in zip(files, tiny.shots, strict=True):
        pose = truth["standard_pose"]
        assert np.allclose(pose["beam"], shot.standard.pose.z, atol=1e-6)
        assert np.allclose(np.cross(pose["beam"], pose["marker"]), pose["normal"], atol=1e-5)  # y = z × x
        assert [f["fault"]["key"] for f in truth["faults"]] == [fault.key for fault, _ in shot.faults]
        assert all(f["habit"] in ("", *(h["key"] for h in study["hand"]["habits"])) for f in truth["faults"])
    assert any(truth["faults"] for truth in files)


def test_landmarks_lie_where_the_labels_say(whole: Examination) -> None:
    """A chamber's centre, where the plane passes within 4 mm of it, lies in pixels of its cavity; mirrored too.

    Left ventricle, left atrium and aortic root of a dog of 12 kg are 18 to 35 mm wide.
    """
    cavities = {
        Landmark.LV_CENTRE: Tissue.LV_CAVITY,
        Landmark.LA_CENTRE: Tissue.LA_CAVITY,
        Landmark.AORTIC_SINUS_CENTRE: Tissue.AORTA,
    }
    checked = 0
    for setting in {shot.setting.view: shot.standard for shot in whole.shots}.values():
        lines = line_geometry(setting.probe, setting.console)
        placed = place_sector(
            whole.layout,
            left_deg=lines.left_deg,
            right_deg=lines.right_deg,
            face_radius_mm=lines.apex_mm,
            depth_mm=lines.depth_mm,
        )
        for is_mirrored in (False, True):
            labels = labels_of(whole.animal, REST, setting.pose, placed, is_mirrored).shown()
            labels = labels[:, ::-1] if is_mirrored else labels
            for point in landmarks_of(whole.animal, REST, setting.pose, placed, is_mirrored):
                cavity = cavities.get(Landmark[point.landmark])
                if cavity is None or not point.in_picture or abs(point.off_plane_mm) > 4.0:
                    continue
                row, col = round(point.row_px) - placed.box.row0, round(point.col_px) - placed.box.col0
                assert labels[row, col] == cavity
                checked += 1
    assert checked >= 10


def test_label_maps_are_as_large_as_the_picture(written: Wanted) -> None:
    for truth in truths(written):
        box = truth["picture"]["box"]
        for moment in truth["moments"]:
            tissue = np.load(written.truth / moment["label_map"])["tissue"]
            assert tissue.shape == (box["row1"] - box["row0"], box["col1"] - box["col0"])


def test_the_same_seed_gives_the_same_bytes(tiny: Examination, tmp_path: Path) -> None:
    """However many processes make it."""
    alone = write(short(tiny), tmp_path / "alone")
    together = write(short(tiny), tmp_path / "together", workers=2)

    for folder in ("study", "truth"):
        first, second = getattr(alone, folder), getattr(together, folder)
        names = sorted(path.name for path in first.iterdir())
        assert names == sorted(path.name for path in second.iterdir())
        assert all((first / name).read_bytes() == (second / name).read_bytes() for name in names)


def test_another_seed_gives_other_pictures(whole: Examination, tmp_path: Path) -> None:
    other = replace(whole, seed=whole.seed + 1)  # the same animal, hand and machine: only speckle and noise differ
    first = write(small(whole, (1,), beats=0.1), tmp_path / "a")
    second = write(small(other, (1,), beats=0.1), tmp_path / "b")
    pixels = [pydicom.dcmread(item.study / "0001.dcm").pixel_array.astype(float) for item in (first, second)]

    assert np.abs(pixels[0] - pixels[1]).mean() > 0.5


def test_a_review_reads_the_study_and_never_opens_the_truth(written: Wanted, tmp_path: Path) -> None:
    """Every process of the review notes what it opens or lists; the truth lies right beside the study."""
    notes = tmp_path / "opened"
    environment = dict(os.environ) | {
        "FANLIGHT_CACHE": str(tmp_path / "cache"),
        "FANLIGHT_DATA": str(tmp_path / "data"),
        "FANLIGHT_OPENED": str(notes),
        "PYTHONPATH": os.pathsep.join([str(WATCHED), *filter(None, [os.environ.get("PYTHONPATH")])]),
    }
    out = tmp_path / "out"
    done = subprocess.run(
        [sys.executable, "-m", "fanlight.cli", "review", str(written.study), "--out", str(out), "--quiet"],
        cwd=ROOT, env=environment, capture_output=True, text=True, check=False, timeout=300,
    )  # fmt: skip
    opened = set(notes.read_text().splitlines())
    review = json.loads((out / "review.json").read_text())

    assert done.returncode == 0, done.stderr
    assert review["refused"] == []
    assert len(review["readings"]) == 3
    assert {str(file) for file in written.study.glob("*.dcm")} <= opened
    assert [name for name in opened if name.startswith(str(written.truth))] == []


@pytest.mark.parametrize("inside", ["study/truth", "study", "."])
def test_a_truth_inside_the_study_is_refused(inside: str, tmp_path: Path) -> None:
    with pytest.raises(TruthPlaceError, match="the truth must lie outside the study"):
        settle_truth_folder(tmp_path / "study", tmp_path / inside)


def test_the_truth_lies_beside_the_study_by_default(tmp_path: Path) -> None:
    assert settle_truth_folder(tmp_path / "study", None) == tmp_path / "study-truth"


def test_nothing_is_written_over(tmp_path: Path) -> None:
    (tmp_path / "study").mkdir()
    (tmp_path / "study" / "mine.txt").write_text("mine")

    with pytest.raises(FolderInUseError, match="expected a new or empty folder, found something in it"):
        make_folders(Wanted(study=tmp_path / "study", truth=tmp_path / "truth"))
    assert (tmp_path / "study" / "mine.txt").read_text() == "mine"
    assert not (tmp_path / "truth").exists()
