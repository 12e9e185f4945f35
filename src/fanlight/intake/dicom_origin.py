"""Where a picture lies in its archive and whose it is, so that a report can be stored beside it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from pydicom import config
from pydicom.datadict import dictionary_VR
from pydicom.dataset import Dataset
from pydicom.valuerep import validate_value

from fanlight.intake.dicom_header import items_of, open_dicom, text_of, value_of
from fanlight.intake.gather import Item
from fanlight.intake.kinds import DICOMS
from fanlight.intake.limits import Limits
from fanlight.intake.refused import FileRefusedError

# Patient, Patient Study and General Study modules (PS3.3 C.7.1.1, C.7.2.2, C.7.2.1), as far as a report has to agree
# with the pictures beside it; and the machine (C.7.5.1), which is named as the giver of its own numbers.
_CARRIED = (
    "PatientName", "PatientID", "IssuerOfPatientID", "PatientBirthDate", "PatientSex", "PatientSexNeutered",
    "PatientSpeciesDescription", "PatientSpeciesCodeSequence", "PatientBreedDescription", "PatientBreedCodeSequence",
    "BreedRegistrationSequence", "ResponsiblePerson", "ResponsiblePersonRole", "ResponsibleOrganization",
    "PatientIdentityRemoved", "DeidentificationMethod", "PatientAge", "PatientWeight", "PatientSize",
    "StudyDate", "StudyTime", "StudyID", "StudyDescription", "AccessionNumber", "ReferringPhysicianName",
    "Manufacturer", "ManufacturerModelName",
)  # fmt: skip
_ALWAYS = (
    "PatientName", "PatientID", "PatientBirthDate", "PatientSex", "StudyDate", "StudyTime", "StudyID",
    "AccessionNumber", "ReferringPhysicianName",
)  # fmt: skip  # type 2: empty where nothing is known
_UIDS = {
    "SOPClassUID": "(0008,0016)",
    "SOPInstanceUID": "(0008,0018)",
    "StudyInstanceUID": "(0020,000D)",
    "SeriesInstanceUID": "(0020,000E)",
}
_UID = re.compile(r"(?=.{1,64}$)(?:0|[1-9][0-9]*)(?:\.(?:0|[1-9][0-9]*))*")  # PS3.5 9.1
_SEXES = ("M", "F", "O")  # PS3.3 C.7.1.1
# Of the sequences above: a code (PS3.3 8.8), and a breed's registration.
_CODES = (
    "CodeValue", "LongCodeValue", "URNCodeValue", "CodingSchemeDesignator", "CodingSchemeVersion", "CodeMeaning",
    "BreedRegistrationNumber", "BreedRegistryCodeSequence",
)  # fmt: skip
_MAX_DEPTH = 2  # a breed's registry code lies two sequences deep


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DicomOrigin:
    """The identity of one DICOM picture, with values that keep the standard."""

    study_uid: str
    series_uid: str
    instance_uid: str
    class_uid: str
    header: Dataset  # all of the above, and patient and study as the file names them


def read_origin(item: Item, limits: Limits) -> DicomOrigin | str:
    """Return where a picture lies in its archive, or why that is not known.

    A value that breaks the standard is left out; one of the four identifiers that does so makes the identity unknown.
    """
    if item.kind not in DICOMS:
        return "it is no DICOM file, so it belongs to no study of an archive"
    try:
        with open_dicom(item.path, item.name, item.kind, limits) as source:
            return _origin(source.data)
    except FileRefusedError as error:
        return str(error.refusal)
    except OSError as error:
        return f"it cannot be read any more: {error.strerror or type(error).__name__}"


def _origin(data: Dataset) -> DicomOrigin | str:
    uids = {keyword: text_of(data, keyword) for keyword in _UIDS}
    for keyword, tag in _UIDS.items():
        if not _UID.fullmatch(uids[keyword]):
            found = "none" if not uids[keyword] else "one that is no identifier"
            return f"its header should state a {keyword} {tag}; found {found}"
    header = _copy(data, _CARRIED, _MAX_DEPTH)
    for keyword in _ALWAYS:
        if keyword not in header:
            setattr(header, keyword, "")
    if str(header.PatientSex) not in _SEXES:
        header.PatientSex = ""
    for keyword, uid in uids.items():
        setattr(header, keyword, uid)
    header.SpecificCharacterSet = "ISO_IR 192"
    return DicomOrigin(
        study_uid=uids["StudyInstanceUID"],
        series_uid=uids["SeriesInstanceUID"],
        instance_uid=uids["SOPInstanceUID"],
        class_uid=uids["SOPClassUID"],
        header=header,
    )


def _copy(data: Dataset, keywords: tuple[str, ...], depth: int) -> Dataset:
    """Return the attributes that are there, each decoded; what is empty or breaks its form is empty."""
    copied = Dataset()
    for keyword in keywords:
        if keyword not in data:
            continue
        if dictionary_VR(keyword) == "SQ":
            items = items_of(data, keyword) if depth else ()
            setattr(copied, keyword, [_copy(each, _CODES, depth - 1) for each in items])
        else:
            setattr(copied, keyword, _valid(data, keyword))
    return copied


def _valid(data: Dataset, keyword: str) -> str:
    text = text_of(data, keyword)
    if value_of(data, keyword) is None:
        return ""
    try:
        validate_value(dictionary_VR(keyword), text, config.RAISE)
    except ValueError:
        return ""
    return text
