"""Ages in words."""

from __future__ import annotations

import re

import pytest

from fanlight.study.age import age_words


@pytest.mark.parametrize(
    ("age_years", "words"),
    [
        pytest.param(17 / 12, "1 year 5 months", id="17 months, DICOM PS3.5 table 6.2-1: 017M"),
        pytest.param(1.41667, "1 year 5 months", id="the same with five decimals"),
        pytest.param(1.416, "1 year 5 months", id="the same, cut off"),
        pytest.param(1.0, "1 year", id="a year"),
        pytest.param(730 / 365.25, "2 years", id="730D, DICOM PS3.5 table 6.2-1, AS"),
        pytest.param(365 / 365.25, "1 year", id="365D"),
        pytest.param(0.33, "4 months", id="a third of a year, rounded to two decimals"),
        pytest.param(0.58, "7 months", id="seven months, rounded to two decimals"),
        pytest.param(0.32, "3 months", id="short of four months by five days"),
        pytest.param(13 / 12, "1 year 1 month", id="a year and a month"),
        pytest.param(9.5, "9 years 6 months", id="half a year"),
        pytest.param(7 / 12, "7 months", id="no year yet"),
        pytest.param(1.49, "1 year 5 months", id="a month that is not full does not count"),
        pytest.param(12 / 365.2425, "less than 1 month", id="days"),
        pytest.param(0.0, "less than 1 month", id="new-born"),
    ],
)
def test_an_age_is_said_in_years_and_completed_months(age_years: float, words: str) -> None:
    assert age_words(age_years) == words


@pytest.mark.parametrize("months", range(480))
def test_no_month_is_lost_on_the_way(months: int) -> None:
    """From months to years and back in words: in full, to two decimals, and by whole days."""
    years, rest = divmod(months, 12)
    for age_years in (months / 12, round(months / 12, 2), round(months * 365.25 / 12) / 365.25):
        words = age_words(age_years).replace("less than 1 month", "")
        said = {unit: int(n) for n, unit in re.findall(r"\b(\d+) (year|month)s?\b", words)}

        assert said == {unit: n for unit, n in (("year", years), ("month", rest)) if n}


def test_no_age_is_below_nought() -> None:
    with pytest.raises(ValueError, match="0 or more, got -1"):
        age_words(-1)
