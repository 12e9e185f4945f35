"""Invented visits follow from the seed and from nothing else."""

from datetime import date
from typing import Any

import pytest
from pydicom.sr._concepts_dict import concepts

from fanlight.reference.breeds import match_breed
from fanlight.reference.load import load_house
from fanlight.simulate.visit.practice import draw_facts
from fanlight.study import Species

ANIMALS = [(Species.DOG, 3.0), (Species.DOG, 12.0), (Species.DOG, 28.0), (Species.DOG, 60.0), (Species.CAT, 4.2)]
VISITS = [
    draw_facts(seed=seed, species=species, weight_kg=weight_kg) for seed in range(40) for species, weight_kg in ANIMALS
]


def test_same_seed_gives_the_same_visit():
    """Also on another day: no clock is asked."""
    one, two = (draw_facts(seed=123, species=Species.CAT, weight_kg=4.0) for _ in range(2))

    assert one == two
    assert one != draw_facts(seed=124, species=Species.CAT, weight_kg=4.0)


def test_visits_lie_on_working_days_of_a_fixed_span():
    """Monday to Friday, in opening hours, between January 2025 and May 2026."""
    for visit in VISITS:
        assert visit.began_at.weekday() < 5
        assert 9 <= visit.began_at.hour < 17
        assert date(2025, 1, 6) <= visit.began_at.date() < date(2026, 5, 11)


def test_animals_are_grown_and_weigh_what_was_asked():
    """Age from one year on; weight and species are the caller's."""
    for visit, (species, weight_kg) in zip(VISITS, ANIMALS * 40, strict=True):
        assert (visit.patient.species, visit.patient.weight_kg) == (species, weight_kg)
        assert 1.0 < (visit.began_at.date() - visit.patient.birth_date).days / 365.25 < 14.0


def test_nobody_is_two_people_at_once():
    """Owner, trainee and mentor have different family names."""
    for visit in VISITS:
        assert len({visit.patient.responsible.family, visit.trainee.family, visit.mentor.family}) == 3


def test_draws_are_varied():
    """Both sexes, neutered or not, many names and practices."""
    patients = [visit.patient for visit in VISITS]

    assert {item.sex for item in patients} == {"female", "male"}
    assert {item.neutered for item in patients} == {True, False}
    assert len({item.animal_name for item in patients}) > 15
    assert len({visit.practice.name for visit in VISITS}) > 15
    assert len({item.case_number for item in patients}) > 30


@pytest.mark.parametrize(
    "visit", {visit.patient.breed: visit for visit in VISITS}.values(), ids=lambda v: v.patient.breed
)
def test_breeds_are_those_of_the_tables_with_codes_of_the_standard(visit):
    """Name as in breeds.toml; SNOMED CT code and meaning as in DICOM PS3.16, copied in pydicom's dictionary."""
    code, meaning = visit.patient.breed_code
    table: dict[str, Any] = concepts["SCT"]
    meanings = {row[code][0] for row in table.values() if code in row}

    assert meaning in meanings
    if visit.patient.breed != "Mixed breed":
        matched = match_breed(load_house(), visit.patient.breed, visit.patient.species)
        assert [item.name for item in matched] == [visit.patient.breed]
