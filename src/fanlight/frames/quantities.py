"""Numbers with a unit out of screen text. The unit alone decides what a number is; no maker's layout is assumed."""

from __future__ import annotations

import re
from typing import Final

from fanlight.study import Quantity

# Spellings met on screens and what a reader of characters makes of them (m read as rn, z as 2, B as 8, s as 5).
# Longest first: "cm/s" must win over "cm".
_UNIT_SPELLINGS: Final[tuple[tuple[str, str], ...]] = (
    (r"m[Ww]\s?/\s?c(?:m|rn)\s?(?:2|²|\^2)", "mW/cm2"),
    (r"[Ww]\s?/\s?c(?:m|rn)\s?(?:2|²|\^2)", "W/cm2"),
    (r"[Cc](?:[Mm]|rn)\s?/\s?(?:[Ss][Ee][Cc]|[Ss]|5)", "cm/s"),
    (r"(?:[Mm][Mm]|rnrn|mrn|rnm)\s?/\s?(?:[Ss][Ee][Cc]|[Ss]|5)", "mm/s"),
    (r"(?:[Mm]|rn)\s?/\s?(?:[Ss][Ee][Cc]|[Ss])", "m/s"),
    (r"[Cc](?:[Mm]|rn)", "cm"),
    (r"[Mm][Mm]", "mm"),
    # No machine prints millihertz: every mhz is a megahertz.
    (r"[Mm][Hh][Zz2]", "MHz"),
    (r"[Kk][Hh][Zz2]", "kHz"),
    (r"[Hh][Zz]", "Hz"),
    (r"[Ff][Pp][Ss]|[Ff]rames\s?/\s?s", "fps"),
    (r"[Dd][Bb8]", "dB"),
    (r"[Bb][Pp](?:[Mm]|rn)|/\s?min", "bpm"),
    (r"%|％", "%"),
)
_SIGNED_UNITS: Final = frozenset({"cm/s", "m/s", "dB"})
# Every dash that stands for a minus; the hyphen is escaped, it must make no range inside a character class.
_MINUS: Final = r"−–—﹣－\-"
# Letters that stand for a digit when the rest of the token is digits.
_CONFUSED: Final = {"O": "0", "o": "0", "I": "1", "l": "1", "|": "1"}
_DIGIT: Final = r"[0-9OoIl|]"
_NUMBER: Final = rf"{_DIGIT}+(?:[.,·]{_DIGIT}+)?"
# Not inside a longer number, a date, a fraction or a range, and a look-alike letter must not belong to a word.
_BEFORE: Final = rf"(?<![0-9.,·:/])(?<![0-9][{_MINUS}])(?<![0-9][{_MINUS}/]\s)(?:(?<![A-Za-z])|(?=[0-9]))"
_UNIT: Final = "|".join(f"(?P<u{index}>{spelling})" for index, (spelling, _) in enumerate(_UNIT_SPELLINGS))
# After a unit no letter, no power (cm2, cm3, cm²) and no further "per" (cm/div).
_AFTER: Final = r"(?![A-Za-zµ²³^])(?![23](?![0-9.,A-Za-z]))"
_QUANTITY: Final = re.compile(
    rf"(?P<sign>(?<![0-9+{_MINUS}])[+{_MINUS}])?{_BEFORE}(?P<number>{_NUMBER})\s{{0,2}}(?:{_UNIT}){_AFTER}"
)
_BARE_NUMBER: Final = re.compile(rf"\s*(?P<sign>[+{_MINUS}])?\s?(?P<number>{_NUMBER})\s*")
_BARE_UNIT: Final = re.compile(rf"\W*(?:{_UNIT})\W*")
# Engineering judgement: no setting of a machine has more digits; a longer run is a case number.
_MOST_DIGITS: Final = 6


def _value_of(token: str) -> float | None:
    """Number that a token stands for, or None where it is ambiguous or no number."""
    if not any(mark.isascii() and mark.isdigit() for mark in token):
        return None
    plain = "".join(_CONFUSED.get(mark, mark) for mark in token)
    whole, mark, part = plain.partition(",") if "," in plain else plain.replace("·", ".").partition(".")
    if len(whole) + len(part) > _MOST_DIGITS:
        return None
    # "1,234" may be a thousand or a decimal comma; "0,125" can only be the latter.
    if mark == "," and len(part) == 3 and whole.lstrip("0"):
        return None
    return float(f"{whole}.{part or '0'}")


def _unit_of(found: re.Match[str]) -> str:
    for index, (_, unit) in enumerate(_UNIT_SPELLINGS):
        if found[f"u{index}"] is not None:
            return unit
    raise AssertionError("a match has one of the units")  # pragma: no cover


def find_quantities(text: str) -> tuple[tuple[Quantity, int, int], ...]:
    """Return each number with a unit and where it stands in the text (start, end).

    Parameters
    ----------
    text : str
        One piece of screen text, as it was read.

    Returns
    -------
    tuple of (Quantity, int, int)
        In reading order. Units: cm, mm, Hz, kHz, MHz, cm/s, m/s, dB, bpm, %, mm/s, fps, W/cm2.

    Notes
    -----
    Look-alikes are mended where the rest of the token is digits (O and 0, l, I, | and 1), decimal commas are
    read, and every dash counts as a minus where the unit can be negative (velocities, dB); before other
    units a dash is a tick mark or a bullet. Left out because they cannot be told: "1,234 Hz" (thousand or
    decimal comma), ranges ("12-5 MHz"), fractions, areas and volumes (cm², cm3), and runs of more than six digits.
    """
    found: list[tuple[Quantity, int, int]] = []
    for match in _QUANTITY.finditer(text):
        value, unit = _value_of(match["number"]), _unit_of(match)
        if value is None:
            continue
        if unit in ("cm", "mm", "cm/s", "m/s", "mm/s") and re.match(r"\s?/\s?[A-Za-z]", text[match.end() :]):
            continue
        if unit == "mW/cm2":
            value, unit = value / 1000.0, "W/cm2"
        if match["sign"] and match["sign"] != "+" and unit in _SIGNED_UNITS:
            value = -value
        found.append((Quantity(value=value, unit=unit), match.start(), match.end()))
    return tuple(found)


def parse_quantities(text: str) -> tuple[Quantity, ...]:
    """Return the numbers with a unit that a piece of screen text holds, in reading order.

    See `find_quantities` for what is mended and what is left out.

    Examples
    --------
    >>> [(q.value, q.unit) for q in parse_quantities("Depth 4 cm  18Hz  +62,5 cm/s")]
    [(4.0, 'cm'), (18.0, 'Hz'), (62.5, 'cm/s')]
    """
    return tuple(quantity for quantity, _, _ in find_quantities(text))


def parse_bare_number(text: str) -> float | None:
    """Return the number that a text consists of ("+59.3", "−59,3", "l5"), or None.

    Examples
    --------
    >>> parse_bare_number("−59,3")
    -59.3
    """
    match = _BARE_NUMBER.fullmatch(text)
    if match is None:
        return None
    value = _value_of(match["number"])
    if value is None:
        return None
    return -value if match["sign"] and match["sign"] != "+" else value


def parse_bare_unit(text: str) -> str | None:
    """Return the unit that a text consists of ("cm/s", "[dB]"), or None.

    Examples
    --------
    >>> parse_bare_unit("cm/s")
    'cm/s'
    """
    match = _BARE_UNIT.fullmatch(text)
    return None if match is None else _unit_of(match)
