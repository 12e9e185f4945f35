"""What is kept of a study for the next one of the same trainee: what it advised, and how its criteria stood."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from fanlight.study import (
    AdviceGiven,
    CauseFound,
    ClipReading,
    Correction,
    Finding,
    Priority,
    Shown,
    Side,
    Study,
    StudyRecord,
    StudyReview,
    about_cause,
    about_criterion,
    count_standings,
)


def record_of(review: StudyReview, sure_from: float) -> StudyRecord:
    """Return the record of a study whose letter gives the advice of this review.

    Parameters
    ----------
    review : StudyReview
        A draft, or what a mentor made of it.
    sure_from : float
        Smallest confidence of a finding that counts, 0 to 1.
    """
    advice = advice_in(review.priorities, review.corrections, review.causes, review.readings)
    return record_with(review.study, advice, review.readings, review.study_findings, sure_from)


def record_with(
    study: Study, advice: tuple[AdviceGiven, ...], readings: Iterable[ClipReading],
    study_findings: Iterable[Finding], sure_from: float,
) -> StudyRecord:  # fmt: skip
    """Return the record of a study that gave this advice."""
    return StudyRecord(
        examined_at=study.identity.examined_at, trainee=study.request.trainee, practice=study.identity.practice,
        advice=advice, standings=count_standings(shown_in(readings, study_findings), sure_from),
    )  # fmt: skip


def shown_in(readings: Iterable[ClipReading], study_findings: Iterable[Finding]) -> Iterator[Shown]:
    """Yield how each criterion stood in each clip, and those of the study as a whole."""
    for reading in readings:
        for item in reading.findings:
            yield Shown(
                criterion=item.criterion, mode=reading.mode.mode, view=reading.view.view, verdict=item.verdict,
                side=item.side, confidence=item.confidence,
            )  # fmt: skip
    for item in study_findings:
        yield Shown(
            criterion=item.criterion, mode=None, view="", verdict=item.verdict, side=item.side,
            confidence=item.confidence,
        )  # fmt: skip


def advice_in(
    priorities: Iterable[Priority],
    corrections: Iterable[Correction],
    causes: Iterable[CauseFound],
    readings: Iterable[ClipReading],
) -> tuple[AdviceGiven, ...]:
    """Return what a letter advised; what was withheld was not advised, and is followed by nobody.

    A movement that explains no finding is kept without signs: only a person can say what became of it.
    """
    given = [
        AdviceGiven(
            about=about_criterion(item.criterion, item.side), title=item.title, correction=item.correction,
            signs=((item.criterion, Side(item.side)),),
        )
        for item in priorities
        if item.correction
    ]  # fmt: skip
    sides = {(found.clip, found.criterion): found.side for reading in readings for found in reading.findings}
    explained = {item.cause: item.explains for item in causes}
    for item in corrections:
        behind = explained.get(item.cause, item.explains)
        signs = dict.fromkeys((each.criterion, sides[(each.clip, each.criterion)]) for each in behind)
        if item.correction and (signs or item.cause not in explained):
            about = about_cause(item.cause)
            given.append(AdviceGiven(about=about, title=item.title, correction=item.correction, signs=tuple(signs)))
    return tuple(given)
