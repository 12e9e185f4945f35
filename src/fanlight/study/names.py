"""How people and practices are told apart by their names."""

from __future__ import annotations

import unicodedata


def name_key(name: str) -> str:
    """Return a name as names are told apart: capitals, spaces and how accents are stored make no other person.

    Accents themselves and the order of the words do: both are as somebody wrote them, and nobody is taken for another.

    Examples
    --------
    >>> name_key("  Jos\u00e9   OKAFOR ") == name_key("Jose\u0301 Okafor")
    True
    >>> name_key("Jose Okafor") == name_key("Jos\u00e9 Okafor"), name_key("Okafor T.") == name_key("T. Okafor")
    (False, False)
    """
    # Unicode 15, 3.13, D145: folded case may need to be composed anew.
    folded = unicodedata.normalize("NFC", name).casefold()
    return " ".join(unicodedata.normalize("NFC", folded).split())


def same_words(one: str, other: str) -> bool:
    """Return whether two names hold the same words: files and request sheets put them in different orders.

    Examples
    --------
    >>> same_words("Rowan, Ada", "ada rowan"), same_words("Pip", "Moss")
    (True, False)
    """
    return _words(one) == _words(other)


def _words(name: str) -> frozenset[str]:
    return frozenset(name.casefold().replace(",", " ").split())
