"""What a repeat scan may give: published spreads, chosen cautiously, beside every limit on which something hangs."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.reference.intervals import weigh
from fanlight.reference.methods import TakenBy
from fanlight.reference.repeatability import repeat_spread
from fanlight.study import House, IntervalReading, Patient, Request, Species

DOG = Patient(species=Species.DOG, breed="Beagle", sex="male", weight_kg=8.0, age_years=9)
CAT = Patient(species=Species.CAT, breed="DSH", sex="female", weight_kg=4.5, age_years=6)
MMVD = Request(named_diseases=("MMVD",))
M_MODE, TWO_D = TakenBy(technique=("m_mode",)), TakenBy(technique=("two_d",))


@pytest.mark.parametrize(
    ("quantity", "patient", "taken", "cv_percent", "citation"),
    [
        (
            "la_ao",
            DOG,
            TWO_D,
            12.5,
            "HSUE2020",
        ),  # 9.9 to 12.5 %; not breathing or the frame alone
        ("left_atrium_long_axis", DOG, TWO_D, 4.9, "HSUE2020"),  # 3.9 to 4.9 %
        ("lvidd", DOG, M_MODE, 9.3, "ACVIM2018C10"),  # acquisition; measuring alone 4.3 %
        ("lvidd", DOG, TWO_D, 21.5, "ACVIM2018C10"),
        ("lviddn", DOG, M_MODE, 9.3, "ACVIM2018C10"),  # an index by weight scatters as its diameter does
        ("fractional_shortening", DOG, M_MODE, 26.6, "CHETBOUL2005"),  # 3.4 to 26.6 %: the largest
        ("esv_index", DOG, TakenBy(), 11.0, "SERRES2008"),
        ("la_ao", CAT, replace(TWO_D, phase=("end_diastole",)), 6.6, "CATLAMIN2023"),
        ("la_ao", CAT, replace(TWO_D, phase=("end_systole",)), 10.6, "CATLAMIN2023"),
        ("la_ao", CAT, TWO_D, 10.6, "CATLAMIN2023"),  # phase not stated: the larger
        ("lvidd", replace(CAT, breed="Bengal"), M_MODE, 18.0, "BENGAL2015"),
    ],
)
def test_the_published_spread(
    house: House, quantity: str, patient: Patient, taken: TakenBy, cv_percent: float, citation: str
) -> None:
    """Figures as the abstracts print them (bibliography.toml)."""
    spread = repeat_spread(house, quantity, patient, taken)

    assert spread is not None
    assert (spread.cv_percent, spread.citation) == (cv_percent, citation)


@pytest.mark.parametrize(
    ("quantity", "patient"),
    [
        ("lvidd", CAT),  # two readers of one picture (VANHOEK2018) are no repeat scan, and this cat is no Bengal
        ("mitral_e", DOG),  # no source of the repeatability of velocities was seen
        ("la_ao", replace(DOG, species=None)),
    ],
)
def test_where_nobody_published_a_spread_there_is_none(house: House, quantity: str, patient: Patient) -> None:
    assert repeat_spread(house, quantity, patient, TakenBy()) is None


def test_the_larger_spread_counts_where_the_technique_is_not_stated(house: House) -> None:
    spread = repeat_spread(house, "lvidd", DOG, TakenBy())

    assert spread is not None
    assert (spread.cv_percent, spread.is_sure) == (21.5, False)
    assert spread.source_words == "CV 21.5 %, 5 dogs, ACVIM Forum 2018, C10, technique not stated"


def _stage(house: House, quantity: str, value: float, unit: str, method: str) -> IntervalReading:
    (reading,) = (
        item for item in weigh(house, quantity, value, unit, method, DOG, MMVD) if item.applies and "stage" in item.row
    )
    return reading


@pytest.mark.parametrize(
    ("value", "is_apart"),
    [
        # 1.96 times 12.5 % is 24.5 %: the band of 1.28 ends at 1.594, that of 2.13 begins at 1.608; the limit is 1.6.
        (1.28, True), (1.29, False), (1.60, False), (2.11, False), (2.13, True),
    ],
)  # fmt: skip
def test_a_value_near_its_limit_cannot_be_told_apart_from_it(house: House, value: float, is_apart: bool) -> None:
    reading = _stage(house, "la_ao", value, "1", "2-D, early diastole")

    assert reading.repeat_lower == pytest.approx(0.755 * value)
    assert reading.repeat_citation == "HSUE2020"
    assert reading.repeat_upper == pytest.approx(1.245 * value)
    assert ("cannot be told apart" in reading.repeat_words) is not is_apart
    if is_apart:
        side = "beyond" if value > 1.6 else "short of"
        assert reading.repeat_words.endswith(f"all {side} the limit of 1.60.")


def test_the_band_stands_in_the_unit_of_the_value(house: House) -> None:
    """1.7 times 8^0.294 is 3.133 cm (CORNELL2004's exponent); 31.0 mm lies 1 % below it."""
    for value, unit in ((31.0, "mm"), (3.10, "cm")):
        reading = _stage(house, "lvidd", value, unit, "M-mode")
        assert reading.repeat_upper == pytest.approx(value * (1 + 1.96 * 0.093))
        assert "cannot be told apart" in reading.repeat_words


def test_an_interval_of_health_has_no_repeat_band(house: House) -> None:
    """Normal and abnormal are told by the interval; only limits on which something hangs carry the band."""
    readings = weigh(house, "lvidd", 34.0, "mm", "M-mode", DOG, Request())
    assert all(item.repeat_words == "" for item in readings)


def test_a_limit_without_a_published_spread_says_so(house: House) -> None:
    request = Request(named_diseases=("pulmonary hypertension",))
    reading = weigh(house, "tr_vmax", 3.5, "m/s", "CW", DOG, request)[0]

    assert reading.applies
    assert reading.repeat_lower is None
    assert "not in the tables" in reading.repeat_words


@pytest.mark.parametrize("unit", ["", "1", "cm/kg^0.294"])
def test_an_index_by_weight_may_come_as_a_bare_number(house: House, unit: str) -> None:
    """A sheet writes LVIDDN without a unit, or as a ratio; both are weighed."""
    readings = weigh(house, "lviddn", 1.95, unit, "M-mode", DOG, MMVD)

    assert readings[0].z == pytest.approx(2.54, abs=0.02)  # worked_rows.csv C04 and C20: 3.6 cm at 8 kg
    assert readings[0].unit == "cm/kg^0.294"
