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
