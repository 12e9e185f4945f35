"""An animal's age in words."""

from __future__ import annotations

# An age in days (730 D lacks 0.016 months of two years) or rounded to two decimals of a year (0.33 lacks 0.04 of four
# months) still has its last month. Engineering judgement: a day and a half.
_NEARLY_MONTHS = 0.05


def age_words(age_years: float) -> str:
    """Return an age as it is said: whole years and the completed months beside them.

    Parameters
    ----------
    age_years : float
        0 or more.

    Examples
    --------
    >>> age_words(17 / 12)
    '1 year 5 months'
    >>> age_words(6.0)
    '6 years'
    """
    if age_years < 0:
        raise ValueError(f"age must be 0 or more, got {age_years}; state it in years")
    years, months = divmod(int(12 * age_years + _NEARLY_MONTHS), 12)
    said = [_counted(years, "year")] if years else []
    said += [_counted(months, "month")] if months else []
    return " ".join(said) or "less than 1 month"


def _counted(n: int, one: str) -> str:
    return f"{n} {one}" if n == 1 else f"{n} {one}s"
