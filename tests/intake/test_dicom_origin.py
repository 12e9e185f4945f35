"""Where a picture lies in its archive: read from headers as they come, handed on only in the standard's form."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pydicom import uid
from pydicom.dataset import Dataset

from fanlight.intake import Kind
from fanlight.intake.dicom_origin import DicomOrigin, read_origin
from tests.intake import dicom_files as make

STUDY = {"StudyInstanceUID": "1.2.3.1", "SeriesInstanceUID": "1.2.3.2", "PatientID": "R-0412"}


def picture(folder: Path, **tags: Any) -> Path:
    return make.native(folder / "a.dcm", np.zeros((1, 16, 16), np.uint8), **{**STUDY, **tags})


def origin(folder: Path, **tags: Any) -> DicomOrigin:
    found = read_origin(make.item_of(picture(folder, **tags)), make.LIMITS)
    assert isinstance(found, DicomOrigin), found
    return found


def why_none(path: Path) -> str:
    """The reason why a file has no identity."""
    found = read_origin(make.item_of(path), make.LIMITS)
    assert isinstance(found, str)
    return found


def test_identity_is_that_of_the_file(tmp_path: Path) -> None:
    found = origin(tmp_path, PatientName="Ansel^Juniper", StudyDate="20260303", PatientSex="F", PatientWeight="12.4")

    assert (found.study_uid, found.series_uid, found.class_uid) == ("1.2.3.1", "1.2.3.2", uid.UltrasoundImageStorage)
    assert found.header.PatientName == "Ansel^Juniper"
    assert (found.header.PatientID, found.header.StudyDate, found.header.PatientSex) == ("R-0412", "20260303", "F")
    assert found.header.PatientWeight == pytest.approx(12.4)
    assert found.header.AccessionNumber == ""  # type 2: there, and empty


def test_codes_of_species_come_along(tmp_path: Path) -> None:
    """PS3.3 C.7.1.1: Patient Species Code Sequence."""
    code = Dataset()
    code.CodeValue, code.CodingSchemeDesignator, code.CodeMeaning = "448771007", "SCT", "Canis lupus familiaris"
    found = origin(tmp_path, PatientSpeciesDescription="Dog", PatientSpeciesCodeSequence=[code])

    assert found.header.PatientSpeciesCodeSequence[0].CodeValue == "448771007"


def test_a_registered_breed_comes_along_and_nothing_strange_in_its_code(tmp_path: Path) -> None:
    """PS3.3 C.7.1.1: Breed Registration Sequence, with the code of its registry inside."""
    code = Dataset()
    code.CodeValue, code.CodingSchemeDesignator, code.CodeMeaning = "109200", "DCM", "America's Pet Registry"
    code.Rows, code.EncapsulatedDocument = 7, b"no code"
    registered = Dataset()
    registered.BreedRegistrationNumber, registered.BreedRegistryCodeSequence = "X-12", [code]
    found = origin(tmp_path, BreedRegistrationSequence=[registered]).header.BreedRegistrationSequence[0]

    assert found.BreedRegistrationNumber == "X-12"
    assert {element.keyword for element in found.BreedRegistryCodeSequence[0]} == {
        "CodeValue", "CodingSchemeDesignator", "CodeMeaning",
    }  # fmt: skip


DAMAGE = 150  # of one header, at seeded places


def test_a_damaged_header_gives_an_identity_that_can_be_written_or_a_reason(tmp_path: Path) -> None:
    """Bytes turned at random: what comes out keeps the standard, so that a report can carry it."""
    rng = np.random.default_rng(7)
    whole = bytearray(picture(tmp_path, PatientName="Ansel^Juniper", PatientWeight="12.4").read_bytes())
    said = {"identity": 0, "reason": 0}
    for place in range(DAMAGE):
        damaged = bytearray(whole)
        for spot in rng.integers(132, len(whole) - 256, size=3):
            damaged[spot] = rng.integers(0, 256)
        path = tmp_path / f"{place}.dcm"
        path.write_bytes(damaged)
        found = read_origin(replace(make.item_of(path), kind=Kind.DICOM), make.LIMITS)
        if isinstance(found, str):
            said["reason"] += 1
            continue
        said["identity"] += 1
        make.write_dicom(tmp_path / "again.dcm", found.header, uid.ExplicitVRLittleEndian)

    assert min(said.values()) > 0


@pytest.mark.parametrize(
    ("keyword", "said"),
    [
        ("StudyInstanceUID", "StudyInstanceUID (0020,000D); found none"),
        ("SeriesInstanceUID", "SeriesInstanceUID (0020,000E); found none"),
        ("SOPInstanceUID", "SOPInstanceUID (0008,0018); found none"),
    ],
)
def test_a_missing_identifier_is_named(tmp_path: Path, keyword: str, said: str) -> None:
    data = make.us_header(np.zeros((1, 16, 16), np.uint8), **STUDY)
    del data[keyword]
    data.PixelData = bytes(256)
    data["PixelData"].VR = "OB"
    path = make.write_dicom(tmp_path / "a.dcm", data, uid.ExplicitVRLittleEndian)

    assert said in why_none(path)


@pytest.mark.parametrize("text", ["1.2.x", "1.02.3", "1." + "2" * 63, ".1.2"])
def test_an_identifier_that_breaks_the_standard_is_none(tmp_path: Path, text: str) -> None:
    """PS3.5 9.1: digits in parts, no leading zero, at most 64 letters."""
    path = picture(tmp_path)
    path.write_bytes(path.read_bytes().replace(b"1.2.3.1\0", text.encode()[:8].ljust(8, b"\0")))
    if len(text) > 8:  # a longer value needs a file of its own
        with pytest.warns(UserWarning, match="UI"):
            path = picture(tmp_path, StudyInstanceUID=text)

    assert "one that is no identifier" in why_none(path)


def test_a_value_that_breaks_its_form_is_left_empty(tmp_path: Path) -> None:
    """PS3.5 6.2: a date has eight digits; PS3.3 C.7.1.1 knows three sexes."""
    path = picture(tmp_path, PatientBirthDate="20190501", PatientSex="F")
    path.write_bytes(path.read_bytes().replace(b"20190501", b"5/1/2019").replace(b"CS\2\0F ", b"CS\2\0FS"))
    found = read_origin(make.item_of(path), make.LIMITS)

    assert (found.header.PatientBirthDate, found.header.PatientSex) == ("", "")


def test_plain_pictures_belong_to_no_study(tmp_path: Path) -> None:
    from PIL import Image

    Image.new("L", (16, 16)).save(tmp_path / "a.png")

    assert "no DICOM file" in why_none(tmp_path / "a.png")


def test_a_file_that_is_gone_is_said(tmp_path: Path) -> None:
    item = make.item_of(picture(tmp_path))
    item.path.unlink()

    assert "cannot be read any more" in str(read_origin(item, make.LIMITS))
