"""Invented studies for the desk: drafts with findings of the house's own criteria, and acts that fit them."""

from __future__ import annotations

from dataclasses import replace

from fanlight.critique.families import FAMILIES
from fanlight.desk.blind import is_drawn
from fanlight.reference.criteria import read_criteria
from fanlight.reference.desk import read_desk_settings
from fanlight.reference.load import load_house
from fanlight.review.conclude import conclude
from fanlight.review.events import ClipFinished, ReviewFinished, StudyAssembled
from fanlight.store import Store, add_study, new_id, record_event
from fanlight.store.action_words import JudgedStructure, Judgement, MarkKind
from fanlight.store.actions import (
    AcceptFinding,
    Action,
    AddFinding,
    DrawMark,
    JudgeStructure,
    MoveMark,
    OverruleFinding,
    PlaceClip,
)
from fanlight.study import Breathing, Clip, ClipReading, Evidence, Finding, House, Polyline, StudyReview, Verdict
from measure._store_samples import VIEW, sample_reading, sample_study

PICTURE_FAMILIES = frozenset(family.name for family in FAMILIES)
DRAWS = 4


def desk_house() -> House:
    """Return the shipped tables."""
    return load_house()


def desk_draft(n_clips: int, study: str, house: House) -> StudyReview:
    """Return the engine's draft of a study of `n_clips` clips, each asked what a two-dimensional clip is asked."""
    whole = sample_study(n_clips, study, trainee="T. Rowan")
    whole = replace(whole, request=replace(whole.request, breathing=Breathing.NORMAL))
    return conclude(whole, tuple(with_findings(clip, house) for clip in whole.clips), (), house)


def with_findings(clip: Clip, house: House) -> ClipReading:
    """Return a reading with what a two-dimensional clip is asked, all met; one in `DRAWS` points at the picture.

    The 25 clips of the demo study have 26 findings each, 168 of 650 with something drawn, of 13 points in the median.
    """
    line = Polyline(points=tuple((100.0, 20.0 * k) for k in range(20)))
    drawn = (Evidence(shape=line, label="here", frame=3),)
    rows = [row for key, row in read_criteria(house).items() if row.family in PICTURE_FAMILIES]
    findings = tuple(
        Finding(
            criterion=row.key, clip=clip.key, value=0.4, unit=row.unit, band=row.band, verdict=Verdict.MET,
            evidence=drawn if k % DRAWS == 0 else (),
        )
        for k, row in enumerate(rows)
    )  # fmt: skip
    return replace(sample_reading(clip, 0), findings=findings)


def _id_without_drawn(draft: StudyReview, house: House) -> str:
    """Return an id for a study no clip of which is to be judged before its proposals are shown."""
    share = read_desk_settings(house).blind_share
    study = new_id()
    while any(is_drawn(study, clip.key, share) for clip in draft.study.clips):
        study = new_id()
    return study


def keep_draft(store: Store, draft: StudyReview, house: House, title: str = "read") -> str:
    """Keep a study as if the engine had just read it; return its id."""
    study = add_study(store, _id_without_drawn(draft, house), title=title).id
    fingerprint = house.fingerprint()
    record_event(store, study, StudyAssembled(study=draft.study), house=fingerprint)
    for reading in draft.readings:
        record_event(store, study, ClipFinished(reading=reading, from_cache=False), house=fingerprint)
    record_event(store, study, ReviewFinished(review=draft), house=fingerprint)
    return study


def desk_act(k: int, draft: StudyReview) -> Action:
    """Return the k-th act of a mentor, who goes from clip to clip and does a little of everything."""
    reading = draft.readings[k // 7 % len(draft.readings)]
    clip, found = reading.clip.key, reading.findings[k % len(reading.findings)].criterion
    line = ((10.0 + k % 50, 20.0), (40.5, 60.0))
    return (
        PlaceClip(clip=clip, view=VIEW),
        AcceptFinding(clip=clip, criterion=found),
        OverruleFinding(clip=clip, criterion=found, verdict=Verdict.MET, reason="the edge is seen"),
        AddFinding(finding=f"f{k}", clip=clip, words="The septum bows to the left."),
        DrawMark(mark=f"m{k // 7}", clip=clip, frame=3, kind=MarkKind.LINE, points=line, landmark="LV_APEX"),
        MoveMark(mark=f"m{k // 7}", clip=clip, frame=4, points=line),
        JudgeStructure(structure=list(JudgedStructure)[k % len(JudgedStructure)], judgement=Judgement.NORMAL),
    )[k % 7]
