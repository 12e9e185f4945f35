"""Whether a piece of screen text is technical, or may say who the animal, the owner or the practice is."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from fanlight.frames.quantities import find_quantities, parse_bare_number
from fanlight.study import House

TABLE: Final = "screen_words"

# Two or more numbers joined as dates, times and case numbers are; 4.0 or 20/60 alone are not caught here.
_DATE_OR_TIME: Final = re.compile(
    r"\d{1,4}\s?[/.\-:]\s?\d{1,2}\s?[/.\-:]\s?\d{1,4}|(?<!\d)\d{1,2}:\d{2}(?!\d)|(?<!\d)(?:19|20)\d{2}(?!\d)"
)
_TOKEN: Final = re.compile(r"[0-9]+(?:[.,][0-9]+)?|[^\W\d_]+(?:[/-][^\W\d_]+)*|\d[dD](?![^\W\d_])")
_TWO_D: Final = re.compile(r"(?<![^\W_])([234][dD])(?![^\W\d_])")
# Engineering judgement: settings without a unit (gain 60, MI 1.4) have at most three digits before the point.
_BARE_NUMBER: Final = re.compile(r"[0-9]{1,3}(?:[.,][0-9]{1,2})?")


# Engineering judgement: a run of five digits or more is a case number, whatever stands around it.
_LONG_NUMBER: Final = re.compile(r"\d{5,}")


@dataclass(frozen=True, slots=True, kw_only=True)
class ScreenWords:
    """The allow-list of the House, in lower case."""

    units: frozenset[str]
    alone: frozenset[str]  # technical by themselves
    beside_others: frozenset[str]  # technical only beside a quantity or one of `alone`

    @classmethod
    def of(cls, house: House) -> ScreenWords:
        """Read the list from the table "screen_words"."""
        table = house.table(TABLE)
        return cls(
            units=frozenset(table["units"]["technical"]),
            alone=frozenset(word.lower() for word in table["words"]["alone"]),
            beside_others=frozenset(word.lower() for word in table["words"]["beside_others"]),
        )


def is_technical(text: str, words: ScreenWords) -> bool:
    """Return whether a text holds nothing but quantities, short numbers and words of the allow-list.

    Parameters
    ----------
    text : str
        One piece of screen text.
    words : ScreenWords
        The allow-list.

    Returns
    -------
    bool
        False whenever there is a doubt: an unknown word, a date, a time, a year, a number of more than three
        digits without a unit, letters of another script, or nothing readable at all.

    Notes
    -----
    The list keeps, it does not search for names: a name that is spelt like a technical word ("Gain") would
    stay. Words that are common names are therefore kept only beside a quantity or an unmistakable word.
    """
    if _DATE_OR_TIME.search(text):
        return False
    rest, anchored = text, False
    for quantity, start, end in reversed(find_quantities(text)):
        if quantity.unit not in words.units:
            return False
        rest = f"{rest[:start]} {rest[end:]}"
        anchored = True
    if _TWO_D.search(rest):
        rest, anchored = _TWO_D.sub(" ", rest), True
    has_number, needs_anchor = False, False
    for token in _TOKEN.findall(rest):
        if token[0].isdigit():
            if not _BARE_NUMBER.fullmatch(token):
                return False
            has_number = True
            continue
        for word in [token.lower()] if token.lower() in words.alone else re.split(r"[/-]", token.lower()):
            if word in words.alone:
                anchored = True
            elif word in words.beside_others:
                needs_anchor = True
            else:
                return False
    return anchored or (has_number and not needs_anchor and parse_bare_number(rest) is not None)


def is_date_or_number(text: str) -> bool:
    """Return whether a text holds a date, a time, a year or a case number: never a part of a picture."""
    return bool(_DATE_OR_TIME.search(text) or _LONG_NUMBER.search(text))
