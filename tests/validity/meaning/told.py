"""An invented animal with numbers and what a mentor named, as gradings see it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from fanlight.measure.given import weigh_given
from fanlight.reference.load import load_house
from fanlight.study import (
    ENGINE,
    GivenMeasurement,
    GradingResult,
    HeartFailure,
    Identity,
    Meaning,
    Measurement,
    Named,
    Patient,
    Request,
    Species,
    Study,
)
from fanlight.validity.meaning.explained import explain
from tests.report.sample import sample_review

HOUSE = load_house()
DOG = Patient(species=Species.DOG, breed="Beagle", sex="male", weight_kg=8.0, age_years=9.0)
CAT = Patient(species=Species.CAT, breed="DSH", sex="female", weight_kg=4.5, age_years=8.0)
BLANK = replace(sample_review().study, machine_measurements=(), identity=Identity())


def given(quantity: str, value: float, unit: str = "1", **changes: Any) -> GivenMeasurement:
    """Return a number of the machine's report."""
    facts = {"label": quantity, "given_by": "machine report", "method": ""} | changes
    return GivenMeasurement(quantity=quantity, value=value, unit=unit, **facts)


def ours(quantity: str, value: float, unit: str, uncertainty: float, **changes: Any) -> Measurement:
    """Return a number of the engine."""
    facts = {"label": quantity, "given_by": ENGINE, "clip": "a.dcm"} | changes
    return Measurement(name=quantity, value=value, unit=unit, uncertainty=uncertainty, **facts)


def named(*lesions: str, failure: HeartFailure | None = HeartFailure.NONE, **changes: Any) -> Named:
    """Return what a mentor named: by default no failure and no treatment."""
    return replace(Named(by="M. Mentor", lesions=lesions, failure=failure, treatment="none"), **changes)


def study_of(*numbers: GivenMeasurement, patient: Patient = DOG, **request: Any) -> Study:
    """Return a study with numbers of the machine and a request."""
    return replace(BLANK, patient=patient, machine_measurements=numbers, request=Request(**request))


def explained(study: Study, *more: Measurement) -> Meaning:
    """Return what its numbers, and more of ours, mean together."""
    return explain(study, HOUSE, (*weigh_given(study, HOUSE), *more))


def graded(meaning: Meaning, key: str) -> GradingResult:
    """Return one grading."""
    (found,) = (item for item in meaning.gradings if item.key == key)
    return found
