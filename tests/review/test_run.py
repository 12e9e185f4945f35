"""The whole job on real files: one broken file never stops a study, and nothing of who it is stays behind."""

from __future__ import annotations

import json
import shutil
import sqlite3
import zlib
from dataclasses import replace
from pathlib import Path

import pydicom
import pytest
from pydicom.data import get_testdata_file

from fanlight.reference.load import load_house
from fanlight.review.cache import DiskCache, NoCache
from fanlight.review.events import ClipFinished, Event, FileRefused, FilesFound, ReviewFinished, StudyAssembled
from fanlight.review.opening import NamedFiles, OpenStudy, ReadBefore, ReviewOptions
from fanlight.review.run import review_study
from fanlight.study import Breathing, Mode, Patient, Request, Species, StudyReview
from fanlight.study.codec import to_plain

REAL_CLIP = Path(str(get_testdata_file("examples_ybr_color.dcm")))
SECRET = "Zebedee Quillfeather"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A study folder: a clip that names an animal, a still, one cut half-way, and three files that cannot be used."""
    root = tmp_path_factory.mktemp("study")
    data = pydicom.dcmread(REAL_CLIP)
    data.PatientName = SECRET
    data.PatientID = "QF-77"
    data.InstitutionName = "Quillfeather House"
    data.save_as(root / "clip.dcm")
    shutil.copy(str(get_testdata_file("examples_rgb_color.dcm")), root / "still.dcm")
    whole = REAL_CLIP.read_bytes()  # 36 kB of header, then 30 frames of 6 kB
    (root / "half.dcm").write_bytes(whole[:112_000])
    (root / "cut.dcm").write_bytes(whole[:40_000])
    shutil.copy(str(get_testdata_file("CT_small.dcm")), root / "other.dcm")
    (root / "notes.txt").write_text("Dear all, the scan is attached.")
    return root


def run(path: Path, cache: NoCache | DiskCache, workers: int = 1) -> tuple[list[Event], StudyReview]:
    with OpenStudy() as opened:
        events = list(review_study(path, load_house(), opened, ReviewOptions(workers=workers), cache))
    last = events[-1]
    assert isinstance(last, ReviewFinished)
    return events, last.review


@pytest.fixture(scope="module")
def reviewed(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[list[Event], StudyReview, Path]:
    store = tmp_path_factory.mktemp("cache")
    with DiskCache(store) as cache:
        events, review = run(folder, cache)
    return events, review, store


def test_events_come_in_order(reviewed: tuple[list[Event], StudyReview, Path]) -> None:
    events, _, _ = reviewed
    kinds = [type(event) for event in events]

    assert kinds[0] is FilesFound
    assert kinds.index(StudyAssembled) < kinds.index(ClipFinished)
    assert kinds[-1] is ReviewFinished


def test_broken_files_are_named_with_a_remedy_and_the_rest_is_read(
    reviewed: tuple[list[Event], StudyReview, Path],
) -> None:
    events, review, _ = reviewed
    said = {event.refusal.name for event in events if isinstance(event, FileRefused)}

    assert {item.clip.name for item in review.readings} >= {"clip.dcm", "still.dcm"}
    assert {"other.dcm", "notes.txt"} <= said
    assert {item.name for item in review.refused} >= said
    assert all(item.expected and item.found and item.remedy for item in review.refused)


def test_a_clip_that_breaks_off_is_used_up_to_there(reviewed: tuple[list[Event], StudyReview, Path]) -> None:
    """The bytes hold twelve whole frames of thirty; the refusal names the thirteenth, counted from 1."""
    _, review, _ = reviewed
    readings = {item.clip.name: item for item in review.readings}
    refused = {item.name: item for item in review.refused}

    assert readings["clip.dcm"].frames_read == 30
    assert readings["half.dcm"].frames_read == 12
    assert readings["half.dcm"].damage == refused["half.dcm"]
    assert refused["half.dcm"].place == "frame 13"
    assert "12 frames before it are used" in refused["half.dcm"].remedy
    assert readings["half.dcm"].findings


def test_a_clip_that_breaks_off_in_its_first_frame_is_refused(
    reviewed: tuple[list[Event], StudyReview, Path],
) -> None:
    _, review, _ = reviewed
    refused = {item.name: item for item in review.refused}

    assert "cut.dcm" not in {item.clip.name for item in review.readings}
    assert refused["cut.dcm"].expected == "at least one frame that can be decoded"
    assert "frame 1 " in refused["cut.dcm"].found


def test_a_second_run_reads_no_clip_again(folder: Path, reviewed: tuple[list[Event], StudyReview, Path]) -> None:
    _, first, store = reviewed
    with DiskCache(store) as cache:
        events, second = run(folder, cache)
    finished = [event for event in events if isinstance(event, ClipFinished)]

    assert finished
    assert all(event.from_cache for event in finished)
    bare = tuple(replace(item, seconds=()) for item in first.readings)
    assert to_plain(second.readings) == to_plain(bare)


def test_two_workers_give_the_same_review(folder: Path, reviewed: tuple[list[Event], StudyReview, Path]) -> None:
    _, first, _ = reviewed
    _, second = run(folder, NoCache(), workers=2)

    def bare(review: StudyReview) -> object:
        return to_plain(replace(review, readings=tuple(replace(item, seconds=()) for item in review.readings)))

    assert bare(second) == bare(first)


def test_the_cache_holds_no_identity(reviewed: tuple[list[Event], StudyReview, Path]) -> None:
    _, review, store = reviewed
    assert review.study.identity.animal_name  # the clinical review keeps it

    db = sqlite3.connect(store / "stages.sqlite")
    values = [zlib.decompress(blob).decode() for (blob,) in db.execute("SELECT value FROM stage")]
    db.close()
    raw = b"".join(file.read_bytes() for file in store.iterdir())

    assert values
    for word in ("Zebedee", "Quillfeather", "QF-77"):
        assert word.encode() not in raw
        assert not any(word in value for value in values)


def test_the_scratch_folder_is_gone_afterwards(folder: Path) -> None:
    with OpenStudy() as opened:
        scratch = opened.scratch
        assert scratch.exists()

    assert not scratch.exists()


def test_a_zip_gives_what_its_folder_gives(
    folder: Path, reviewed: tuple[list[Event], StudyReview, Path], tmp_path: Path
) -> None:
    _, first, store = reviewed
    archive = shutil.make_archive(str(tmp_path / "study"), "zip", folder)
    with DiskCache(store) as cache:
        _, second = run(Path(archive), cache)

    assert {item.clip.key for item in second.readings} == {item.clip.key for item in first.readings}


def test_options_reach_the_review(folder: Path) -> None:
    from fanlight.intake import RequestSheet

    sheet = RequestSheet(
        request=Request(question="Is the atrium large?", breathing=Breathing.NORMAL),
        patient=Patient(species=Species.CAT, weight_kg=4.2),
    )
    with OpenStudy() as opened:
        options = ReviewOptions(request=sheet)
        events = list(review_study(folder / "still.dcm", load_house(), opened, options, NoCache()))
    last = events[-1]
    assert isinstance(last, ReviewFinished)
    study = last.review.study

    assert (study.patient.species, study.patient.weight_kg) == (Species.CAT, 4.2)
    assert study.request.breathing is Breathing.NORMAL


def test_nothing_readable_still_ends_with_a_review(tmp_path: Path) -> None:
    (tmp_path / "a.dcm").write_bytes(b"not a picture at all")

    _, review = run(tmp_path, NoCache())

    assert review.readings == ()
    assert len(review.refused) == 1
    json.dumps(to_plain(review))


def test_modes_are_what_a_human_saw(reviewed: tuple[list[Event], StudyReview, Path]) -> None:
    """tests/real/expected.toml: the clip is 2-D, the still power Doppler."""
    _, review, _ = reviewed
    modes = {item.clip.name: item.mode.mode for item in review.readings}

    assert (modes["clip.dcm"], modes["still.dcm"]) == (Mode.TWO_D, Mode.POWER)


def test_named_files_go_on_from_kept_readings(
    folder: Path, reviewed: tuple[list[Event], StudyReview, Path], tmp_path: Path
) -> None:
    """Files may lie anywhere; what was read before is taken over, unless the animal is now another one."""
    _, first, _ = reviewed
    kept = tuple(item for item in first.readings if item.clip.name == "still.dcm")
    (tmp_path / "0a").symlink_to(folder / "still.dcm")
    named = NamedFiles(title="Juniper", files=((str(tmp_path / "0a"), "still.dcm"),))
    for patient, is_kept in ((kept[0].clip.patient, True), (Patient(species=Species.CAT), False)):
        with OpenStudy() as opened:
            options = ReviewOptions(before=ReadBefore(patient=patient, readings=kept))
            events = list(review_study(named, load_house(), opened, options, NoCache()))

        (finished,) = [event for event in events if isinstance(event, ClipFinished)]
        assert finished.from_cache is is_kept
        assert finished.reading.clip.name == "still.dcm"
        assert next(event for event in events if isinstance(event, StudyAssembled)).study.source == "Juniper"
