"""A study with a row in every table."""

from datetime import UTC, datetime

from fanlight.review.events import ClipFinished, FileProbed, FileRefused, ReviewFinished, StudyAssembled
from fanlight.store import (
    DocumentKind,
    MessageKind,
    NewPart,
    Party,
    Store,
    add_entry,
    add_file,
    add_message,
    record_event,
    sign_document,
    undo_entry,
)
from fanlight.store.actions import AcknowledgeCall, FlagUrgency, OpenCall, RecordCall
from fanlight.study import Refusal
from measure._store_samples import HOUSE, sample_actions, sample_id, sample_reading, sample_review, sample_study

REFUSAL = Refusal(name="IM0002.dcm", expected="a file", found="half a file", remedy="Send it again.")
SUMMARY = NewPart(name="summary.html", media_type="text/html", data=b"<p>all is well</p>")


def fill(store: Store, study: str) -> None:
    """Put something of every kind into a study; twice gives nothing new."""
    add_file(store, study, file=sample_id(study, "f1"), name="IM0001.dcm", chunks=[b"pixels of ", study.encode()])
    add_file(store, study, file=sample_id(study, "f2"), name="IM0002.dcm", chunks=[b"half a file"])
    whole = sample_study(2, study, trainee="T")
    record_event(store, study, FileProbed(name="IM0001.dcm"), house=HOUSE)
    record_event(store, study, FileRefused(refusal=REFUSAL), house=HOUSE)
    record_event(store, study, StudyAssembled(study=whole), house=HOUSE)
    for clip in whole.clips:
        record_event(store, study, ClipFinished(reading=sample_reading(clip, 2), from_cache=False), house=HOUSE)
    record_event(store, study, ReviewFinished(review=sample_review(whole)), house=HOUSE)
    actions = (
        *sample_actions(9, study), FlagUrgency(is_urgent=True, said_by=Party.MENTOR),
        OpenCall(call="k", finding="Erguß"),
        RecordCall(call="k", whom="Dr Aster", called_at=datetime(2026, 11, 25, 9, tzinfo=UTC), said="drain today"),
        AcknowledgeCall(call="k", by_whom="Dr Aster"),
    )  # fmt: skip
    for k, action in enumerate(actions):
        add_entry(store, study, action, author="M. Linden", entry=sample_id(study, "e", k))
    undo_entry(store, study, sample_id(study, "e", 3), author="M. Linden", entry=sample_id(study, "u"))
    add_message(store, study, MessageKind.MORE_IMAGES, "One more?", author="M. Linden", message=sample_id(study, "m"))
    add_message(
        store, study, MessageKind.REPLY, "Here.", author="T. Rowan", message=sample_id(study, "n"),
        answers=sample_id(study, "m"),
    )  # fmt: skip
    for k, supersedes in enumerate(("", sample_id(study, "d", 0))):
        sign_document(
            store, study, DocumentKind.SUMMARY, [SUMMARY], author="M. Linden", document=sample_id(study, "d", k),
            supersedes=supersedes,
        )  # fmt: skip
