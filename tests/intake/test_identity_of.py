"""Animal, owner and practice out of the tags, the veterinary ones included."""

import warnings
from datetime import date, datetime

import pytest
from pydicom.dataset import Dataset

from fanlight.intake.identity_of import acquired_at, identity_of, patient_of
from fanlight.study import Species


def header(**tags):
    data = Dataset()
    for keyword, value in tags.items():
        setattr(data, keyword, value)
    return data


def code(value, scheme="SCT", meaning="x"):
    return [header(CodeValue=value, CodingSchemeDesignator=scheme, CodeMeaning=meaning)]


def test_name_of_an_animal_has_the_owners_family_name_first():
    """PS3.5 6.2, value representation PN, as CP-643 changed it for veterinary use."""
    identity = identity_of(header(PatientName="Ashdown^Pepper", PatientID="17-204", InstitutionName="Invented Vets"))

    assert (identity.owner, identity.animal_name) == ("Ashdown", "Pepper")
    assert (identity.case_number, identity.practice) == ("17-204", "Invented Vets")


def test_plain_name_is_the_animals():
    """Without "^" nothing says which part is whose."""
    identity = identity_of(header(PatientName="Pepper"))

    assert (identity.owner, identity.animal_name) == ("", "Pepper")


def test_responsible_person_is_the_owner_when_the_role_says_so():
    """A veterinarian in that place is not the owner."""
    tags = {"PatientName": "Ashdown^Pepper", "ResponsiblePerson": "Brook^Ann"}

    assert identity_of(header(**tags, ResponsiblePersonRole="OWNER")).owner == "Brook Ann"
    assert identity_of(header(**tags, ResponsiblePersonRole="VETERINARIAN")).owner == "Ashdown"


@pytest.mark.parametrize(
    ("tags", "species"),
    [
        ({"PatientSpeciesCodeSequence": code("448771007")}, Species.DOG),  # PS3.16 CID 7454
        ({"PatientSpeciesCodeSequence": code("448169003")}, Species.CAT),
        ({"PatientSpeciesCodeSequence": code("L-80A00", "SRT")}, Species.CAT),
        ({"PatientSpeciesDescription": "Canine"}, Species.DOG),
        ({"PatientSpeciesDescription": "Felis catus"}, Species.CAT),
        ({"PatientSpeciesDescription": "Canis lupus familiaris"}, Species.DOG),
        ({"PatientSpeciesDescription": "Ferret"}, None),
        ({"PatientSpeciesDescription": "concatenated"}, None),
        ({"PatientSpeciesDescription": "dog or cat"}, None),
        ({}, None),
    ],
)
def test_species_by_code_or_word(tags, species):
    """Codes first; words only as whole words; two species are none."""
    assert patient_of(header(**tags)).species is species


@pytest.mark.parametrize(
    ("stated", "weight_kg"), [(0, None), (0.0, None), (-3, None), (9.4, 9.4), (152.04, None), (149, 149)]
)
def test_weight_of_zero_is_not_stated(stated, weight_kg):
    """Machines write 0 when nobody typed it; more than any dog weighs is not believed either."""
    assert patient_of(header(PatientWeight=stated)).weight_kg == weight_kg


@pytest.mark.parametrize(
    ("age", "years"), [("011Y", 11), ("018M", 1.5), ("026W", 0.498), ("000Y", None), ("old", None), ("900Y", None)]
)
def test_age_is_read_in_its_unit(age, years):
    """AS, PS3.5 6.2."""
    data = Dataset()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        data.add_new(0x00101010, "AS", age)
    expected = None if years is None else pytest.approx(years, abs=0.001)

    assert patient_of(data).age_years == expected


def test_sex_and_neutering_are_apart():
    """PS3.3 C.7.2.2: ALTERED, UNALTERED; absent is not stated."""
    neutered = patient_of(header(PatientSex="F", PatientSexNeutered="ALTERED"))

    assert (neutered.sex, neutered.neutered) == ("female", True)
    assert patient_of(header(PatientSex="M", PatientSexNeutered="UNALTERED")).neutered is False
    assert patient_of(header(PatientSex="O")).sex == ""
    assert patient_of(header(PatientSex="M")).neutered is None


def test_breed_by_description_or_code():
    """The description as written, else the meanings of the codes."""
    assert patient_of(header(PatientBreedDescription="Whippet")).breed == "Whippet"
    assert patient_of(header(PatientBreedCodeSequence=code("76351004", meaning="Whippet dog"))).breed == "Whippet dog"


def test_acquisition_comes_before_content_and_series():
    """The most exact statement of the moment."""
    data = header(SeriesDate="20260102", SeriesTime="080000", ContentDate="20260102", ContentTime="090000")
    assert acquired_at(data) == datetime(2026, 1, 2, 9)
    data.AcquisitionDate, data.AcquisitionTime = "20260102", "100000.5"
    assert acquired_at(data) == datetime(2026, 1, 2, 10, 0, 0, 500000)
    data.AcquisitionDateTime = "20260102110000.25+0100"
    assert acquired_at(data) == datetime(2026, 1, 2, 11, 0, 0, 250000)


@pytest.mark.parametrize("day", ["", "2026", "20261399", "yesterday"])
def test_broken_dates_are_not_stated(day):
    """Never an exception, never a guess."""
    data = Dataset()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        data.add_new(0x00080020, "DA", day)
        data.add_new(0x00100030, "DA", day)

    assert identity_of(data).examined_at is None
    assert patient_of(data).birth_date is None


def test_birth_date_is_read():
    """As written."""
    assert patient_of(header(PatientBirthDate="20150501")).birth_date == date(2015, 5, 1)
