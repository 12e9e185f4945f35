"""The structured report as a whole: TID 1500 in a Comprehensive 3D SR, not signed, in the study of its pictures."""

from __future__ import annotations

import contextlib
import hashlib
import json
import logging
import warnings
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import datetime

from highdicom.coding_schemes import CodingSchemeIdentificationItem
from highdicom.sr import (
    Comprehensive3DSR,
    ContainerContentItem,
    ContentSequence,
    LanguageOfContentItemAndDescendants,
    MeasurementReport,
    ObservationContext,
)
from pydicom.dataset import Dataset
from pydicom.valuerep import DA, DT, TM

from fanlight.intake.dicom_origin import DicomOrigin
from fanlight.intake.own_report import MAKER
from fanlight.reference.dicom_codes import Coded, ReportCodes, read_report_codes
from fanlight.report import words
from fanlight.report.dicom.content import (
    CONTEXT,
    ECHOCARDIOGRAPHY,
    ENGLISH,
    PART,
    SPECIES,
    code_item,
    concept,
    text_item,
)
from fanlight.report.dicom.group import Case, device_of_fanlight, groups_of
from fanlight.report.dicom.number import why_unwritten
from fanlight.report.dicom.uid import uid_of
from fanlight.report.doppler_words import LOWER_BOUND, has_flow
from fanlight.study import House, Measurement, StudyReview
from fanlight.study.codec import to_plain
from fanlight.validity.unconfirmed import is_laid

# Behind the numbers that machines give to their own series (engineering judgement).
_SERIES_NUMBER = 900
_DESCRIPTION = "Numbers of a review, not signed"
_TO_CONFIRM = "note: taken by a program, which nobody has confirmed: measure it by hand before anything rests on it"
_SHEET_ONLY = (
    "Study sheet only, not a clinical summary: how often such numbers are right has not been measured on enough "
    "animals that nobody tuned them on."
)
_MACHINE_TAGS = ("Manufacturer", "ManufacturerModelName")  # of the pictures, not of the report


# What highdicom finds odd about a name it logs, with the name: nobody's log file is the place for that.
_LIBRARY = logging.getLogger("highdicom")
_LIBRARY.addHandler(logging.NullHandler())
_LIBRARY.propagate = False


class NoReportError(ValueError):
    """A review of which no structured report can be written, and why."""


class _Report(Comprehensive3DSR):
    """A report whose patient and study are taken from a header that was already chosen and cleaned.

    highdicom looks up what to copy by the class of the picture, and knows no retired class.
    """

    def copy_patient_and_study_information(self, dataset: Dataset) -> None:
        for element in dataset:
            if element.keyword not in self and element.keyword not in _MACHINE_TAGS:
                self.add(element)


def build_report(
    review: StudyReview, house: House, origins: Mapping[str, DicomOrigin | str], written_at: datetime
) -> Dataset:
    """Return the numbers of a review as a DICOM structured report.

    Parameters
    ----------
    review : StudyReview
        As concluded; every measurement with a value becomes a numeric item, the others are told in words. So are those
        of the study sheet: a program that takes numbers from an archive reads no word beside them.
    house : House
        Tables that the review was made with.
    origins : mapping of str to DicomOrigin or str
        Where each clip lies in its archive, by the clip's key, or why that is not known.
    written_at : datetime
        Date and time of the report.

    Notes
    -----
    The same review written at the same moment gives the same bytes and identifiers; another number or another moment
    gives another SOP Instance UID, since an instance never changes (PS3.3 C.12.1).

    Raises
    ------
    NoReportError
        When no picture has an identity in DICOM, when the pictures belong to several studies or the files disagree
        about the animal, or when there is no number.

    References
    ----------
    DICOM PS3.3 A.35.13; PS3.16 TID 1500, TID 1501, TID 300.
    """
    known = _one_study(review, origins)
    codes = read_report_codes(house)
    told = tuple(_named(item, review) for item in review.measurements)
    numbers = [item for item in told if not why_unwritten(item, codes) and not item.sheet_only]
    if not numbers:
        rest = "; what the engine measured stands on the study sheet only" if any(map(_stays, told)) else ""
        raise NoReportError(f"the review holds no number with a value and a unit that may stand in an archive{rest}")
    first = next(iter(known.values()))
    uid = uid_of("report", first.study_uid, _digest(review), written_at.isoformat())
    case = Case(review=review, house=house, codes=codes, origins=known, uid=uid)
    content = MeasurementReport(
        observation_context=_context(review, codes),
        procedure_reported=concept(ECHOCARDIOGRAPHY),
        imaging_measurements=groups_of(numbers, case),
        language_of_content_item_and_descendants=LanguageOfContentItemAndDescendants(concept(ENGLISH)),
    )
    content[0].ContentSequence.extend(_in_words(told, codes))
    scheme = CodingSchemeIdentificationItem(
        designator=codes.scheme, name=codes.scheme_name, responsible_organization=codes.scheme_owner
    )
    with _names_unsaid():
        report = _Report(
            evidence=[origin.header for origin in known.values()],
            content=content[0],
            series_instance_uid=uid_of("series", uid),
            series_number=_SERIES_NUMBER,
            sop_instance_uid=uid,
            instance_number=1,
            manufacturer=MAKER,
            manufacturer_model_name=MAKER,
            software_versions=review.engine_version,
            series_description=_DESCRIPTION,
            content_date=written_at.date(),
            content_time=written_at.time(),
            coding_schemes=[scheme],
        )
    return _dated(report, written_at)


