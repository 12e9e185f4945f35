"""Ages in words."""

from __future__ import annotations

import pytest

from fanlight.study.age import age_words


@pytest.mark.parametrize(
    ("age_years", "words"),
    [
        pytest.param(17 / 12, "1 year 5 months", id="17 months, DICOM PS3.5 table 6.2-1: 017M"),
        pytest.param(1.41667, "1 year 5 months", id="the same with five decimals"),
        pytest.param(1.416, "1 year 5 months", id="the same, cut off"),
        pytest.param(1.0, "1 year", id="a year"),
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
    """From months to years and back in words."""
    years, rest = divmod(months, 12)
    words = age_words(months / 12).replace("less than 1 month", "")

    assert (f"{years} year" in words) is bool(years)
    assert (f"{rest} month" in words) is bool(rest)


def test_no_age_is_below_nought() -> None:
    with pytest.raises(ValueError, match="0 or more, got -1"):
        age_words(-1)
