"""The numbers of one giver on one clip, as a measurement group of TID 1501: who gave them, and where they were seen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from highdicom.sr import (
    DeviceObserverIdentifyingAttributes,
    MeasurementsAndQualitativeEvaluations,
    ObserverContext,
    PersonObserverIdentifyingAttributes,
    TrackingIdentifier,
)
from pydicom.sr.codedict import codes as standard

from fanlight.intake.dicom_origin import DicomOrigin
from fanlight.intake.own_report import MAKER
from fanlight.reference.dicom_codes import ReportCodes
from fanlight.report.dicom.content import CONTEXT, text_item
from fanlight.report.dicom.number import COMPUTED, Seen, measurement_item
from fanlight.report.dicom.uid import uid_of
from fanlight.study import ENGINE, House, Measurement, StudyReview

MACHINE = "machine report"
_SHEET = "request sheet"
_NOT_STATED = "not stated"
_PERSON_LETTERS = 64  # PS3.5 6.2, PN
_TRACKED = 2  # items with which a group begins: words and unique identifier


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """What all groups of a report are made from."""

    review: StudyReview
    house: House
    codes: ReportCodes
    origins: Mapping[str, DicomOrigin]  # by the key of the clip; what has no identity is absent
    uid: str  # of the report


def device_of_fanlight(version: str) -> ObserverContext:
    """Return Fanlight as the observer."""
    attributes = DeviceObserverIdentifyingAttributes(
        uid=uid_of("device", MAKER, version),
        name=f"{MAKER} {version}",
        manufacturer_name=MAKER,
        model_name=MAKER,
    )
    return ObserverContext(observer_type=standard.DCM.Device, observer_identifying_attributes=attributes)


def groups_of(numbers: Iterable[Measurement], case: Case) -> list[MeasurementsAndQualitativeEvaluations]:
    """Return the groups in the order in which giver and clip first come."""
    together: dict[tuple[str, str], list[Measurement]] = {}
    for item in numbers:
        together.setdefault((item.given_by, item.clip), []).append(item)
    return [_group(giver, clip, items, case) for (giver, clip), items in together.items()]


def _group(giver: str, clip: str, items: Iterable[Measurement], case: Case) -> MeasurementsAndQualitativeEvaluations:
    seen = _seen(clip, case)
    group = MeasurementsAndQualitativeEvaluations(
        tracking_identifier=TrackingIdentifier(
            uid=uid_of("group", case.uid, giver, clip), identifier=", ".join(part for part in (giver, clip) if part)
        ),
        measurements=[measurement_item(item, seen, case.codes, case.house) for item in items],
    )
    context = [*_observer(giver, case), text_item(case.codes.own["given_by"], giver, CONTEXT)]
    if clip and seen.origin is None:
        context.append(text_item(case.codes.own["file"], f"{clip}, which has no identity in DICOM", CONTEXT))
    for place, part in enumerate(context, start=_TRACKED):
        group[0].ContentSequence.insert(place, part)
    return group


def _seen(name: str, case: Case) -> Seen:
    for reading in case.review.readings:
        if name and reading.clip.name == name:
            return Seen(clip=reading.clip, mode=reading.mode.mode, origin=case.origins.get(reading.clip.key))
    return Seen()


def _observer(giver: str, case: Case) -> ObserverContext:
    if giver == ENGINE or giver.startswith(COMPUTED):
        return device_of_fanlight(case.review.engine_version)
    if giver == MACHINE:
        return _machine(case)
    name = case.review.study.request.trainee if giver == _SHEET else ""
    attributes = PersonObserverIdentifyingAttributes(name=_person_name(name))
    return ObserverContext(observer_type=standard.DCM.Person, observer_identifying_attributes=attributes)


def _machine(case: Case) -> ObserverContext:
    """Return the ultrasound machine; several pictures of one study come from one, as far as their headers say."""
    header = next(iter(case.origins.values())).header
    maker, model = str(header.get("Manufacturer", "")), str(header.get("ManufacturerModelName", ""))
    attributes = DeviceObserverIdentifyingAttributes(
        uid=uid_of("machine", case.review.study.key, maker, model),
        name="ultrasound machine, by its own report",
        manufacturer_name=maker or None,
        model_name=model or None,
    )
    return ObserverContext(observer_type=standard.DCM.Device, observer_identifying_attributes=attributes)


def _person_name(words: str) -> str:
    """Return a name as typed, without the signs that part a person name (PS3.5 6.2.1)."""
    plain = " ".join("".join(" " if sign in "^=\\" or not sign.isprintable() else sign for sign in words).split())
    # A name of one part ends in the sign that parts names, so that nobody takes it for the form of before 1993.
    return f"{plain[: _PERSON_LETTERS - 1].strip() or _NOT_STATED}^"
