"""An engine's draft with findings of real criteria, and decisions on it."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from functools import lru_cache

from fanlight.desk.blind import is_drawn
from fanlight.reference.desk import read_desk_settings
from fanlight.reference.load import load_house
from fanlight.review.conclude import conclude
from fanlight.review.events import ClipFinished, ReviewFinished, StudyAssembled
from fanlight.store import Entry, Store, StudyState, add_study, fold, plain_action, record_event
from fanlight.store.actions import Action
from fanlight.study import Breathing, ClipReading, Finding, House, StudyReview
from fanlight.study.codec import to_bytes
from tests.report.sample import sample_review

MISSED, MET, UNKNOWN, BORDERLINE = "overall_gain", "focal_depth", "beats_in_clip", "saturation"


@lru_cache(maxsize=1)
def house_rows() -> House:
    """Return the shipped tables, read once."""
    return load_house()


_REAL = {"sample_low": MISSED, "sample_met": MET, "sample_unknown": UNKNOWN, "sample_border": BORDERLINE}


def draft(*, mismatches: tuple[str, ...] = ()) -> StudyReview:
    """Six clips: 1 to 3 miss the gain and meet the focus, 4 cannot tell its beats, 5 is borderline, 6 has no mode."""
    sample = sample_review()
    request = replace(sample.study.request, breathing=Breathing.NORMAL)
    study = replace(sample.study, request=request, mismatches=mismatches)
    readings = tuple(_real(item) for item in sample.readings)
    return conclude(study, readings, sample.refused, house_rows())


def _real(reading: ClipReading) -> ClipReading:
    def named(item: Finding) -> Finding:
        return replace(item, criterion=_REAL[item.criterion])

    return replace(reading, findings=tuple(named(item) for item in reading.findings))


def state_after(*actions: Action) -> StudyState:
    """Return what holds after these acts."""
    return fold(entries(actions))


def entries(actions: Sequence[Action]) -> list[Entry]:
    made = []
    for action in actions:
        name, _ = plain_action(action)
        made.append(
            Entry(
                id=str(uuid.uuid4()), study="s", clip=getattr(action, "clip", ""), at=datetime(2026, 3, 3, tzinfo=UTC),
                author="M. Linden", action=name, payload=to_bytes(action).decode(),
            )
        )  # fmt: skip
    return made


def _id_without_drawn(clips: Sequence[str]) -> str:
    share = read_desk_settings(house_rows()).blind_share
    study = str(uuid.uuid4())
    while any(is_drawn(study, clip, share) for clip in clips):
        study = str(uuid.uuid4())
    return study


def keep(store: Store, review: StudyReview, title: str = "Juniper") -> str:
    """Keep a study as if the engine had just read it, and return its id; no clip of it is drawn to be judged blind."""
    study = add_study(store, _id_without_drawn([item.key for item in review.study.clips]), title=title).id
    fingerprint = house_rows().fingerprint()
    record_event(store, study, StudyAssembled(study=review.study), house=fingerprint)
    for item in review.readings:
        record_event(store, study, ClipFinished(reading=item, from_cache=False), house=fingerprint)
    record_event(store, study, ReviewFinished(review=review), house=fingerprint)
    return study
