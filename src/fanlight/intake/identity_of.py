"""Animal, owner and practice as the tags of a DICOM file name them, veterinary attributes included."""

from __future__ import annotations

import re
from datetime import date, datetime

from pydicom.dataset import Dataset
from pydicom.valuerep import DA, DT, TM

from fanlight.intake.dicom_header import items_of, lenient, number_of, text_of, value_of
from fanlight.study import Identity, Patient, Species

_DAYS_PER_YEAR = 365.25
_YEARS_PER_UNIT = {"Y": 1.0, "M": 1 / 12, "W": 7 / _DAYS_PER_YEAR, "D": 1 / _DAYS_PER_YEAR}  # AS, PS3.5 6.2
# PS3.16 CID 7454, SNOMED CT with its earlier SNOMED-RT code; the second of each names the genus or the kind.
_SPECIES_CODES = {
    "448771007": Species.DOG,
    "L-80700": Species.DOG,
    "448169003": Species.CAT,
    "L-80A00": Species.CAT,
}
# Words that practices write; free text, so only whole words count. Common practice, no source.
_SPECIES_WORDS = {
    Species.DOG: frozenset({"dog", "canine", "canis", "k9", "hund", "chien", "perro", "cane"}),
    Species.CAT: frozenset({"cat", "feline", "felis", "katze", "chat", "gato", "gatto"}),
}
# PS3.3 C.7.1.1.1.2: who answers for the animal.
_OWNER_ROLES = frozenset({"", "OWNER"})


def species_of(data: Dataset) -> Species | None:
    """Return the species by code (0010,2202), else by words of the description (0010,2201)."""
    for item in items_of(data, "PatientSpeciesCodeSequence"):
        if (found := _SPECIES_CODES.get(text_of(item, "CodeValue"))) is not None:
            return found
    words = set(re.findall(r"[a-z0-9]+", text_of(data, "PatientSpeciesDescription").lower()))
    named = [species for species, known in _SPECIES_WORDS.items() if words & known]
    return named[0] if len(named) == 1 else None


def _date(data: Dataset, keyword: str) -> date | None:
    digits = text_of(data, keyword).replace("-", "").replace(".", "").replace("/", "")[:8]
    if len(digits) != 8 or not digits.isdigit():
        return None
    try:
        with lenient():
            return date.fromisoformat(str(DA(digits).isoformat()))
    except (ValueError, AttributeError):
        return None


def _moment(data: Dataset, day_keyword: str, time_keyword: str) -> datetime | None:
    day = _date(data, day_keyword)
    if day is None:
        return None
    try:
        with lenient():
            clock = TM(text_of(data, time_keyword).replace(":", "") or "000000")
            return datetime(day.year, day.month, day.day, clock.hour, clock.minute, clock.second, clock.microsecond)
    except (ValueError, AttributeError, TypeError):
        return datetime(day.year, day.month, day.day)


def examined_at(data: Dataset) -> datetime | None:
    """Return date and time of the examination: Study Date and Time."""
    return _moment(data, "StudyDate", "StudyTime")


def acquired_at(data: Dataset) -> datetime | None:
    """Return when the clip was taken: acquisition, else content, else series."""
    stamp = text_of(data, "AcquisitionDateTime")
    if stamp:
        try:
            with lenient():
                value = DT(stamp)
                return datetime(*value.timetuple()[:6], value.microsecond)
        except (ValueError, TypeError, AttributeError):
            pass
    for kind in ("Acquisition", "Content", "Series"):
        if (moment := _moment(data, f"{kind}Date", f"{kind}Time")) is not None:
            return moment
    return None


def identity_of(data: Dataset) -> Identity:
    """Return who it is.

    For an animal the Patient's Name holds the family name of the responsible person, then the animal's name
    (PS3.5 6.2, value representation PN, as changed by CP-643). A name without "^" is taken as the animal's.
    """
    name = value_of(data, "PatientName")
    family = str(getattr(name, "family_name", "") or "").strip() if name is not None else ""
    given = str(getattr(name, "given_name", "") or "").strip() if name is not None else ""
    owner = ""
    if text_of(data, "ResponsiblePersonRole").upper() in _OWNER_ROLES:
        owner = " ".join(part for part in text_of(data, "ResponsiblePerson").split("^") if part)
    if given and not owner:
        owner = family
    return Identity(
        animal_name=given or family,
        case_number=text_of(data, "PatientID") or text_of(data, "AccessionNumber"),
        owner=owner or text_of(data, "ResponsibleOrganization"),
        practice=text_of(data, "InstitutionName"),
        examined_at=examined_at(data),
    )


def _weight_kg(data: Dataset) -> float | None:
    """Patient's Weight (0010,1030), kg. Machines write 0 when nobody typed it; a dog weighs less than 150 kg."""
    weight = number_of(data, "PatientWeight")
    return weight if weight is not None and 0 < weight < 150 else None


def _age_years(data: Dataset) -> float | None:
    """Patient's Age (0010,1010): three digits and a unit."""
    match = re.fullmatch(r"(\d{1,3})([YMWD])", text_of(data, "PatientAge").upper())
    if match is None or int(match.group(1)) == 0:
        return None
    years = int(match.group(1)) * _YEARS_PER_UNIT[match.group(2)]
    return years if years < 40 else None


def patient_of(data: Dataset) -> Patient:
    """Return the animal as the tags describe it; what is absent or 0 stays unstated."""
    breeds = [text for item in items_of(data, "PatientBreedCodeSequence") if (text := text_of(item, "CodeMeaning"))]
    # PS3.3 C.7.2.2: Patient's Sex Neutered is ALTERED or UNALTERED.
    neutered = {"ALTERED": True, "UNALTERED": False}.get(text_of(data, "PatientSexNeutered").upper())
    return Patient(
        species=species_of(data),
        breed=text_of(data, "PatientBreedDescription") or " x ".join(breeds),
        sex={"M": "male", "F": "female"}.get(text_of(data, "PatientSex").upper(), ""),
        neutered=neutered,
        weight_kg=_weight_kg(data),
        age_years=_age_years(data),
        birth_date=_date(data, "PatientBirthDate"),
    )
