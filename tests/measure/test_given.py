"""Numbers that came with a study are weighed, and what follows from them is computed by published formulas."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.measure.derived import derive
from fanlight.measure.given import weigh_given
from fanlight.reference.load import load_house
from fanlight.study import GivenMeasurement, Measurement, Patient, Species
from tests.report.sample import sample_review

DOG = Patient(species=Species.DOG, weight_kg=8.0, age_years=7.0, breed="Mixed breed")


def given(
    quantity: str, value: float, unit: str = "cm", method: str = "M-mode", by: str = "machine report"
) -> GivenMeasurement:
    return GivenMeasurement(quantity=quantity, label=quantity, value=value, unit=unit, given_by=by, method=method)


def by_quantity(items: tuple[GivenMeasurement, ...]) -> dict[str, float]:
    return {item.quantity: item.value for item in items}


@pytest.mark.parametrize(("value", "unit"), [(3.6, "cm"), (36.0, "mm")])
def test_index_by_weight_agrees_with_the_worked_row(value: float, unit: str) -> None:
    """authorities/worked_rows.csv C04: 3.6 cm at 8 kg gives 1.9534 (computed there, not read in a paper)."""
    found = by_quantity(derive([given("lvidd", value, unit)], DOG))

    assert found["lviddn"] == pytest.approx(1.9534, abs=0.0005)


def test_shortening_agrees_with_published_cases() -> None:
    """UCDCASES case 11: 4.7 and 2.3 cm, 51 %; case 17: 3.3 and 2.2 cm, 33 % (half the last printed digit)."""
    for lvidd, lvids, expected in ((4.7, 2.3, 51.0), (3.3, 2.2, 33.0)):
        found = by_quantity(derive([given("lvidd", lvidd), given("lvids", lvids)], DOG))

        assert found["fractional_shortening"] == pytest.approx(expected, abs=0.5)


def test_diameters_taken_in_different_ways_give_no_shortening() -> None:
    found = by_quantity(derive([given("lvidd", 3.6), given("lvids", 2.0, method="2-D")], DOG))

    assert "fractional_shortening" not in found


def test_what_was_given_is_not_computed_again() -> None:
    found = derive([given("lvidd", 3.6), given("lviddn", 1.9, "cm/kg^0.294")], DOG)

    assert "lviddn" not in by_quantity(found)


def test_two_values_of_one_quantity_give_no_index() -> None:
    assert derive([given("lvidd", 3.6), given("lvidd", 3.2)], DOG) == ()


@pytest.mark.parametrize(
    "animal", [replace(DOG, weight_kg=None), replace(DOG, species=Species.CAT), replace(DOG, species=None)]
)
def test_no_index_without_a_dog_of_known_weight(animal: Patient) -> None:
    assert "lviddn" not in by_quantity(derive([given("lvidd", 3.6)], animal))


def weighed(patient: Patient, *numbers: GivenMeasurement) -> dict[str, Measurement]:
    study = replace(sample_review().study, patient=patient, machine_measurements=numbers)
    return {item.name: item for item in weigh_given(study, load_house())}


def test_a_large_ventricle_is_above_its_interval_with_z() -> None:
    """Worked row C20 (computed): 3.6 cm at 8 kg lies 2.546 z above the CORNELL2004 centre."""
    found = weighed(DOG, given("lvidd", 3.6))
    cornell = [item for item in found["lvidd"].readings if item.citation == "CORNELL2004" and item.applies]

    assert cornell[0].z == pytest.approx(2.546, abs=0.002)
    assert "above" in cornell[0].words


def test_without_weight_no_row_speaks_and_says_why() -> None:
    found = weighed(replace(DOG, weight_kg=None), given("lvidd", 3.6))

    assert not any(item.z is not None for item in found["lvidd"].readings)
    assert any("weight" in item.reason for item in found["lvidd"].readings)


def test_a_staging_limit_is_silent_until_the_disease_is_named() -> None:
    found = weighed(DOG, given("la_ao", 1.9, "1", "2-D"))
    staging = [item for item in found["la_ao"].readings if item.kind == "staging_criterion"]

    assert staging
    assert not any(item.applies for item in staging)


def test_an_unknown_quantity_is_shown_as_given() -> None:
    found = weighed(DOG, GivenMeasurement(quantity="", label="Odd", value=3, unit="mm", given_by="machine report"))

    assert found[""].readings == ()
    assert "no quantity of this name" in found[""].reason


def test_derived_quantities_are_ones_the_tables_know() -> None:
    from fanlight.reference.quantities import read_quantities

    known = read_quantities(load_house())

    assert {item.quantity for item in derive([given("lvidd", 3.6), given("lvids", 2.0)], DOG)} <= set(known)
