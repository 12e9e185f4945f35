"""Teaching copies of a whole study, made as a user makes them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pydicom
import pytest
from pydicom.data import get_testdata_file

from fanlight.reference.load import load_house
from fanlight.review.deidentify import ClipCopied, CopiesFinished, deidentify_study

WORDS = ("Zebedee", "Quillfeather", "QF-77")


@pytest.fixture(scope="module")
def copied(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, CopiesFinished, pydicom.Dataset]:
    root = tmp_path_factory.mktemp("Zebedee Quillfeather")
    data = pydicom.dcmread(str(get_testdata_file("examples_ybr_color.dcm")))
    data.PatientName = "Zebedee^Quillfeather"
    data.PatientID = "QF-77"
    data.InstitutionName = "Quillfeather House"
    data.StudyComments = "Zebedee was restless"
    data.save_as(root / "Zebedee.dcm")
    (root / "notes.txt").write_text("Zebedee")
    out = tmp_path_factory.mktemp("copies")
    key = tmp_path_factory.mktemp("key")
    events = list(deidentify_study(root, load_house(), out, key))
    last = events[-1]
    assert isinstance(last, CopiesFinished)
    assert sum(isinstance(event, ClipCopied) for event in events) == 1
    return out, last, data


def test_no_name_is_left_in_names_or_bytes(copied: tuple[Path, CopiesFinished, pydicom.Dataset]) -> None:
    out, _, _ = copied
    files = [file for file in out.rglob("*") if file.is_file()]

    assert files
    for file in files:
        blob = file.read_bytes()
        for word in WORDS:
            assert word not in str(file.relative_to(out))
            assert word.encode() not in blob
            assert word.upper().encode() not in blob


def test_profile_and_options_are_recorded(copied: tuple[Path, CopiesFinished, pydicom.Dataset]) -> None:
    """PS3.15 Annex E and PS3.16 CID 7050: profile 113100, patient characteristics 113108, modified dates 113107."""
    out, last, _ = copied
    (file,) = out.rglob("*.dcm")
    data = pydicom.dcmread(file)
    codes = {item.CodeValue for item in data.DeidentificationMethodCodeSequence}

    assert data.PatientIdentityRemoved == "YES"
    assert {"113100", "113107", "113108"} <= codes
    assert last.report.code_word in file.parts


def test_the_picture_itself_is_untouched(copied: tuple[Path, CopiesFinished, pydicom.Dataset]) -> None:
    out, last, original = copied
    (file,) = out.rglob("*.dcm")
    before, after = original.pixel_array, pydicom.dcmread(file).pixel_array
    mask = np.ones(after.shape[1:3], bool)
    for box in last.report.clips[0].blanked:
        mask[box.row0 : box.row1, box.col0 : box.col1] = False

    assert after.shape[:3] == before.shape[:3]
    assert mask[60:180, 80:260].mean() > 0.97  # the heart lies here: none of it was taken for text
    # pydicom turns YBR into RGB by itself; its JPEG decoder is another one, and decoders may differ by rounding.
    difference = np.abs(before.astype(int) - after.astype(int)).max(axis=3)
    assert np.percentile(difference[:, mask], 99.9) <= 6


def test_files_without_a_copy_are_told_without_their_names(
    copied: tuple[Path, CopiesFinished, pydicom.Dataset],
) -> None:
    _, last, _ = copied

    assert len(last.report.left_out) == 1
    assert "notes" not in last.report.as_text()


def _two_animals(root: Path) -> dict[str, pydicom.Dataset]:
    """Two files of one animal, one of another, and one that names nobody; all taken on one day."""
    whose = {
        "a.dcm": ("Zebedee^Quillfeather", "QF-77"),
        "b.dcm": ("Zebedee^Quillfeather", ""),
        "c.dcm": ("Juniper^Ashgrove", "AG-12"),
        "d.dcm": ("", ""),
    }
    written: dict[str, pydicom.Dataset] = {}
    for number, (file, (name, case)) in enumerate(whose.items(), 1):
        data = pydicom.dcmread(str(get_testdata_file("examples_rgb_color.dcm")))
        data.PatientName, data.PatientID = name, case
        data.InstanceNumber = number
        data.SOPInstanceUID = f"1.2.826.0.1.3680043.9.7351904.{number}"
        data.StudyDate = data.ContentDate = data.AcquisitionDate = "20210314"
        pixels = bytearray(data.PixelData)
        pixels[:4] = bytes([number] * 4)  # else all four were the same picture, kept once
        data.PixelData = bytes(pixels)
        data.save_as(root / file)
        written[file] = data
    return written


def test_two_animals_in_one_folder_share_neither_code_word_nor_dates(tmp_path: Path) -> None:
    root = tmp_path / "in"
    root.mkdir()
    _two_animals(root)
    events = list(deidentify_study(root, load_house(), tmp_path / "out", tmp_path / "key"))
    last = events[-1]
    assert isinstance(last, CopiesFinished)
    copies = [pydicom.dcmread(tmp_path / "out" / clip.file) for clip in last.report.clips]
    by_number = {int(copy.InstanceNumber): copy for copy in copies}

    assert len(copies) == 4
    words = {number: str(copy.PatientID) for number, copy in by_number.items()}
    assert words[1] == words[2] == words[4]  # the same name without a number, and no name at all, contradict nothing
    assert words[3] != words[1]
    assert by_number[1].StudyDate == by_number[2].StudyDate != by_number[3].StudyDate
    assert {clip.file.split("/")[0] for clip in last.report.clips} == set(words.values())


def test_what_the_files_disagree_on_is_told_without_values(tmp_path: Path) -> None:
    root = tmp_path / "in"
    root.mkdir()
    _two_animals(root)
    events = list(deidentify_study(root, load_house(), tmp_path / "out", tmp_path / "key"))
    last = events[-1]
    assert isinstance(last, CopiesFinished)
    text = last.report.as_text()

    (told,) = last.report.mismatches
    assert "animal's name, case number" in told
    assert "2 animals" in told
    assert f"LOOK AT IT: {told}" in text
    for word in ("Zebedee", "Quillfeather", "QF-77", "Juniper", "Ashgrove", "AG-12"):
        assert word not in text


def test_one_animal_gives_no_mismatch(copied: tuple[Path, CopiesFinished, pydicom.Dataset]) -> None:
    assert copied[1].report.mismatches == ()
