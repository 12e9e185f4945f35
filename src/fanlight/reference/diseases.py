"""Diseases by the key that a request names, and the words by which sheets name them."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.reference.wording import find_phrases, plain
from fanlight.study import House, Species

_DENIALS = ("no", "not", "without", "no sign of", "no signs of", "free of")


@dataclass(frozen=True, slots=True, kw_only=True)
class Disease:
    """One disease that a row may ask for."""

    key: str
    title: str
    species: tuple[Species, ...]
    words: tuple[str, ...]


def read_diseases(house: House) -> dict[str, Disease]:
    """Return all diseases by key; ValueError names the row that is incomplete."""
    diseases: dict[str, Disease] = {}
    for key, row in house.table("diseases").items():
        try:
            diseases[key] = Disease(
                key=key,
                title=row["title"],
                species=tuple(Species(item) for item in row["species"]),
                words=tuple(row["words"]),
            )
        except (KeyError, ValueError) as error:
            raise ValueError(f"diseases.toml, row {key}: {error}") from error
    return diseases


def match_disease(house: House, text: str) -> tuple[str, ...]:
    """Return the keys of the diseases that a text names, without those that it denies ("no CHF").

    For the field in which a request names diseases, not for a clinical question in free words.
    """
    by_phrase = {
        phrase: disease.key
        for disease in read_diseases(house).values()
        for phrase in (disease.title, disease.key.replace("_", " "), *disease.words)
    }
    words = f" {plain(text.replace('_', ' '))} "
    return tuple(
        dict.fromkeys(
            by_phrase[phrase]
            for phrase in find_phrases(words, by_phrase)
            if not any(f" {denial} {plain(phrase)} " in words for denial in _DENIALS)
        )
    )
