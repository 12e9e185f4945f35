"""What is said of the causes of a study whose clips were judged before."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from typing import Any

from fanlight.coach.causes.animal import rows_knowing
from fanlight.coach.causes.corrections import choose_corrections
from fanlight.coach.causes.find import CauseTables, find_causes
from fanlight.coach.causes.where_cut import Cuts
from fanlight.reference.causes import (
    AnimalFact,
    CutPlace,
    criterion_of,
    read_cause_limits,
    read_causes,
    read_try_words,
    read_weights,
)
from fanlight.reference.criteria import read_criteria
from fanlight.reference.letter import read_letter_limits
from fanlight.reference.load import load_house
from fanlight.study import (
    Band,
    BeatSource,
    Breathing,
    CauseLevel,
    Clip,
    ClipReading,
    ClipTime,
    Finding,
    FrameTimes,
    Layout,
    Mode,
    ModeReading,
    Side,
    TimeSource,
    Valve,
    Verdict,
    ViewReading,
    ViewSource,
)

# All that is told of the animals; as the simulated request sheets say it.
KNOWN = frozenset({AnimalFact.BREATHING_NORMAL, AnimalFact.BODY_CONDITION_USUAL})
_BREATHING = {
    AnimalFact.BREATHING_NORMAL: Breathing.NORMAL, AnimalFact.BREATHING_LABOURED: Breathing.LABOURED,
    AnimalFact.BREATHING_DISTRESSED: Breathing.DISTRESSED,
}  # fmt: skip
Record = dict[str, Any]
_PLACES = {place.sign: place for place in CutPlace}
_RAISED = (Verdict.MISSED, Verdict.BORDERLINE)


@cache
def _tables() -> CauseTables:
    house = load_house()
    return CauseTables(
        rows=read_causes(house), weights=read_weights(house), limits=read_cause_limits(house),
        criteria=read_criteria(house), sure_from=read_letter_limits(house).sure_from,
    )  # fmt: skip


def answered(record: Record) -> Record:
    """Return a record of studies with the causes and corrections that its findings give.

    What is known of the animal stands in `known`; where that is left out, all is as usual.
    """
    if "not_drawn" in record:
        return record
    known = frozenset(AnimalFact(fact) for fact in record.get("known", KNOWN))
    tables = replace(_tables(), rows=rows_knowing(read_causes(load_house()), known))
    readings = [_reading(number, row) for number, row in enumerate(record["clips"], start=1)]
    found = find_causes(readings, tables, {row["key"]: _cuts(row) for row in record["clips"]})
    words = read_try_words(load_house())
    told = choose_corrections(found, tables.rows, tables.limits, tables.criteria, _breathing(known), to_try=words)
    chosen = [item for item in told if item.correction]  # of the animal's own nothing is advised
    raised = {
        (item.clip, item.criterion): tables.criteria[item.criterion].weight
        for reading in readings
        for item in reading.findings
        if item.verdict in _RAISED and item.confidence >= tables.sure_from
    }
    sure = [change for change in chosen if not change.to_try]
    alternatives = {item.cause: item.alternatives for item in found}
    acting = {row["key"]: row["acting"] for row in record["clips"]}
    due = {
        (item.clip, item.criterion)
        for reading in readings
        for item in reading.findings
        if (item.clip, item.criterion) in raised and _is_due(item, acting[item.clip], tables)
    }
    covered, covered_surely = (
        {(each.clip, each.criterion) for item in found if item.cause in named for each in item.explains}
        for named in ({change.cause for change in chosen}, {change.cause for change in sure})
    )
    return record | {
        "acting": acting,
        "found": [
            {"cause": item.cause, "probability": item.probability, "is_habit": item.is_habit, "clips": item.clips}
            for item in found
        ],
        "told": [item.cause for item in told],
        "corrections": [[item.cause, *alternatives[item.cause]] for item in sure],
        "tried": [[item.cause] for item in chosen if item.to_try],
        "raised": sum(raised.values()), "covered": sum(raised.get(key, 0.0) for key in covered),
        "due": sum(raised[key] for key in due), "due_covered": sum(raised[key] for key in due & covered),
        "due_covered_surely": sum(raised[key] for key in due & covered_surely),
    }  # fmt: skip


def _breathing(known: frozenset[AnimalFact]) -> Breathing:
    return next((said for fact, said in _BREATHING.items() if fact in known), Breathing.NOT_STATED)


def _cuts(row: dict[str, Any]) -> Cuts:
    return {_PLACES[sign]: Verdict(verdict) for sign, verdict, *_ in row["findings"] if sign in _PLACES}


def _is_due(item: Finding, acting: Iterable[str], tables: CauseTables) -> bool:
    """Whether a cause that truly acts in the clip, and can be mended, raises this finding; else chance does."""
    said = (item.criterion, item.side)
    mended = [cause for cause in acting if tables.rows[cause].level is not CauseLevel.ANIMAL]
    raised = (sign for cause in mended for signs in tables.weights.by_cause[cause].values() for sign in signs)
    return any((criterion_of(sign), side) == said for sign, side in raised)


def _reading(number: int, row: dict[str, Any]) -> ClipReading:
    clip = Clip(
        key=row["key"], number=number, name=row["key"], container="DICOM", rows=1, cols=1, n_frames=1, is_colour=False
    )  # fmt: skip
    findings = tuple(
        Finding(
            criterion=criterion, clip=row["key"], value=None if verdict == Verdict.NOT_ASSESSABLE else 0.0, unit="1",
            band=Band(), verdict=Verdict(verdict), side=Side(side), confidence=confidence, reason="kept",
        )
        for criterion, verdict, side, confidence in row["findings"]
        if criterion not in _PLACES
    )  # fmt: skip
    return ClipReading(
        clip=clip,
        layout=Layout(
            rows=1, cols=1, picture=None, picture_confidence=0.0, picture_reason="", scale=None, scale_reason=""
        ),
        mode=ModeReading(mode=Mode(row.get("mode", Mode.TWO_D)), probability=1.0, reasons=("simulated",)),
        view=ViewReading(
            view=row["view"], source=ViewSource.SERIES_TEXT, valve=Valve(row["valve"]) if "valve" in row else None
        ),
        time=ClipTime(times=FrameTimes(times_ms=(), source=TimeSource.NONE), beat_source=BeatSource.NONE),
        findings=findings, verdicts=(), frames_read=1,
    )  # fmt: skip
