"""Modules of the ultrasound objects (PS3.3 A.6 and A.7): animal, examination, regions, time."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from itertools import pairwise

from pydicom.dataset import Dataset
from pydicom.valuerep import DSfloat

from fanlight.simulate.dicom.dicom_uid import uid_of
from fanlight.simulate.dicom.patient_facts import ExaminationFacts, PatientFacts, PersonName
from fanlight.study import Region, Species

MAKER = "Fanlight simulation"
# PS3.16 CID 7454, SNOMED CT.
_SPECIES = {
    Species.DOG: ("448771007", "Canis lupus familiaris", "Canine"),
    Species.CAT: ("448169003", "Felis catus", "Feline"),
}
_EVEN_WITHIN_MS = 1e-6  # steps that differ by less are one Frame Time
_DAYS_A_YEAR, _DAYS_A_MONTH = 365.25, 30.4375


def code_item(value: str, scheme: str, meaning: str) -> Dataset:
    """Return one item of a code sequence (PS3.3 8.8)."""
    item = Dataset()
    item.CodeValue, item.CodingSchemeDesignator, item.CodeMeaning = value, scheme, meaning
    return item


def set_patient(data: Dataset, patient: PatientFacts, on: date) -> None:
    """Set the Patient and Patient Study modules (PS3.3 C.7.1.1 and C.7.2.2) of an animal."""
    code, meaning, words = _SPECIES[patient.species]
    # PS3.5 6.2: for an animal, the family name of the responsible person and the animal's own name.
    data.PatientName = f"{patient.responsible.family}^{patient.animal_name}"
    data.PatientID = patient.case_number
    data.PatientBirthDate = f"{patient.birth_date:%Y%m%d}"
    data.PatientSex = {"male": "M", "female": "F"}[patient.sex]
    data.PatientSexNeutered = "ALTERED" if patient.neutered else "UNALTERED"
    data.PatientAge = _age(patient.birth_date, on)
    data.PatientWeight = DSfloat(patient.weight_kg, auto_format=True)
    data.PatientSpeciesDescription = words
    data.PatientSpeciesCodeSequence = [code_item(code, "SCT", meaning)]
    data.PatientBreedDescription = patient.breed
    breed = patient.breed_code
    data.PatientBreedCodeSequence = [] if breed is None else [code_item(breed[0], "SCT", breed[1])]
    data.BreedRegistrationSequence = []
    data.ResponsiblePerson = _person(patient.responsible)
    data.ResponsiblePersonRole = patient.role.value
    data.ResponsibleOrganization = ""


def _person(name: PersonName) -> str:
    return f"{name.family}^{name.given}" if name.given else name.family


def _age(born: date, on: date) -> str:
    """Value representation AS (PS3.5 6.2): years from two on, months below, days below one month."""
    days = (on - born).days
    if days < 0:
        raise ValueError(f"the animal is examined on {on} and born on {born}; the birth date must come first")
    if days >= 2 * _DAYS_A_YEAR:
        return f"{int(days / _DAYS_A_YEAR):03d}Y"
    return f"{int(days / _DAYS_A_MONTH):03d}M" if days >= 31 else f"{days:03d}D"


def set_examination(data: Dataset, examination: ExaminationFacts) -> None:
    """Set the General Study, Series and Equipment modules (PS3.3 C.7.2.1, C.7.3.1, C.7.5.1)."""
    key = (examination.seed, examination.patient.case_number, examination.began_at.isoformat())
    data.StudyInstanceUID = uid_of("study", *key)
    data.SeriesInstanceUID = uid_of("series", *key)
    data.StudyID = examination.patient.case_number[-16:]
    data.SeriesNumber = "1"
    data.AccessionNumber = ""
    data.ReferringPhysicianName = ""
    data.StudyDate, data.StudyTime = _day(examination.began_at), _clock(examination.began_at)
    data.SeriesDate, data.SeriesTime = data.StudyDate, data.StudyTime
    data.Modality = "US"
    data.BodyPartExamined = "CHEST"  # PS3.16 CID 7483: the animals' list has the chest, not the heart
    data.AnatomicalOrientationType = "QUADRUPED"
    data.OperatorsName = _person(examination.trainee)
    data.InstitutionName = examination.practice.name
    data.InstitutionAddress = examination.practice.place
    data.Manufacturer = data.ManufacturerModelName = MAKER
    data.SoftwareVersions = MAKER


def set_moment(data: Dataset, moment: datetime) -> None:
    """Set when the picture was taken and stored; one clock for both."""
    day, clock = _day(moment), _clock(moment)
    data.InstanceCreationDate, data.InstanceCreationTime = day, clock
    data.AcquisitionDate, data.AcquisitionTime = day, clock
    data.ContentDate, data.ContentTime = day, clock
    data.AcquisitionDateTime = day + clock


def _day(moment: datetime) -> str:
    return f"{moment:%Y%m%d}"


def _clock(moment: datetime) -> str:
    return f"{moment:%H%M%S.%f}"


def set_times(data: Dataset, times_ms: Sequence[float]) -> None:
    """Set the Cine and Multi-frame modules (PS3.3 C.7.6.5 and C.7.6.6) of a clip.

    Even steps are written as Frame Time, uneven ones as Frame Time Vector.
    """
    steps = [later - sooner for sooner, later in pairwise(times_ms)]
    if not steps or min(steps) <= 0:
        raise ValueError(f"frame times must rise from the first to the last, got steps of {min(steps, default=0)} ms")
    data.NumberOfFrames = len(times_ms)
    mean_ms = (times_ms[-1] - times_ms[0]) / len(steps)
    if max(steps) - min(steps) <= _EVEN_WITHIN_MS:
        data.FrameTime = DSfloat(mean_ms, auto_format=True)
        data.FrameIncrementPointer = 0x00181063
    else:
        data.FrameTimeVector = [DSfloat(step, auto_format=True) for step in (0.0, *steps)]
        data.FrameIncrementPointer = 0x00181065
    data.EffectiveDuration = DSfloat(mean_ms * len(times_ms) / 1000.0, auto_format=True)


def region_item(region: Region) -> Dataset:
    """Return one item of the Sequence of Ultrasound Regions (PS3.3 C.8.5.5)."""
    item = Dataset()
    item.RegionSpatialFormat = int(region.spatial_format)
    item.RegionDataType = region.data_type
    item.RegionFlags = region.flags
    item.RegionLocationMinX0, item.RegionLocationMinY0 = region.box.col0, region.box.row0
    item.RegionLocationMaxX1, item.RegionLocationMaxY1 = region.box.col1 - 1, region.box.row1 - 1  # the last is inside
    item.PhysicalUnitsXDirection, item.PhysicalUnitsYDirection = int(region.unit_x), int(region.unit_y)
    item.PhysicalDeltaX, item.PhysicalDeltaY = region.delta_x, region.delta_y
    if region.reference_col_px is not None and region.reference_row_px is not None:
        item.ReferencePixelX0, item.ReferencePixelY0 = round(region.reference_col_px), round(region.reference_row_px)
    if region.reference_value_x is not None and region.reference_value_y is not None:
        item.ReferencePixelPhysicalValueX = region.reference_value_x
        item.ReferencePixelPhysicalValueY = region.reference_value_y
    if region.transducer_frequency_khz is not None:
        item.TransducerFrequency = round(region.transducer_frequency_khz)
    if region.pulse_repetition_hz is not None:
        item.PulseRepetitionFrequency = round(region.pulse_repetition_hz)
    if region.steering_deg is not None:
        item.SteeringAngle = float(region.steering_deg)
    if region.doppler_angle_deg is not None:
        item.DopplerCorrectionAngle = float(region.doppler_angle_deg)
    if region.sample_volume_px is not None:
        item.DopplerSampleVolumeYPosition, item.DopplerSampleVolumeXPosition = region.sample_volume_px
    if region.m_line_px is not None:
        item.TMLinePositionY0, item.TMLinePositionX0, item.TMLinePositionY1, item.TMLinePositionX1 = region.m_line_px
    return item
