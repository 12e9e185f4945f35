"""What the engine says is kept as it comes, and reading goes on where it stopped."""

from dataclasses import replace
from pathlib import Path

import pytest

from fanlight.review.events import (
    ClipFinished,
    ClipProgress,
    FileProbed,
    FileRefused,
    FilesFound,
    ReviewFinished,
    StudyAssembled,
)
from fanlight.store import (
    Fate,
    FileFate,
    Store,
    UnknownRowError,
    UsedIdError,
    add_file,
    add_study,
    clip_reading,
    clip_readings,
    fates_of,
    files_of,
    latest_assembly,
    latest_coverages,
    latest_review,
    new_id,
    open_store,
    record_event,
    record_file,
    thread_studies,
    unread_clips,
)
from fanlight.store.packed import pack_json
from fanlight.store.tables import READINGS
from fanlight.study import Refusal
from measure._store_samples import HOUSE, sample_id, sample_reading, sample_review, sample_study

REFUSAL = Refusal(name="b.dcm", expected="a file", found="half a file", remedy="Send it again.")


def n_rows(store: Store, table: str) -> int:
    with store.database.read() as connection:
        return int(connection.exec_driver_sql(f"SELECT COUNT(*) FROM {table}").scalar() or 0)


def test_files_are_kept_with_the_name_that_the_user_knows(store: Store, study: str) -> None:
    file = add_file(store, study, file=sample_id("f"), name="visit/IM 1.dcm", chunks=[b"pix", b"els"])
    again = add_file(store, study, file=sample_id("f"), name="visit/IM 1.dcm", chunks=[b"pixels"])

    assert files_of(store, study) == (file,) == (again,)
    assert (file.name, file.size) == ("visit/IM 1.dcm", 6)
    assert store.originals.read(file.sha256) == b"pixels"
    with pytest.raises(UsedIdError, match="another name"):
        add_file(store, study, file=sample_id("f"), name="other", chunks=[b"pixels"])
    with pytest.raises(UnknownRowError, match="no such study"):
        add_file(store, new_id(), file=new_id(), name="x", chunks=[b"y"])


def test_bytes_may_arrive_piece_by_piece(store: Store, study: str) -> None:
    with store.originals.incoming() as incoming:
        for piece in (b"one ", b"two"):
            incoming.write(piece)
        original = incoming.keep()
    file = record_file(store, study, file=new_id(), name="x", original=original)

    assert store.originals.read(file.sha256) == b"one two"


def test_each_file_has_a_fate(store: Store, study: str) -> None:
    for name in ("a.dcm", "b.dcm", "c.dcm"):
        add_file(store, study, file=new_id(), name=name, chunks=[name.encode()])
    for event in (FileProbed(name="a.dcm"), FileProbed(name="b.dcm"), FileRefused(refusal=REFUSAL)):
        record_event(store, study, event, house=HOUSE)
    record_event(store, study, FileProbed(name="d.zip/e.dcm"), house=HOUSE)

    assert fates_of(store, study) == (
        FileFate(name="a.dcm", fate=Fate.PROBED),
        FileFate(name="b.dcm", fate=Fate.REFUSED, refusals=(REFUSAL,)),
        FileFate(name="c.dcm", fate=Fate.RECEIVED),
        FileFate(name="d.zip/e.dcm", fate=Fate.PROBED),
    )


def test_what_the_newest_reading_says_of_a_file_counts(store: Store, study: str) -> None:
    for event in (FileProbed(name="b.dcm"), FileRefused(refusal=REFUSAL), FileProbed(name="b.dcm")):
        record_event(store, study, event, house=HOUSE)

    assert fates_of(store, study) == (FileFate(name="b.dcm", fate=Fate.PROBED),)


def test_reading_goes_on_clip_by_clip(store: Store, study: str) -> None:
    assert unread_clips(store, study, house=HOUSE) is None
    whole = sample_study(3, study)
    record_event(store, study, StudyAssembled(study=whole), house=HOUSE)
    assert unread_clips(store, study, house=HOUSE) == whole.clips
    record_event(store, study, _read(whole.clips[1]), house=HOUSE)
    assert unread_clips(store, study, house=HOUSE) == (whole.clips[0], whole.clips[2])
    refusal = replace(REFUSAL, name=whole.clips[0].name)
    record_event(store, study, FileRefused(refusal=refusal), house=HOUSE)
    assert unread_clips(store, study, house=HOUSE) == (whole.clips[2],)
    record_event(store, study, _read(whole.clips[2]), house=HOUSE)
    assert unread_clips(store, study, house=HOUSE) == ()


