"""Diseases by the key that a request names, and the words by which sheets name them."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.reference.wording import find_phrases, plain
from fanlight.study import House, Request, Species

_DENIALS = ("no", "not", "without", "no sign of", "no signs of", "free of")
# Words with which a request asks rather than names (common practice, no source).
_DOUBTS = ("rule out", "suspect", "suspected", "suspicion of", "possible", "possibly", "query")


@dataclass(frozen=True, slots=True, kw_only=True)
class Disease:
    """One disease that a row may ask for."""

    key: str
    title: str
    species: tuple[Species, ...]
    words: tuple[str, ...]


def read_diseases(house: House) -> dict[str, Disease]:
    """Return all diseases by key; ValueError names the row that is incomplete."""
    return dict(house.kept("diseases", _all_diseases))


def _all_diseases(house: House) -> dict[str, Disease]:
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


def _phrases(house: House) -> dict[str, str]:
    """Return the key of a disease by every phrase that names it."""
    return {
        phrase: disease.key
        for disease in read_diseases(house).values()
        for phrase in (disease.title, disease.key.replace("_", " "), *disease.words)
    }


def _is_doubted(text: str) -> bool:
    """Whether a text asks rather than names: "HCM?", "rule out HCM"."""
    words = f" {plain(text)} "
    return "?" in text or any(f" {doubt} " in words for doubt in _DOUBTS)


def match_disease(house: House, text: str) -> tuple[str, ...]:
    """Return the keys of the diseases that a text names, without those that it denies ("no CHF") or doubts ("HCM?").

    For the field in which a request names diseases, not for a clinical question in free words.
    """
    if _is_doubted(text):
        return ()
    by_phrase = _phrases(house)
    words = f" {plain(text.replace('_', ' '))} "
    return tuple(
        dict.fromkeys(
            by_phrase[phrase]
            for phrase in find_phrases(words, by_phrase)
            if not any(f" {denial} {plain(phrase)} " in words for denial in _DENIALS)
        )
    )


def named_diseases(house: House, request: Request) -> frozenset[str]:
    """Return the keys of the diseases that request or mentor name, by key, usual words or abbreviation."""
    on_sheet = (key for text in request.named_diseases for key in match_disease(house, text))
    return frozenset((*on_sheet, *request.named.lesions))


def unmatched_diseases(house: House, request: Request) -> tuple[str, ...]:
    """Return the request's words for diseases that no row of the tables understands, as they were written.

    A disease that is denied ("no CHF") is understood; one that is doubted ("HCM?") is not, since it is not named.
    """
    by_phrase = _phrases(house)
    return tuple(
        text
        for text in dict.fromkeys(request.named_diseases)
        if text.strip() and (_is_doubted(text) or not find_phrases(text.replace("_", " "), by_phrase))
    )
