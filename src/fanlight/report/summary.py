"""The clinical summary for the attending veterinarian: what was given, what it means, and its limits."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from datetime import datetime

from fanlight.reference.diseases import unmatched_diseases
from fanlight.report import words
from fanlight.report.document import Block, Document, Facts, Heading, Items, Paragraph, Voice
from fanlight.report.meaning import meaning_blocks
from fanlight.report.measurements import measurement_blocks, symbols_of
from fanlight.report.mentor import MentorWords, closed_by, finding_blocks, structure_blocks
from fanlight.report.shown import lacking_line
from fanlight.report.unconfirmed import unconfirmed_blocks
from fanlight.study import (
    Breathing,
    ClipReading,
    ClipVerdict,
    House,
    Purpose,
    StudyReview,
    Verdict,
)

_URGENT = "The practice marked this study as urgent."
_DISTRESSED = "The request sheet says that the animal is distressed: its care comes before this report."
# How clips stand that have no verdict to look at.
_OTHER_USE, _IN_PART = "judged for measuring or Doppler only", "judged by single criteria only"
_NOT_ASSESSABLE, _NOT_JUDGED = "not assessable", "not judged"


def build_summary(
    review: StudyReview,
    citations: Mapping[str, str],
    house: House,
    written_at: datetime,
    mentor: MentorWords | None = None,
) -> Document:
    """Return the summary as a document.

    Parameters
    ----------
    review : StudyReview
        The engine's draft, or what the mentor made of it.
    citations : mapping of str to str
        Printed form of each source by its key.
    house : House
        Table "diseases", to say which named diagnoses it does not know.
    written_at : datetime
        Printed on the page.
    mentor : MentorWords, optional
        What the mentor adds, to a review that holds decided findings only; None: the engine's draft.
    """
    study = review.study
    blocks: list[Block] = []
    if study.request.breathing is Breathing.DISTRESSED:
        blocks.append(Paragraph(text=_DISTRESSED, voice=Voice.CAUTION))
    if study.request.urgent:
        blocks.append(Paragraph(text=_URGENT, voice=Voice.CAUTION))
    if study.mismatches:
        blocks.append(
            Paragraph(
                lead="Cannot be signed, files disagree:",
                text=f"{words.differing(study.mismatches)}; the study sheet lists which.",
                voice=Voice.CAUTION,
            )
        )
    if mentor is not None and mentor.opening:
        blocks.append(Paragraph(text=mentor.opening))
    blocks.append(Facts(pairs=animal_facts(review)))
    blocks += request_blocks(review)
    if unknown := unmatched_diseases(house, study.request):
        blocks.append(
            Paragraph(
                lead="Not known to the tables:",
                text=f"{', '.join(unknown)}. Limits that rest on a diagnosis stay silent for it.",
                voice=Voice.ENGINE,
            )
        )
    blocks += structure_blocks(mentor) + finding_blocks(mentor) if mentor else []
    blocks += measurement_blocks(review, citations, symbols_of(house), is_decided=mentor is not None)
    blocks += unconfirmed_blocks(review, symbols_of(house))
    blocks += meaning_blocks(review.meaning, citations)
    blocks += _pictures(review)
    blocks.append(Heading(text="What this summary does not say"))
    blocks.append(Items(entries=_limits(review, mentor), voice=Voice.PLAIN))
    blocks.append(Paragraph(text=words.NUMBERS, voice=Voice.CAUTION))
    summary = Document(
        key="summary",
        title=f"Heart scan of {study.identity.animal_name}" if study.identity.animal_name else "Heart scan",
        subtitle=f"Clinical summary · examined {words.when(study.identity.examined_at)}",
        status=words.DRAFT,
        blocks=tuple(blocks),
        caution=words.SUPPORT,
        footer=words.footer(review, written_at),
    )
    return closed_by(summary, mentor) if mentor else summary


def animal_facts(review: StudyReview) -> tuple[tuple[str, str], ...]:
    """Return what is known of the animal and the examination, as given."""
    identity, request = review.study.identity, review.study.request
    pairs = [
        ("Animal", words.animal(review.study.patient)),
        ("Case number", identity.case_number),
        ("Owner", identity.owner),
        ("Practice", identity.practice),
        ("Examined", words.when(identity.examined_at)),
        ("Breathing", str(request.breathing).replace("_", " ")),
        ("Murmur", _murmur(review)),
        ("Heart rate", f"{request.heart_rate_bpm:g} bpm" if request.heart_rate_bpm else ""),
        ("Rhythm", request.rhythm),
        ("Blood pressure", f"{request.blood_pressure_mmhg:g} mmHg" if request.blood_pressure_mmhg else ""),
        ("Radiographs", request.radiographs),
        ("Earlier heart scans", request.earlier_studies),
        ("Vertebral heart score", f"{request.vertebral_heart_score:g}" if request.vertebral_heart_score else ""),
        ("Treatment", request.treatment),
        ("Sedation", request.sedation),
        ("Body condition", request.body_condition),
        ("Named diagnoses", ", ".join(item.replace("_", " ") for item in request.named_diseases)),
    ]
    return tuple((name, value or "not stated") for name, value in pairs)


def _murmur(review: StudyReview) -> str:
    request = review.study.request
    if request.murmur_grade is None:
        return ""
    if request.murmur_grade == 0:
        return "none heard"
    return f"grade {request.murmur_grade} of 6{', ' + request.murmur_place if request.murmur_place else ''}"


def request_blocks(review: StudyReview) -> list[Block]:
    """Return what was asked, and what the trainee read, as given."""
    request = review.study.request
    blocks: list[Block] = [Heading(text="What was asked")]
    blocks.append(Paragraph(text=request.question or "No clinical question was given.", voice=Voice.GIVEN))
    if request.signs:
        blocks.append(Paragraph(lead="Signs:", text=request.signs, voice=Voice.GIVEN))
    if request.trainee_reading:
        blocks.append(
            Paragraph(lead="The trainee's own reading, as given:", text=request.trainee_reading, voice=Voice.GIVEN)
        )
    if review.asked_for:
        blocks.append(Paragraph(lead="Still to be told:", text=", ".join(review.asked_for) + ".", voice=Voice.ENGINE))
    return blocks


def _pictures(review: StudyReview) -> list[Block]:
    seen = Counter(item.verdict(Purpose.LOOK) for item in review.readings)
    looked = ", ".join(
        f"{seen[each]} {each}" for each in ClipVerdict if seen[each] and each is not ClipVerdict.NOT_ASSESSABLE
    )
    others = Counter(
        _standing_otherwise(item)
        for item in review.readings
        if item.verdict(Purpose.LOOK) is ClipVerdict.NOT_ASSESSABLE
    )
    parts = [
        *([f"{looked} to look at"] if looked else []),
        *(f"{others[said]} {said}" for said in (_OTHER_USE, _IN_PART, _NOT_ASSESSABLE, _NOT_JUDGED) if others[said]),
    ]
    read = f"{words.count(len(review.readings), 'still or clip', 'stills and clips')} read"
    text = f"{read}: {'; '.join(parts)}." if parts else f"{read}."
    if review.refused:
        text += f" {words.count(len(review.refused), 'file')} could not be used, or only in part."
    return [Heading(text="What this rests on"), Paragraph(text=text, voice=Voice.ENGINE)]


def _standing_otherwise(item: ClipReading) -> str:
    """Return how a clip stands that has no verdict to look at: what nobody judged is not what cannot be assessed."""
    if any(item.verdict(each) is not ClipVerdict.NOT_ASSESSABLE for each in Purpose):
        return _OTHER_USE
    if not item.findings:
        return _NOT_JUDGED
    return _NOT_ASSESSABLE if all(each.verdict is Verdict.NOT_ASSESSABLE for each in item.findings) else _IN_PART


def _limits(review: StudyReview, mentor: MentorWords | None) -> tuple[str, ...]:
    by_eye = (
        "Valves, chambers, pericardium and great vessels: not assessed by the engine. What is normal or abnormal "
        "there is for the mentor to say."
    )
    if mentor is not None:
        by_eye = f"Not assessed: {', '.join(mentor.not_assessed)}." if mentor.not_assessed else ""
    lacking = lacking_line(mentor.shown) if mentor is not None else ""
    lines = [
        *(line for line in (by_eye, lacking) if line),
        "No diagnosis and no treatment follow from this page.",
    ]
    if review.coverage.unplaced:
        lines.append(
            "Views that the files do not name were not placed, so the examination may be more complete than it looks."
        )
    return tuple(lines)
