"""What the engine says, kept as it comes, so that reading goes on after a crash at the clip where it was."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime

from sqlalchemy import Connection, RowMapping, Table, func, select

from fanlight import __version__
from fanlight.review.events import (
    ClipFinished,
    ClipProgress,
    Event,
    FileProbed,
    FileRefused,
    FilesFound,
    ReviewFinished,
    StudyAssembled,
)
from fanlight.store.action_words import Fate
from fanlight.store.packed import pack, unpack
from fanlight.store.standing import refresh_standing
from fanlight.store.store import Store, need_study, text_of, time_of
from fanlight.store.tables import ASSEMBLIES, FATES, READINGS, REVIEWS
from fanlight.study import Clip, ClipReading, Coverage, Refusal, Study, StudyReview
from fanlight.study.codec import to_bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredReading:
    """The newest reading of one clip, and what made it."""

    clip: str
    at: datetime
    engine_version: str
    house: str  # fingerprint
    reading: ClipReading | None  # None: written by a version with other fields; read the clip again


def record_event(
    store: Store, study: str, event: Event, *, house: str, engine_version: str = __version__, seen_at: str = ""
) -> None:
    """Keep what a review says. An event that repeats what is known of the file or clip adds nothing.

    Parameters
    ----------
    study : str
        Id of the study in the store.
    event : Event
        From `review.run.review`; those that only tell of progress are not kept.
    house : str
        Fingerprint of the House that the engine read with.
    seen_at : str
        For a draft, `unread.moment` at which files and scales were looked up: it rests on nothing that came later.
    """
    if isinstance(event, FilesFound | ClipProgress):
        return
    with store.database.write() as connection:
        need_study(connection, study)
        by = {"study": study, "at": store.now(), "engine_version": engine_version, "house": house}
        match event:
            case FileProbed():
                _keep_fate(connection, study, store.now(), event.name, None)
            case FileRefused():
                _keep_fate(connection, study, store.now(), event.refusal.name, event.refusal)
            case StudyAssembled():
                connection.execute(ASSEMBLIES.insert().values(**by, **assembly_columns(event.study)))
                refresh_standing(connection, study)
            case ClipFinished():
                _keep_reading(connection, by, event.reading)
            case ReviewFinished():
                by |= {"engine_version": event.review.engine_version, "house": event.review.house}
                by |= {"at": seen_at} if seen_at else {}
                packed = {"coverage": pack(event.review.coverage), "value": pack(event.review)}
                connection.execute(REVIEWS.insert().values(**by, **packed))


def assembly_columns(study: Study) -> dict[str, object]:
    """Return what the table keeps of a study, with what a list shows beside it."""
    return {
        "n_clips": len(study.clips),
        "is_urgent": study.request.urgent,
        "trainee": study.request.trainee.strip(),
        "practice": study.identity.practice.strip(),
        "identity": to_bytes(study.identity).decode(),
        "patient": to_bytes(study.patient).decode(),
        "value": pack(study),
    }


def _keep_fate(connection: Connection, study: str, at: str, name: str, refusal: Refusal | None) -> None:
    said = {"fate": (Fate.REFUSED if refusal else Fate.PROBED).value,
            "refusal": to_bytes(refusal).decode() if refusal else None,
            "assembly": _newest_assembly(connection, study)}  # fmt: skip
    of_file = select(FATES).where(FATES.c.study == study, FATES.c.name == name)
    last = connection.execute(of_file.order_by(FATES.c.seq.desc()).limit(1)).mappings().first()
    if last is None or any(last[key] != value for key, value in said.items()):
        connection.execute(FATES.insert().values(study=study, at=at, name=name, **said))


def _newest_assembly(connection: Connection, study: str) -> int | None:
    return connection.execute(select(func.max(ASSEMBLIES.c.seq)).where(ASSEMBLIES.c.study == study)).scalar()


def _keep_reading(connection: Connection, by: dict[str, str], reading: ClipReading) -> None:
    # How long it took is no part of the result: the same reading from the cache is the same.
    digest = hashlib.sha256(to_bytes(replace(reading, seconds=()))).hexdigest()
    of_clip = select(READINGS.c.engine_version, READINGS.c.house, READINGS.c.digest).where(
        READINGS.c.study == by["study"], READINGS.c.clip == reading.clip.key
    )
    last = connection.execute(of_clip.order_by(READINGS.c.seq.desc()).limit(1)).first()
    if last is None or tuple(last) != (by["engine_version"], by["house"], digest):
        connection.execute(READINGS.insert().values(**by, clip=reading.clip.key, digest=digest, value=pack(reading)))


def unread_clips(store: Store, study: str, *, house: str, engine_version: str = __version__) -> tuple[Clip, ...] | None:
    """Return the clips that this engine with this House has not read yet, in the order of the study.

    A clip whose reading was refused since the study was last put together counts as done. None: the headers of the
    files are not read yet, so reading starts from the beginning.
    """
    assembled = latest_assembly(store, study)
    if assembled is None:
        return None
    with store.database.read() as connection:
        newest = _newest_assembly(connection, study)
        read = select(READINGS.c.clip).where(
            READINGS.c.study == study, READINGS.c.engine_version == engine_version, READINGS.c.house == house
        )
        done = set(connection.execute(read).scalars())
        refused = select(FATES.c.name).where(
            FATES.c.study == study, FATES.c.fate == Fate.REFUSED.value, FATES.c.assembly == newest
        )
        gone = set(connection.execute(refused).scalars())
    return tuple(clip for clip in assembled.clips if clip.key not in done and clip.name not in gone)


def latest_assembly(store: Store, study: str) -> Study | None:
    """Return the study as its files say, put together last; None before that, or when it must be put together anew."""
    value = _latest(store, ASSEMBLIES, study)
    return None if value is None else unpack(value, Study)


def latest_review(store: Store, study: str) -> StudyReview | None:
    """Return the engine's newest draft; None before the first, or when it must be made anew."""
    value = _latest(store, REVIEWS, study)
    return None if value is None else unpack(value, StudyReview)


