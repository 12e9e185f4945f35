"""An invented review with every kind of number, and clips that lie in one study of an archive."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from pydicom import uid
from pydicom.dataset import Dataset

from fanlight.intake.dicom_origin import DicomOrigin
from fanlight.measure.doppler.case import METHOD as SPECTRUM
from fanlight.measure.marked import GIVEN_BY as BY_HAND
from fanlight.measure.marked import METHOD as HAND
from fanlight.study import ENGINE, Measurement, Mode, ModeReading, StudyReview
from tests.report.sample import sample_review

WRITTEN = datetime(2026, 3, 4, 9, 30, 15, tzinfo=UTC)
STUDY_UID = "1.2.826.0.1.3680043.2.1143.7"
PW = 5  # number of the clip that is a spectrum, a still


def number(name: str, value: float | None, unit: str, **changes: Any) -> Measurement:
    facts: dict[str, Any] = {"name": name, "label": name, "value": value, "unit": unit}
    return Measurement(**(facts | changes))


MEASUREMENTS = (
    number("lvidd", 3.6, "cm", label="LVIDd", given_by="machine report", method="M-mode"),
    number("lviddn", 1.7173, "cm/kg^0.294", given_by="computed from the machine report", method="M-mode"),
    number("la_ao", 1.7, "1", label="LA:Ao", given_by="request sheet", method="2-D"),
    number("", 7.0, "mm", label="Something else", given_by="request sheet", reason="the tables have no such quantity"),
    number(
        "mitral_e", 0.8125, "m/s", label="Mitral E", given_by=ENGINE,
        method=f"{SPECTRUM}; mean of 3 beats; as in m/s", clip="export/005.dcm", frames=(0,), uncertainty=0.031,
        validity="holds", reason="mean of 3 beats",
    ),
    number(
        "tr_vmax", 3.125, "m/s", label="Tricuspid regurgitation peak velocity", given_by=ENGINE, method=SPECTRUM,
        clip="export/005.dcm", frames=(0,), uncertainty=0.1,
        validity="at least: the envelope is faint", reason="the highest of 2 beats",
    ),
    number(
        "mitral_a", None, "m/s", label="Mitral A", given_by=ENGINE, method=SPECTRUM, clip="export/005.dcm",
        frames=(0,), reason="E and A are fused",
    ),
    number(
        "mitral_e_a", None, "1", label="Mitral E:A", given_by=ENGINE, method=SPECTRUM, clip="export/005.dcm",
        frames=(0,), reason="E and A are fused",
    ),
    number(
        "", 41.25, "mm", label="Left atrium: length", given_by=BY_HAND, method=HAND, clip="export/001.dcm",
        frames=(11,), uncertainty=0.4, reason="no reference row is tied to a mark",
    ),
    number(
        "ivrt", 61.0, "ms", label="IVRT", given_by=ENGINE, method=SPECTRUM, clip="export/005.dcm", frames=(0,),
        uncertainty=8.0, validity="note: not judged", sheet_only=True,
    ),
    number("la_volume", 12.0, "furlong", label="LA volume", given_by="typed"),
)  # fmt: skip


def review(measurements: tuple[Measurement, ...] = MEASUREMENTS, **study: Any) -> StudyReview:
    """Six clips of 90 frames, of which the fifth is a spectrum of one picture."""
    sample = sample_review()
    readings = tuple(
        replace(
            item,
            clip=replace(item.clip, n_frames=1),
            mode=ModeReading(mode=Mode.PULSED_WAVE, probability=0.99, reasons=()),
        )
        if item.clip.number == PW
        else item
        for item in sample.readings
    )
    clips = tuple(item.clip for item in readings)
    return replace(
        sample, readings=readings, measurements=measurements, study=replace(sample.study, clips=clips, **study)
    )


def header(number: int, **tags: Any) -> Dataset:
    """What `intake` hands on of a file: a still where the clip is one."""
    data = Dataset()
    data.SpecificCharacterSet = "ISO_IR 192"
    data.SOPClassUID = uid.UltrasoundImageStorage if number == PW else uid.UltrasoundMultiFrameImageStorage
    data.SOPInstanceUID, data.SeriesInstanceUID = f"{STUDY_UID}.1.{number}", f"{STUDY_UID}.1"
    data.StudyInstanceUID = STUDY_UID
    data.PatientName, data.PatientID = "Ansel^Juniper", "R-0412"
    data.PatientBirthDate, data.PatientSex, data.PatientSexNeutered = "20180901", "F", "ALTERED"
    data.PatientSpeciesDescription, data.PatientBreedDescription = "Dog", "Mixed"
    code = Dataset()
    code.CodeValue, code.CodingSchemeDesignator, code.CodeMeaning = "448771007", "SCT", "Canis lupus familiaris"
    data.PatientSpeciesCodeSequence = [code]
    data.PatientBreedCodeSequence = data.BreedRegistrationSequence = []
    data.ResponsiblePerson, data.ResponsiblePersonRole, data.ResponsibleOrganization = "Ansel^M", "OWNER", ""
    data.PatientWeight = "12.4"
    data.StudyDate, data.StudyTime, data.StudyID, data.AccessionNumber = "20260303", "162000", "1", ""
    data.ReferringPhysicianName = ""
    data.Manufacturer, data.ManufacturerModelName = "Invented Ultrasound", "Model 7"
    for keyword, value in tags.items():
        setattr(data, keyword, value)
    return data


def origin(number: int, **tags: Any) -> DicomOrigin:
    data = header(number, **tags)
    return DicomOrigin(
        study_uid=data.StudyInstanceUID,
        series_uid=data.SeriesInstanceUID,
        instance_uid=data.SOPInstanceUID,
        class_uid=data.SOPClassUID,
        header=data,
    )


def origins(**tags: Any) -> Mapping[str, DicomOrigin | str]:
    return {f"clip{number:02d}": origin(number, **tags) for number in range(1, 7)}
