"""Breeds as people write them, and the groups that intervals leave out."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.reference.wording import find_phrases
from fanlight.study import House, Species


@dataclass(frozen=True, slots=True, kw_only=True)
class Breed:
    """One breed or cross."""

    key: str
    name: str
    species: Species
    group: str  # "sighthound", "giant" or ""
    words: tuple[str, ...]  # other names


def read_breeds(house: House) -> dict[str, Breed]:
    """Return all breeds by key; ValueError names the row that is incomplete."""
    return dict(house.kept("breeds", _all_breeds))


def _all_breeds(house: House) -> dict[str, Breed]:
    breeds: dict[str, Breed] = {}
    for key, row in house.table("breeds").items():
        try:
            breeds[key] = Breed(
                key=key,
                name=row["name"],
                species=Species(row["species"]),
                group=row["group"],
                words=tuple(row["words"]),
            )
        except (KeyError, ValueError) as error:
            raise ValueError(f"breeds.toml, row {key}: {error}") from error
    return breeds


def match_breed(house: House, text: str, species: Species | None) -> tuple[Breed, ...]:
    """Return the breeds that a free text names, in its order; empty when it names none that the table knows.

    A cross names its parents ("Whippet x Labrador" gives both), so that an interval which leaves out one of them
    is not used.

    Parameters
    ----------
    house : House
        Tables.
    text : str
        Breed as the file or the request sheet writes it.
    species : Species or None
        Only breeds of this species; all when it is not stated.
    """
    by_phrase = {
        phrase: breed
        for breed in read_breeds(house).values()
        if species is None or breed.species is species
        for phrase in (breed.name, *breed.words)
    }
    found = (by_phrase[phrase] for phrase in find_phrases(text, by_phrase))
    return tuple(dict.fromkeys(found))