def _latest(store: Store, table: Table, study: str) -> bytes | None:
    with store.database.read() as connection:
        newest = select(table.c.value).where(table.c.study == study).order_by(table.c.seq.desc()).limit(1)
        value: bytes | None = connection.execute(newest).scalar()
    return value


def clip_readings(store: Store, study: str) -> dict[str, StoredReading]:
    """Return the newest reading of each clip, by clip key. Takes some milliseconds a clip."""
    newest = select(func.max(READINGS.c.seq)).where(READINGS.c.study == study).group_by(READINGS.c.clip)
    with store.database.read() as connection:
        rows = connection.execute(select(READINGS).where(READINGS.c.seq.in_(newest)).order_by(READINGS.c.seq))
        return {row["clip"]: _reading(row) for row in rows.mappings()}


def clip_reading(store: Store, study: str, clip: str) -> StoredReading | None:
    """Return the newest reading of one clip; None before the first."""
    newest = select(READINGS).where(READINGS.c.study == study, READINGS.c.clip == clip)
    with store.database.read() as connection:
        row = connection.execute(newest.order_by(READINGS.c.seq.desc()).limit(1)).mappings().first()
    return None if row is None else _reading(row)


def _reading(row: RowMapping) -> StoredReading:
    return StoredReading(
        clip=row["clip"],
        at=time_of(row["at"]),
        engine_version=row["engine_version"],
        house=row["house"],
        reading=unpack(row["value"], ClipReading),
    )


def review_at(store: Store, study: str, at: datetime) -> StudyReview | None:
    """Return the draft that was the newest at a time; None when there was none, or it must be made anew."""
    newest = select(REVIEWS.c.value).where(REVIEWS.c.study == study, REVIEWS.c.at <= text_of(at))
    with store.database.read() as connection:
        value: bytes | None = connection.execute(newest.order_by(REVIEWS.c.seq.desc()).limit(1)).scalar()
    return None if value is None else unpack(value, StudyReview)


def latest_coverages(store: Store, studies: Iterable[str]) -> dict[str, Coverage]:
    """Return what each study holds of its plan, for a list; studies without a draft are left out."""
    newest = select(func.max(REVIEWS.c.seq)).where(REVIEWS.c.study.in_(tuple(studies))).group_by(REVIEWS.c.study)
    with store.database.read() as connection:
        rows = connection.execute(select(REVIEWS.c.study, REVIEWS.c.coverage).where(REVIEWS.c.seq.in_(newest))).all()
    found = {study: unpack(value, Coverage) for study, value in rows}
    return {study: coverage for study, coverage in found.items() if coverage is not None}
