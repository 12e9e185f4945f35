"""Invented visits: a practice, an animal with its owner, a trainee and a mentor, all drawn from the seed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np

from fanlight.simulate.dicom.patient_facts import ExaminationFacts, PatientFacts, PersonName, Practice
from fanlight.simulate.visit.invented_names import ANIMALS, FAMILIES, GIVEN, KINDS_OF_PRACTICE, PLACES
from fanlight.study import Species

_STREAM = 5  # keeps these draws apart from others that start from the same seed
_FIRST_DAY = date(2025, 1, 6)  # a Monday; all visits lie within the weeks that follow, whatever the clock says
_WEEKS = 70
_AGES_YEARS = (1.2, 13.5)  # grown animals: reference intervals hold for them
_NEUTERED_FRACTION = 0.7  # engineering judgement: only that both occur
_MIXED_FRACTION = 0.25  # likewise


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kind:
    """A breed that an animal of this weight may be."""

    name: str  # as reference/tables/breeds.toml writes it
    code: tuple[str, str]  # SNOMED CT, PS3.16 CID 7480
    low_kg: float
    high_kg: float


def _kind(name: str, code: str, meaning: str, low_kg: float, high_kg: float) -> _Kind:
    return _Kind(name=name, code=(code, meaning), low_kg=low_kg, high_kg=high_kg)


# Weights of grown animals: common knowledge, no source. They only keep a visit believable; nothing is measured by them.
_DOGS = (
    _kind("Chihuahua", "9761009", "Chihuahua superbreed dog breed", 1.5, 3.5),
    _kind("Yorkshire Terrier", "13284009", "Yorkshire terrier", 2.0, 5.0),
    _kind("Cavalier King Charles Spaniel", "66495005", "Cavalier King Charles spaniel", 5.5, 12.0),
    _kind("Pug", "60252000", "Pug dog", 6.0, 11.0),
    _kind("French Bulldog", "59643008", "French bulldog", 8.0, 15.0),
    _kind("Whippet", "76351004", "Whippet dog", 10.0, 18.0),
    _kind("Boxer", "42250008", "Boxer dog", 23.0, 36.0),
    _kind("Labrador Retriever", "62137007", "Labrador retriever dog breed", 23.0, 38.0),
    _kind("Golden Retriever", "58108001", "Golden retriever dog breed", 24.0, 38.0),
    _kind("Doberman", "47075006", "Doberman pinscher", 28.0, 46.0),
    _kind("Irish Wolfhound", "52952001", "Irish wolfhound", 45.0, 75.0),
    _kind("Newfoundland", "52253003", "Newfoundland dog", 45.0, 70.0),
    _kind("Great Dane", "27615007", "Great dane dog", 46.0, 80.0),
)
_CATS = (
    _kind("Domestic Shorthair", "15020009", "Domestic shorthaired cat", 2.0, 8.0),
    _kind("British Shorthair", "70653001", "British shorthaired cat", 3.2, 7.5),
    _kind("Maine Coon", "81866001", "Maine coon cat", 4.5, 9.5),
    _kind("Ragdoll", "132654007", "Ragdoll cat breed", 3.8, 8.0),
    _kind("Sphynx", "132680008", "Sphynx cat breed", 2.8, 5.5),
    _kind("Persian", "68086001", "Persian cat", 3.0, 6.0),
)
_MIXED = {
    Species.DOG: _kind("Mixed breed", "132619000", "Mixed breed dog", 0.0, 150.0),
    Species.CAT: _kind("Mixed breed", "132653001", "Mixed breed cat", 0.0, 150.0),
}
_BREEDS = {Species.DOG: _DOGS, Species.CAT: _CATS}


def draw_facts(*, seed: int, species: Species, weight_kg: float) -> ExaminationFacts:
    """Return the visit that belongs to a seed: the same arguments give the same visit, on whatever day it is asked for.

    Parameters
    ----------
    seed : int
        Of the examination.
    species : Species
        Breeds are drawn from those whose grown animals weigh as much, else it is a mixed breed.
    weight_kg : float
        Of the animal.
    """
    rng = np.random.default_rng([seed, _STREAM])
    began_at = _moment(rng)
    place = _one(PLACES, rng)
    practice = Practice(name=f"{place} {_one(KINDS_OF_PRACTICE, rng)}", place=place)
    breed = _breed(species, weight_kg, rng)
    born = began_at.date() - timedelta(days=round(float(rng.uniform(*_AGES_YEARS)) * 365.25))
    letters = "".join(word[0] for word in place.split())[:2].upper()
    owner, trainee, mentor = _people(rng, 3)
    return ExaminationFacts(
        practice=practice,
        patient=PatientFacts(
            animal_name=_one(ANIMALS, rng),
            case_number=f"{letters}-{int(rng.integers(10_000, 99_999))}",
            species=species,
            breed=breed.name,
            breed_code=breed.code,
            sex=_one(("female", "male"), rng),
            neutered=bool(rng.random() < _NEUTERED_FRACTION),
            birth_date=born,
            weight_kg=weight_kg,
            responsible=owner,
        ),
        trainee=trainee,
        mentor=mentor,
        began_at=began_at,
        seed=seed,
    )


def _one(words: tuple[str, ...], rng: np.random.Generator) -> str:
    return words[int(rng.integers(len(words)))]


def _people(rng: np.random.Generator, count: int) -> list[PersonName]:
    """Different people: no family name comes twice in one visit."""
    families = rng.permutation(len(FAMILIES))[:count]
    return [PersonName(family=FAMILIES[int(index)], given=_one(GIVEN, rng)) for index in families]


def _breed(species: Species, weight_kg: float, rng: np.random.Generator) -> _Kind:
    fitting = [kind for kind in _BREEDS[species] if kind.low_kg <= weight_kg <= kind.high_kg]
    if not fitting or rng.random() < _MIXED_FRACTION:
        return _MIXED[species]
    return fitting[int(rng.integers(len(fitting)))]


def _moment(rng: np.random.Generator) -> datetime:
    """A working day and hour: Monday to Friday, nine to half past four."""
    day = _FIRST_DAY + timedelta(weeks=int(rng.integers(_WEEKS)), days=int(rng.integers(5)))
    minutes = 9 * 60 + int(rng.integers(0, 450))
    return datetime(day.year, day.month, day.day, minutes // 60, minutes % 60, int(rng.integers(60)))
