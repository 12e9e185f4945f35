"""Which quantity of the reference tables a report's code or a sheet's words mean."""

from __future__ import annotations

from functools import lru_cache

from fanlight.reference.load import load_house
from fanlight.reference.methods import read_methods
from fanlight.reference.quantities import match_quantity, match_quantity_code, read_quantities
from fanlight.study import House


@lru_cache(maxsize=1)
def _shipped() -> House:
    """Names and codes are the shipped ones: a group's own settings change limits, not what a code means."""
    return load_house()


def quantity_of_code(code: str) -> tuple[str, str]:
    """Return quantity key and method in words of a LOINC code; two empty strings when the tables do not know it."""
    key, technique = match_quantity_code(_shipped(), code)
    return key, read_methods(_shipped())[technique].title if technique else ""


def quantity_of_words(words: str) -> str:
    """Return the quantity key that a label names, "" when it names none."""
    return match_quantity(_shipped(), words)


def may_lack_unit(quantity: str) -> bool:
    """Whether a number of this quantity says all by itself: a ratio, or an index by body weight (`convert_unit`)."""
    row = read_quantities(_shipped()).get(quantity)
    return row is not None and (row.unit == "1" or row.unit.startswith("cm/kg^"))
