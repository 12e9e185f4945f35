"""How free text is compared with the words of the tables: without case, accents and punctuation."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from functools import lru_cache

_NOT_WORD = re.compile(r"[^a-z0-9']+")
_PRIMES = str.maketrans({"’": "'", "′": "'", "`": "'"})


def plain(text: str) -> str:
    """Return the text in lower case, accents and punctuation gone, words parted by one space.

    An apostrophe stays: E' is not E.

    Examples
    --------
    >>> plain("Galgo Español, (blue)")
    'galgo espanol blue'
    """
    folded = unicodedata.normalize("NFKD", text.translate(_PRIMES))
    letters = "".join(letter for letter in folded if not unicodedata.combining(letter))
    return _NOT_WORD.sub(" ", letters.lower()).strip()


# Phrases come from the tables again and again; free text, which may hold a name, is never kept.
_plain_phrase = lru_cache(maxsize=8192)(plain)


@lru_cache(maxsize=64)
def _needles(phrases: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    """Return each phrase once, the longest first, and how it stands among other words."""
    ordered = sorted(set(phrases), key=lambda item: (-len(_plain_phrase(item)), item))
    return tuple((phrase, f" {words} ") for phrase in ordered if (words := _plain_phrase(phrase)))


def compact(text: str) -> str:
    """Return the letters and digits alone, as labels of measurements are compared.

    Examples
    --------
    >>> compact("LA:Ao") == compact("la / ao")
    True
    >>> compact("E'") == compact("E")
    False
    """
    return plain(text).replace(" ", "")


def find_phrases(text: str, phrases: Iterable[str]) -> tuple[str, ...]:
    """Return which phrases stand in the text as whole words, in the order in which they stand there.

    Longer phrases are found first and their words are then used up: "Cavalier King Charles Spaniel" does not also
    count as "King Charles Spaniel".

    Parameters
    ----------
    text : str
        Free text.
    phrases : iterable of str
        Phrases as the tables write them.
    """
    rest = f" {plain(text)} "
    found: list[tuple[int, str]] = []
    for phrase, needle in _needles(tuple(phrases)):
        if (place := rest.find(needle)) >= 0:
            found.append((place, phrase))
            # the words that were used up are blanked, so that places in the text stay what they were
            while (here := rest.find(needle)) >= 0:
                rest = rest[: here + 1] + "\0" * (len(needle) - 2) + rest[here + len(needle) - 1 :]
    return tuple(phrase for _, phrase in sorted(found))
