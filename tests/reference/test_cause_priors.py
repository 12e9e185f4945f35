"""Where probabilities of causes come from: re-fitted rows are read like any House data, and only whole ones."""

from __future__ import annotations

from pathlib import Path

import pytest

from fanlight.reference.cause_priors import fact_behind, prior_of, read_cause_priors, read_refit_settings
from fanlight.reference.causes import AnimalFact, read_causes
from fanlight.reference.desk import read_desk_settings
from fanlight.reference.load import HouseFileError, load_house
from fanlight.study import House

ORIGIN = "from 34 studies of this practice judged before proposals were shown"
FITTED = f"""
[causes.causes.gain_low]
before = 0.12
[cause_priors.fitted.gain_low]
before = 0.12
low = 0.06
high = 0.2
n_studies = 34
n_named = 7
said = "{ORIGIN}"
"""


def loaded(folder: Path, text: str) -> House:
    file = folder / "group.toml"
    file.write_text(text)
    return load_house(file)


def test_nothing_is_refitted_as_shipped() -> None:
    assert read_cause_priors(load_house()) == {}


def test_refitted_rows_are_read_with_their_origin(tmp_path: Path) -> None:
    house = loaded(tmp_path, FITTED)

    (found,) = read_cause_priors(house).values()
    assert (found.cause, found.fact, found.n_studies, found.said) == ("gain_low", None, 34, ORIGIN)
    assert read_causes(house)["gain_low"].before == 0.12
    assert "cause_priors.fitted.gain_low" in house.own_rows


def test_a_probability_of_some_animals_is_a_row_of_its_own(tmp_path: Path) -> None:
    text = FITTED.replace(
        "[causes.causes.gain_low]\nbefore = 0.12", "[causes.causes.chest_thick.before_if]\nbody_condition_high = 0.12"
    )
    house = loaded(tmp_path, text.replace("fitted.gain_low", 'fitted."chest_thick:body_condition_high"'))

    (found,) = read_cause_priors(house).values()
    assert (found.cause, found.fact) == ("chest_thick", AnimalFact.BODY_CONDITION_HIGH)
    assert read_causes(house)["chest_thick"].before == read_causes(load_house())["chest_thick"].before


ROWS = "[causes.causes"
WRONG = [
    ("before = 0.12\nlow", "before = 0.13\nlow", r"before is 0.13, and causes go by 0.12: take this row out"),
    ("fitted.gain_low", "fitted.gain_lo", r"no cause gain_lo"),
    ("fitted.gain_low", 'fitted."gain_low:chest_deep"', r"gain_low goes by no fact chest_deep; its facts are: none"),
    ("n_named = 7", "n_named = 35", r"n_named must not lie above n_studies, got 35 of 34"),
    ("low = 0.06", "low = 0.3", r"low must not lie above high, got 0.3 and 0.2"),
    ("high = 0.2", "high = 1.2", r"high must lie between 0 and 1, got 1.2"),
    ("n_studies = 34", "n_studies = -1", r"n_studies must be a whole number of 0 or more, got -1"),
    (f'said = "{ORIGIN}"', 'said = " "', r"said must say where it comes from"),
    ("n_named = 7\n", "", r"needs before, high, low, n_named, n_studies, said; it has"),
    (ROWS, f"[cause_priors.settings]\nleast_studies = 0\n{ROWS}", r"least_studies must be a whole number of 1"),
    (ROWS, f"[cause_priors.settings]\nshipped_worth_studies = 0\n{ROWS}", r"must be a number above 0, got 0"),
]  # fmt: skip


@pytest.mark.parametrize(("there", "instead", "message"), WRONG, ids=[item[2][:30] for item in WRONG])
def test_rows_that_do_not_fit_together_are_refused(tmp_path: Path, there: str, instead: str, message: str) -> None:
    """Before a study is read; the message names the row."""
    assert there in FITTED

    with pytest.raises(HouseFileError, match=message):
        loaded(tmp_path, FITTED.replace(there, instead))


def test_shipped_settings_are_read() -> None:
    settings = read_refit_settings(load_house())

    assert settings.shipped_worth_studies > 0
    assert settings.least_studies > 1


def test_of_several_facts_the_likeliest_is_the_one_that_counts() -> None:
    row = read_causes(load_house())["lung_over_heart"]
    known = frozenset({AnimalFact.BREATHING_NORMAL, AnimalFact.CHEST_DEEP, AnimalFact.HEART_DISEASE_NAMED})

    fact = fact_behind(row, known)
    assert fact is AnimalFact.CHEST_DEEP
    assert prior_of(row, fact) == max(value for key, value in row.before_if.items() if key in known)
    assert fact_behind(row, frozenset()) is None
    assert prior_of(row, None) == row.before


COVERING = [
    ("causes_first_share = 0.2", r"causes_first_since is missing: name the day"),
    ('causes_first_share = 1.2\ncauses_first_since = "2026-12-01"', r"share must lie between 0 and 1, got 1.2"),
    ('causes_first_since = "soon"', r"causes_first_since must be a day, as \"2026-12-01\", got 'soon'"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "message"), COVERING)
def test_covering_needs_a_share_and_a_day(tmp_path: Path, text: str, message: str) -> None:
    with pytest.raises(HouseFileError, match=message):
        loaded(tmp_path, f"[desk.settings]\n{text}\n")


def test_no_study_is_covered_as_shipped() -> None:
    assert read_desk_settings(load_house()).causes_first_share == 0