def test_reading_goes_on_after_the_store_was_closed(store: Store, study: str) -> None:
    whole = sample_study(2, study)
    record_event(store, study, StudyAssembled(study=whole), house=HOUSE)
    record_event(store, study, _read(whole.clips[0]), house=HOUSE)
    with open_store(store.folder) as again:
        assert unread_clips(again, study, house=HOUSE) == whole.clips[1:]


def test_another_engine_or_house_reads_anew(store: Store, study: str) -> None:
    whole = sample_study(1, study)
    record_event(store, study, StudyAssembled(study=whole), house=HOUSE)
    record_event(store, study, _read(whole.clips[0]), house=HOUSE)

    assert unread_clips(store, study, house=HOUSE) == ()
    assert unread_clips(store, study, house="another") == whole.clips
    assert unread_clips(store, study, house=HOUSE, engine_version="9.9") == whole.clips


def test_a_refusal_of_a_header_does_not_hide_a_clip_of_the_same_file(store: Store, study: str) -> None:
    """A file may hold several clips, of which one is refused before the study is put together."""
    whole = sample_study(1, study)
    record_event(store, study, FileRefused(refusal=replace(REFUSAL, name=whole.clips[0].name)), house=HOUSE)
    record_event(store, study, StudyAssembled(study=whole), house=HOUSE)

    assert unread_clips(store, study, house=HOUSE) == whole.clips


def test_the_newest_reading_counts_and_the_older_stays(store: Store, study: str) -> None:
    clip = sample_study(1, study).clips[0]
    for n_findings in (1, 2):
        reading = sample_reading(clip, n_findings)
        record_event(store, study, ClipFinished(reading=reading, from_cache=False), house=HOUSE)
    stored = clip_readings(store, study)[clip.key]

    assert stored.reading == sample_reading(clip, 2)
    assert clip_reading(store, study, clip.key) == stored
    assert clip_reading(store, study, "another") is None
    assert stored.house == HOUSE
    assert n_rows(store, "readings") == 2


def test_the_same_reading_again_adds_nothing(store: Store, study: str) -> None:
    """A clip that comes from the cache took another time, and is the same."""
    clip = sample_study(1, study).clips[0]
    for seconds in (1.0, 2.0):
        reading = replace(sample_reading(clip), seconds=(("decode", seconds),))
        record_event(store, study, ClipFinished(reading=reading, from_cache=True), house=HOUSE)

    assert n_rows(store, "readings") == 1


def test_drafts_and_assemblies_come_back(store: Store, study: str) -> None:
    whole = sample_study(2, study)
    record_event(store, study, StudyAssembled(study=whole), house=HOUSE)
    record_event(store, study, ReviewFinished(review=sample_review(whole)), house=HOUSE)

    assert latest_assembly(store, study) == whole
    assert latest_review(store, study) == sample_review(whole)
    assert latest_coverages(store, [study, new_id()]) == {study: sample_review(whole).coverage}


def test_progress_is_not_kept(store: Store, study: str) -> None:
    record_event(store, study, FilesFound(n_files=3), house=HOUSE)
    record_event(store, study, ClipProgress(number=1, phase="decode", frames_done=3, n_frames=9), house=HOUSE)

    assert [n_rows(store, table) for table in ("fates", "readings", "assemblies", "reviews")] == [0, 0, 0, 0]


def test_a_reading_of_another_version_is_read_again_not_stumbled_over(store: Store, study: str) -> None:
    clip = sample_study(1, study).clips[0]
    with store.database.write() as connection:
        row = {"study": study, "at": store.now(), "clip": clip.key, "engine_version": "0", "house": HOUSE}
        connection.execute(READINGS.insert().values(**row, digest="", value=pack_json(b'{"other": "fields"}')))

    assert clip_readings(store, study)[clip.key].reading is None


def test_a_rescan_lies_on_the_thread_of_the_first_study(store: Store, study: str, tmp_path: Path) -> None:
    second = add_study(store, sample_id("2"), title="re-scan", parent=study)
    third = add_study(store, sample_id("3"), title="re-scan", parent=second.id)
    add_study(store, sample_id("4"), title="another case")

    assert third.thread == study
    assert [item.id for item in thread_studies(store, second.id)] == [study, second.id, third.id]
    assert add_study(store, sample_id("3"), title="re-scan", parent=second.id) == third
    with pytest.raises(UsedIdError, match="another title"):
        add_study(store, sample_id("3"), title="x", parent=second.id)
    with pytest.raises(UnknownRowError, match="no such study"):
        add_study(store, new_id(), title="x", parent=new_id())


def _read(clip) -> ClipFinished:
    return ClipFinished(reading=sample_reading(clip), from_cache=False)
