"""Measurements that came with the study, weighed against the reference tables."""

from __future__ import annotations

from fanlight.measure.derived import derive
from fanlight.reference.intervals import weigh
from fanlight.study import GivenMeasurement, House, Measurement, Patient, Request, Study


def _weighed(given: GivenMeasurement, patient: Patient, request: Request, house: House) -> Measurement:
    readings = (
        weigh(house, given.quantity, given.value, given.unit, given.method, patient, request) if given.quantity else ()
    )
    return Measurement(
        name=given.quantity,
        label=given.label,
        value=given.value,
        unit=given.unit,
        method=given.method,
        given_by=given.given_by,
        clip=given.clip_name,
        reason="" if given.quantity else "the tables have no quantity of this name; shown as it was given",
        readings=readings,
    )


def weigh_given(study: Study, house: House) -> tuple[Measurement, ...]:
    """Return the machine's and the trainee's own numbers, each with what the reference rows say of it.

    Fanlight has not measured them: they stand as they were given, and whether they hold is the mentor's call.
    """
    weighed: list[Measurement] = []
    for given in (study.machine_measurements, study.request.trainee_measurements):
        numbers = given + derive(given, study.patient)
        weighed += [_weighed(item, study.patient, study.request, house) for item in numbers]
    return tuple(weighed)
