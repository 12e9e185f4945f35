"""Dates and times of DICOM attributes, moved back together."""

from __future__ import annotations

import re
from datetime import date, datetime, time, timedelta
from typing import Final

# PS3.5 table 6.2-1: DA is YYYYMMDD; TM is HH[MM[SS[.F to .FFFFFF]]]; DT adds both and an offset from UTC.
_DATE: Final = re.compile(r"(\d{4})\.?(\d{2})\.?(\d{2})")
_TIME: Final = re.compile(r"(\d{2})(?::?(\d{2})(?::?(\d{2})(?:\.(\d{1,6}))?)?)?")
_DATE_TIME: Final = re.compile(r"(\d{8})(\d{2}(?:\d{2}(?:\d{2}(?:\.\d{1,6})?)?)?)?(?:[+-]\d{4})?")


def read_date(text: str) -> date | None:
    """Return the date of a DA value, or None where it is not one."""
    match = _DATE.fullmatch(text.strip())
    try:
        return None if match is None else date(int(match[1]), int(match[2]), int(match[3]))
    except ValueError:
        return None


def read_time(text: str) -> time | None:
    """Return the time of a TM value, or None where it is not one."""
    match = _TIME.fullmatch(text.strip())
    try:
        return (
            None
            if match is None
            else time(int(match[1]), int(match[2] or 0), int(match[3] or 0), int((match[4] or "0").ljust(6, "0")))
        )
    except ValueError:
        return None


def _back(moment: datetime, shift: timedelta) -> datetime | None:
    try:
        return moment - shift
    except OverflowError:
        return None


def shift_pair(day_text: str, time_text: str, shift: timedelta) -> tuple[str, str]:
    """Return a date and the time beside it, moved back; "" for what is absent or not valid.

    Notes
    -----
    A date without a time moves by whole days; a time without a date moves around the clock.
    """
    day, clock = read_date(day_text), read_time(time_text)
    if day is None:
        if clock is None:
            return "", ""
        moved = _back(datetime.combine(date(2000, 1, 1), clock), shift)  # any day: only the clock is used
        return "", "" if moved is None else f"{moved:%H%M%S.%f}"
    if clock is None:
        moved = _back(datetime.combine(day, time()), timedelta(days=shift.days))
        return ("" if moved is None else f"{moved:%Y%m%d}"), ""
    moved = _back(datetime.combine(day, clock), shift)
    return ("", "") if moved is None else (f"{moved:%Y%m%d}", f"{moved:%H%M%S.%f}")


def shift_date_time(text: str, shift: timedelta) -> str:
    """Return a DT value moved back, without its offset from UTC (it tells the place); "" where it is not one."""
    match = _DATE_TIME.fullmatch(text.strip())
    if match is None:
        return ""
    return "".join(shift_pair(match[1], match[2] or "", shift))


def age_text(born: date, examined: date) -> str:
    """Return an age as an AS value (PS3.5 table 6.2-1): days below a month, months below two years, else years."""
    days = (examined - born).days
    if not 0 <= days < 999 * 365:
        return ""
    # Mean lengths of the Gregorian month and year.
    if days < 31:
        return f"{days:03d}D"
    return f"{int(days / 30.436875):03d}M" if days < 730 else f"{int(days / 365.2425):03d}Y"