@contextlib.contextmanager
def _names_unsaid() -> Iterator[None]:
    """Keep highdicom's warning about names of one part from the screen: it says the name, which stays as it came."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="The string .* is unlikely to represent the intended person name")
        yield


def _one_study(review: StudyReview, origins: Mapping[str, DicomOrigin | str]) -> dict[str, DicomOrigin]:
    """Return the clips with an identity, in study order; NoReportError when they are not one study of one animal."""
    known: dict[str, DicomOrigin] = {}
    unknown: list[str] = []
    for reading in review.readings:
        origin = origins.get(reading.clip.key, "its file was not looked at")
        if isinstance(origin, DicomOrigin):
            known[reading.clip.key] = origin
        else:
            unknown.append(f"{reading.clip.name}: {origin}")
    if not known:
        why = "; ".join(unknown[:3]) + ("; …" if len(unknown) > 3 else "")
        raise NoReportError(
            f"no picture has an identity in DICOM, so a report would belong to no study and no patient ({why}). "
            "Ask the practice for the DICOM export"
        )
    if review.study.mismatches:
        raise NoReportError(
            f"the files do not agree about the animal or the day ({'; '.join(review.study.mismatches)}). "
            "Review each study by itself"
        )
    for keyword, title in (("StudyInstanceUID", "studies"), ("PatientID", "patients")):
        found = {str(origin.header.get(keyword, "")) for origin in known.values()}
        if len(found) > 1:
            raise NoReportError(f"the pictures belong to {len(found)} {title}. Review each by itself")
    return known


def _named(item: Measurement, review: StudyReview) -> Measurement:
    """Return a number; what the summary names of a strip that the engine read is one for the archive, and says so."""
    if item not in review.unconfirmed.numbers or is_laid(item):
        return item
    return replace(item, sheet_only=False, validity="; ".join(filter(None, (item.validity, _TO_CONFIRM))))


def _digest(review: StudyReview) -> str:
    said = [to_plain(review.measurements), review.engine_version, review.house, review.study.request.trainee]
    return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()


def _context(review: StudyReview, codes: ReportCodes) -> ObservationContext:
    context = ObservationContext(observer_device_context=device_of_fanlight(review.engine_version))
    species = review.study.patient.species
    if species is not None:
        context.append(code_item(SPECIES, codes.species[species.value], CONTEXT))
    return context


def _in_words(told: tuple[Measurement, ...], codes: ReportCodes) -> list[Dataset]:
    """Return what stands beside the numbers: what was not measured and why, and the usual caution."""
    found: list[Dataset] = []
    if unwritten := list(_unwritten(told, codes)):
        found.append(_listed(codes.own["not_measured"], unwritten))
    if kept := [_of_sheet(item) for item in told if _stays(item)]:
        found.append(_listed(codes.own["standing"], [_SHEET_ONLY, *kept]))
    caution = [f"{words.DRAFT}.", words.SUPPORT, words.NUMBERS] + ([LOWER_BOUND] if has_flow(told) else [])
    found.append(text_item(codes.own["caution"], " ".join(caution), PART))
    return found


def _listed(name: Coded, lines: Iterable[str]) -> ContainerContentItem:
    container = ContainerContentItem(name=concept(name), relationship_type=PART)
    container.ContentSequence = ContentSequence([text_item(name, line, PART) for line in lines])
    return container


def _stays(item: Measurement) -> bool:
    return item.sheet_only and item.value is not None


def _of_sheet(item: Measurement) -> str:
    """Return a number of the study sheet in words: what no program takes for a number of the archive."""
    assert item.value is not None
    where = ", ".join(part for part in (item.giver, item.clip) if part)
    said = f"{item.label} {words.with_error(item.value, item.unit, item.uncertainty)} ({where})"
    return f"{said}: {item.validity}" if item.validity else said


def _unwritten(told: Iterable[Measurement], codes: ReportCodes) -> Iterable[str]:
    """Yield a line for each reason; values of one clip that lack a number for one reason share it."""
    together: dict[tuple[str, str, str], list[str]] = {}
    for item in told:
        if not _stays(item) and (why := why_unwritten(item, codes)):
            together.setdefault((item.given_by, item.clip, why), []).append(item.label)
    for (giver, clip, why), labels in together.items():
        where = ", ".join(part for part in (giver, clip) if part)
        yield f"{', '.join(labels)} ({where}): {why}"


def _dated(report: Dataset, written_at: datetime) -> Dataset:
    """Return the report with the moment of writing wherever highdicom put the clock of this machine."""
    report.InstanceCreationDate, report.InstanceCreationTime = DA(written_at.date()), TM(written_at.time())
    for equipment in report.get("ContributingEquipmentSequence", ()):
        if "ContributionDateTime" in equipment:
            equipment.ContributionDateTime = DT(written_at.replace(tzinfo=None))
    return report
