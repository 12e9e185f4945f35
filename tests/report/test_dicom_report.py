"""The structured report: valid by dciodvfy, readable by dsrdump and highdicom, and the same numbers when read back."""

from __future__ import annotations

import math
import re
import shutil
import subprocess
import warnings
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import highdicom
import pydicom
import pytest
from pydicom import uid
from pydicom.dataset import Dataset
from pydicom.sr.codedict import codes as standard

from fanlight.reference.dicom_codes import read_report_codes
from fanlight.reference.load import load_house
from fanlight.report.dicom.number import why_unwritten
from fanlight.report.dicom.whole import NoReportError, build_report
from fanlight.report.dicom.write import FILE_NAME, write_report
from fanlight.study import House, Measurement, Unconfirmed
from tests.report import dicom_sample as sample

TOLERANCE = 1e-12  # a value is stored as a double (Floating Point Value) beside its text


@pytest.fixture(scope="module")
def house() -> House:
    return load_house()


@pytest.fixture(scope="module")
def written(house: House, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_report(sample.review(), house, sample.origins(), tmp_path_factory.mktemp("report"), sample.WRITTEN)


@pytest.fixture(scope="module")
def read(written: Path) -> Any:
    return highdicom.sr.srread(written)


def program(command: str, package: str) -> str:
    path = shutil.which(command)
    assert path, f"{command} is missing: install Debian's package {package} (scripts/system-packages.txt)"
    return path


def verified(path: Path) -> list[str]:
    """What dciodvfy (dicom3tools, D. A. Clunie) says of a file."""
    done = subprocess.run(
        [program("dciodvfy", "dicom3tools"), str(path)], capture_output=True, text=True, check=False, timeout=60
    )
    return (done.stdout + done.stderr).splitlines()


def numbers(item: Dataset) -> list[Dataset]:
    """All numeric items below an item that are measurements, not properties of one."""
    found = [item] if item.get("ValueType") == "NUM" and item.RelationshipType == "CONTAINS" else []
    return found + [each for child in item.get("ContentSequence", ()) for each in numbers(child)]


def named(item: Dataset, meaning: str) -> list[Dataset]:
    return [
        child for child in item.get("ContentSequence", ()) if child.ConceptNameCodeSequence[0].CodeMeaning == meaning
    ]


def one(path: Path, label: str) -> Dataset:
    """The numeric item whose code means this."""
    return next(item for item in numbers(pydicom.dcmread(path)) if item.ConceptNameCodeSequence[0].CodeMeaning == label)


# --- outside programs ---


def test_the_verifier_finds_no_error(written: Path) -> None:
    """PS3.3 A.35.13 as dciodvfy holds it; its only warnings are of our own coding scheme, which no list has."""
    said = verified(written)

    assert "Comprehensive3DSR" in said
    assert [line for line in said if line.startswith("Error")] == []
    assert {re.sub(r" for value.*", "", line) for line in said if line.startswith("Warning")} <= {
        "Warning - Unrecognized defined term <99FANLIGHT>"
    }


def test_the_verifier_can_find_a_fault(written: Path, tmp_path: Path) -> None:
    data = pydicom.dcmread(written)
    del data.CompletionFlag
    data.save_as(tmp_path / "fault.dcm")

    assert [line for line in verified(tmp_path / "fault.dcm") if line.startswith("Error") and "Completion" in line]


def test_dcmtk_reads_the_report_back(written: Path) -> None:
    """dsrdump (dcmtk, OFFIS) checks which items may stand under which, and prints what it read."""
    dump = subprocess.run(
        [program("dsrdump", "dcmtk"), "+Pl", "+Pc", "+Pn", str(written)],
        capture_output=True, text=True, check=False, timeout=60,
    )  # fmt: skip
    said = dump.stdout

    assert dump.returncode == 0, dump.stderr
    assert "Comprehensive 3D SR Document" in said
    assert re.search(r"Completion Flag +: PARTIAL", said)
    assert re.search(r"Verification Flag +: UNVERIFIED", said)
    assert re.search(r'NUM:\(80008-6,LN,"[^"]+"\)="3.6" \(cm,UCUM', said)
    assert re.search(r'NUM:\(80070-6,LN,"[^"]+"\)="0.8125" \(m/s,UCUM', said)
    assert '"E and A are fused"' not in said  # told with its labels, see below
    assert "Mitral A, Mitral E:A (engine, export/005.dcm): E and A are fused" in said
    assert "does not replace, a licensed veterinarian" in said


# --- what is read back ---


def test_every_number_comes_back_as_it_was(house: House, read: Any) -> None:
    """Written, read by highdicom: the same values in the same order, and nothing else."""
    codes = read_report_codes(house)
    told = [item for item in sample.MEASUREMENTS if not why_unwritten(item, codes) and not item.sheet_only]
    back = [item for group in read.content.get_image_measurement_groups() for item in group.get_measurements()]

    assert len(back) == len(told) == 7
    for one_told, one_back in zip(told, back, strict=True):
        assert one_back.value == pytest.approx(one_told.value, rel=TOLERANCE)
        assert one_back.unit.value == codes.unit(one_told.unit).value


def test_engine_machine_and_people_are_told_apart(read: Any) -> None:
    """TID 1002 in each group: who observed, device or person, and the giver in our words."""
    observers = {}
    for group in read.content.get_image_measurement_groups():
        giver = named(group[0], "Given by")[0].TextValue
        kind = named(group[0], "Observer Type")[0].ConceptCodeSequence[0].CodeMeaning
        names = named(group[0], "Device Observer Name") or named(group[0], "Person Observer Name")
        observers[giver] = (kind, str(names[0].get("TextValue") or names[0].PersonName))

    assert observers == {
        "machine report": ("Device", "ultrasound machine, by its own report"),
        "computed from the machine report": ("Device", "Fanlight 0.1.0"),
        "request sheet": ("Person", "T. Okafor^"),
        "engine": ("Device", "Fanlight 0.1.0"),
        "marked by hand": ("Person", "not stated^"),
    }


def test_a_number_of_the_engine_says_all_that_belongs_to_it(written: Path) -> None:
    item = one(written, standard.LN.MitralValveEWaveVmax.meaning)
    plus, minus = (
        named(item, "+, range of upper measurement uncertainty"),
        named(item, "-, range of lower measurement uncertainty"),
    )

    for side in (plus, minus):
        assert side[0].MeasuredValueSequence[0].FloatingPointValue == 0.031
        assert side[0].MeasuredValueSequence[0].MeasurementUnitsCodeSequence[0].CodeValue == "m/s"
    assert "one standard deviation" in named(item, "How the number was taken")[0].TextValue
    assert named(item, "Validity of the number")[0].TextValue == "holds"
    assert named(item, "Comment")[0].TextValue == "mean of 3 beats"
    assert named(item, "Image mode")[0].ConceptCodeSequence[0].CodeValue == standard.SCT.DopplerPulsed.value
    assert named(item, "Derivation")[0].ConceptCodeSequence[0].CodeMeaning == "Directly measured"
    assert (named(item, "Algorithm Name")[0].TextValue, named(item, "Algorithm Version")[0].TextValue) == (
        "spectrum from pixels",
        "1",
    )


def test_a_number_of_the_study_sheet_is_words_and_no_number(written: Path) -> None:
    """A program that takes numeric items (PS3.3 C.18.1) from an archive reads no word beside them."""
    (listed,) = [
        item for item in named(pydicom.dcmread(written), "Where the number may stand") if "ContentSequence" in item
    ]
    first, *rest = [item.TextValue for item in listed.ContentSequence]

    assert first.startswith("Study sheet only, not a clinical summary")
    assert rest == ["IVRT 61 ± 8 ms (engine, export/005.dcm): note: not judged"]
    assert 61.0 not in [item.MeasuredValueSequence[0].FloatingPointValue for item in numbers(pydicom.dcmread(written))]


def test_what_the_summary_names_of_a_strip_is_a_number_to_be_confirmed(house: House) -> None:
    """Calipers on masks are named in the summary too, and stay out of the archive."""
    read = next(item for item in sample.MEASUREMENTS if item.sheet_only)
    laid = replace(read, name="lvidd", label="LVIDd", value=30.0, unit="mm", method="found by the network")
    review = replace(sample.review((read, laid)), unconfirmed=Unconfirmed(numbers=(read, laid)))
    report = build_report(review, house, sample.origins(), sample.WRITTEN)
    (written_number,) = numbers(report)

    assert written_number.MeasuredValueSequence[0].FloatingPointValue == 61.0
    (validity,) = named(written_number, "Validity of the number")
    assert validity.TextValue.startswith("note: not judged; note: taken by a program, which nobody has confirmed")


def test_a_review_with_nothing_but_the_study_sheets_numbers_gives_no_report(house: House) -> None:
    item = next(item for item in sample.MEASUREMENTS if item.sheet_only)

    with pytest.raises(NoReportError, match="stands on the study sheet only"):
        build_report(sample.review((item,)), house, sample.origins(), sample.WRITTEN)


def test_frames_count_from_one_and_stills_have_none(written: Path) -> None:
    """PS3.3 C.18.4: Referenced Frame Number is for pictures of several frames, the first is 1."""
    still = named(one(written, "Mitral valve E-wave Vmax"), "Source of Measurement")[0].ReferencedSOPSequence[0]
    moving = named(one(written, "Left atrium: length"), "Source of Measurement")[0].ReferencedSOPSequence[0]

    assert still.ReferencedSOPInstanceUID == f"{sample.STUDY_UID}.1.5"
    assert "ReferencedFrameNumber" not in still
    assert (moving.ReferencedSOPInstanceUID, moving.ReferencedFrameNumber) == (f"{sample.STUDY_UID}.1.1", 12)
    assert moving.ReferencedSOPClassUID == uid.UltrasoundMultiFrameImageStorage


def test_a_bound_is_qualified_where_the_number_stands(written: Path) -> None:
    """PS3.3 C.18.1: the qualifier belongs to the numeric item; no other number has one."""
    qualified = [item for item in numbers(pydicom.dcmread(written)) if "NumericValueQualifierCodeSequence" in item]

    assert [item.ConceptNameCodeSequence[0].CodeValue for item in qualified] == ["79921-3"]
    assert qualified[0].NumericValueQualifierCodeSequence[0].CodeMeaning == "The value is at least this"
    assert named(qualified[0], "Validity of the number")[0].TextValue == "at least: the envelope is faint"


@pytest.mark.parametrize(("validity", "key"), [("at most: x", "at_most"), ("at least: x", "at_least")])
def test_bounds_to_both_sides(house: House, validity: str, key: str) -> None:
    item = sample.number("mitral_e", 1.0, "m/s", given_by="engine", clip="export/005.dcm", validity=validity)
    report = build_report(sample.review((item,)), house, sample.origins(), sample.WRITTEN)

    assert numbers(report)[0].NumericValueQualifierCodeSequence[0].CodeValue == key


def test_what_has_no_number_is_told_in_words(written: Path) -> None:
    told = [item.TextValue for item in named(pydicom.dcmread(written), "Not measured, and why")[0].ContentSequence]

    assert told == [
        "Mitral A, Mitral E:A (engine, export/005.dcm): E and A are fused",
        "LA volume (typed): 12 furlong: the unit is none that the tables can write in UCUM",
    ]


def test_labels_without_a_quantity_keep_a_code_of_their_own(written: Path) -> None:
    first, second = one(written, "Something else"), one(written, "Left atrium: length")
    values = {item.ConceptNameCodeSequence[0].CodeValue for item in (first, second)}

    assert len(values) == 2
    assert {item.ConceptNameCodeSequence[0].CodingSchemeDesignator for item in (first, second)} == {"99FANLIGHT"}
    assert all(re.fullmatch(r"u-[0-9a-f]{12}", value) for value in values)


def test_the_scheme_of_our_own_codes_is_declared(written: Path) -> None:
    """PS3.3 C.12.1: Coding Scheme Identification Sequence."""
    schemes = pydicom.dcmread(written).CodingSchemeIdentificationSequence

    assert [item.CodingSchemeDesignator for item in schemes] == ["99FANLIGHT"]


# --- whose it is ---


def test_patient_and_study_are_those_of_the_pictures(written: Path) -> None:
    data, picture = pydicom.dcmread(written), sample.header(1)
    for keyword in (
        "StudyInstanceUID", "StudyDate", "StudyTime", "PatientName", "PatientID", "PatientBirthDate", "PatientSex",
        "PatientSexNeutered", "PatientSpeciesDescription", "PatientBreedDescription", "PatientWeight",
        "ResponsiblePerson",
    ):  # fmt: skip
        assert data[keyword].value == picture[keyword].value, keyword
    assert data.PatientSpeciesCodeSequence[0].CodeValue == "448771007"
    assert (data.Manufacturer, data.Modality, data.SoftwareVersions) == ("Fanlight", "SR", "0.1.0")
    assert data.SeriesInstanceUID != picture.SeriesInstanceUID


def test_all_pictures_are_named_as_evidence(read: Any) -> None:
    named_uids = {str(instance) for _, _, instance, _ in read.get_evidence(current_procedure_only=True)}

    assert named_uids == {f"{sample.STUDY_UID}.1.{number}" for number in range(1, 7)}


def test_identifiers_follow_from_the_content(house: House, tmp_path: Path) -> None:
    """The same review at the same moment: the same bytes. Another number, or another moment: another instance."""

    def made(name: str, review: Any, moment: Any) -> tuple[bytes, str]:
        (tmp_path / name).mkdir()
        path = write_report(review, house, sample.origins(), tmp_path / name, moment)
        return path.read_bytes(), str(pydicom.dcmread(path).SOPInstanceUID)

    once, again = (made(name, sample.review(), sample.WRITTEN) for name in ("a", "b"))
    first, *rest = sample.MEASUREMENTS
    other = made("c", sample.review((replace(first, value=3.7), *rest)), sample.WRITTEN)
    later = made("d", sample.review(), sample.WRITTEN + timedelta(seconds=1))

    assert once == again
    assert len({once[1], other[1], later[1]}) == 3


def test_a_retired_class_of_picture_is_no_obstacle(house: House) -> None:
    """Machines of the 1990s write Ultrasound Image Storage as it was (PS3.6 A, retired)."""
    retired = "1.2.840.10008.5.1.4.1.1.6"
    report = build_report(sample.review(), house, sample.origins(SOPClassUID=retired), sample.WRITTEN)

    assert report.PatientID == "R-0412"


def test_a_name_of_one_part_is_kept_and_said_nowhere(
    house: House, caplog: pytest.LogCaptureFixture, capsys: pytest.CaptureFixture[str]
) -> None:
    with warnings.catch_warnings(record=True) as heard:
        warnings.simplefilter("always")
        report = build_report(sample.review(), house, sample.origins(PatientName="Juniper"), sample.WRITTEN)

    assert str(report.PatientName) == "Juniper"
    said = capsys.readouterr()
    assert "Juniper" not in "".join(map(str, heard)) + caplog.text + said.out + said.err


# --- no report ---


@pytest.mark.parametrize(
    ("review", "origins", "said"),
    [
        (
            sample.review(),
            {f"clip{number:02d}": "it is no DICOM file" for number in range(1, 7)},
            r"no picture has an identity in DICOM.*export/001.dcm: it is no DICOM file.*Ask the practice",
        ),
        (sample.review(), {}, "its file was not looked at"),
        (
            sample.review(mismatches=("weight in kg: 4 in a.dcm, 9 in b.dcm",)),
            sample.origins(),
            "do not agree about the animal or the day .weight in kg: 4 in a.dcm",
        ),
        (
            sample.review(),
            {**sample.origins(), "clip06": sample.origin(6, StudyInstanceUID="1.2.3")},
            "belong to 2 studies. Review each by itself",
        ),
        (
            sample.review(),
            {**sample.origins(), "clip06": sample.origin(6, PatientID="other")},
            "belong to 2 patients",
        ),
        (sample.review(()), sample.origins(), "holds no number"),
        (sample.review((sample.number("epss", math.inf, "mm"),)), sample.origins(), "holds no number"),
    ],
    ids=["pictures", "unknown", "mismatch", "studies", "patients", "empty", "infinite"],
)
def test_where_no_report_can_be_the_reason_is_said(
    house: House, tmp_path: Path, review: Any, origins: Any, said: str
) -> None:
    (tmp_path / FILE_NAME).write_bytes(b"of an earlier run")
    with pytest.raises(NoReportError, match=said):
        write_report(review, house, origins, tmp_path, sample.WRITTEN)

    assert list(tmp_path.iterdir()) == []


def test_a_picture_without_identity_is_named_in_words(house: House, tmp_path: Path) -> None:
    """One plain picture among DICOM files: its number stands, without a reference, and its file is named."""
    some = {**sample.origins(), "clip01": "it is no DICOM file"}
    path = write_report(sample.review(), house, some, tmp_path, sample.WRITTEN)
    report: Any = highdicom.sr.srread(path)
    groups = report.content.get_image_measurement_groups()
    (group,) = [item for item in groups if named(item[0], "Given by")[0].TextValue == "marked by hand"]

    assert named(one(path, "Left atrium: length"), "Source of Measurement") == []
    assert named(group[0], "File that the number was taken from")[0].TextValue.startswith(
        "export/001.dcm, which has no"
    )
    assert [line for line in verified(path) if line.startswith("Error")] == []


ODD = [{"label": "x" * 200}, {"label": " \n"}, {"label": "Länge 心房"}, {"reason": "a\tb\x00c"}, {"frames": (900,)}]


@pytest.mark.parametrize("changed", ODD, ids=["long", "blank", "letters", "control", "frame"])
def test_odd_words_and_places_still_make_a_valid_report(house: House, tmp_path: Path, changed: dict[str, Any]) -> None:
    item: Measurement = replace(sample.MEASUREMENTS[8], **changed)
    named_so = sample.origins(PatientName="Müller^Jüniper")
    path = write_report(sample.review((item,)), house, named_so, tmp_path, sample.WRITTEN)

    assert [line for line in verified(path) if line.startswith("Error")] == []
    assert str(pydicom.dcmread(path).PatientName) == "Müller^Jüniper"
