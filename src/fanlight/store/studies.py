"""Studies, the cases that they belong to, and the files that were sent."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import RowMapping, select

from fanlight.store.action_words import Fate
from fanlight.store.originals import Original
from fanlight.store.standing import refresh_standing
from fanlight.store.store import Store, checked_id, insert_once, need_study, row_by_id, time_of
from fanlight.store.tables import FATES, FILES, STUDIES
from fanlight.study import Refusal
from fanlight.study.codec import from_bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredStudy:
    """One study that was sent."""

    id: str
    made_at: datetime
    title: str  # given by the user, or the folder's name
    parent: str  # id of the study that this one answers; "" for the first of a case
    thread: str  # id of the first study of the case


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredFile:
    """One file that was received; its bytes lie in the originals under `sha256`."""

    id: str
    study: str
    received_at: datetime
    name: str  # as the user knows it
    sha256: str
    size: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FileFate:
    """What became of a file, or of a member of a zip."""

    name: str
    fate: Fate
    refusals: tuple[Refusal, ...] = ()


def study_of(row: RowMapping) -> StoredStudy:
    """Return the study that a row holds."""
    return StoredStudy(
        id=row["id"],
        made_at=time_of(row["made_at"]),
        title=row["title"],
        parent=row["parent"] or "",
        thread=row["thread"],
    )


def _file(row: RowMapping) -> StoredFile:
    return StoredFile(
        id=row["id"],
        study=row["study"],
        received_at=time_of(row["received_at"]),
        name=row["name"],
        sha256=row["sha256"],
        size=row["size"],
    )


def add_study(store: Store, study: str, *, title: str, parent: str = "") -> StoredStudy:
    """Keep a new study, under an id that the page made; a repeated request adds nothing.

    Parameters
    ----------
    study : str
        UUID.
    title : str
        Given by the user, or the folder's name.
    parent : str
        Id of the study that this one answers, as a re-scan does: both lie on one thread.
    """
    study = checked_id(study)
    with store.database.write() as connection:
        thread = need_study(connection, parent)["thread"] if parent else study
        said = {"title": title, "parent": parent or None}
        if insert_once(connection, STUDIES, study, said, {"made_at": store.now(), "thread": thread}):
            refresh_standing(connection, study)
        return study_of(need_study(connection, study))


def read_study(store: Store, study: str) -> StoredStudy:
    """Return one study; UnknownRowError when there is none."""
    with store.database.read() as connection:
        return study_of(need_study(connection, study))


def thread_studies(store: Store, study: str) -> tuple[StoredStudy, ...]:
    """Return all studies of the case that this one belongs to, oldest first."""
    with store.database.read() as connection:
        thread = need_study(connection, study)["thread"]
        rows = connection.execute(select(STUDIES).where(STUDIES.c.thread == thread).order_by(STUDIES.c.seq))
        return tuple(study_of(row) for row in rows.mappings())


def add_file(store: Store, study: str, *, file: str, name: str, chunks: Iterable[bytes]) -> StoredFile:
    """Keep a file whose bytes come in pieces; when this returns, it survives a power cut.

    To take bytes as a page sends them, write them to `store.originals.incoming()` and call `record_file`.

    Parameters
    ----------
    file : str
        UUID that the page made.
    name : str
        As the user knows the file.
    """
    with store.database.read() as connection:
        need_study(connection, study)
    return record_file(store, study, file=file, name=name, original=store.originals.keep(chunks))


def record_file(store: Store, study: str, *, file: str, name: str, original: Original) -> StoredFile:
    """Note that a kept original belongs to a study."""
    file = checked_id(file)
    said = {"study": study, "name": name, "sha256": original.sha256, "size": original.size}
    with store.database.write() as connection:
        need_study(connection, study)
        insert_once(connection, FILES, file, said, {"received_at": store.now()})
        row = row_by_id(connection, FILES, file)
        assert row is not None
        return _file(row)


def files_of(store: Store, study: str) -> tuple[StoredFile, ...]:
    """Return the files of a study in the order received."""
    with store.database.read() as connection:
        rows = connection.execute(select(FILES).where(FILES.c.study == study).order_by(FILES.c.seq))
        return tuple(_file(row) for row in rows.mappings())


def fates_of(store: Store, study: str) -> tuple[FileFate, ...]:
    """Return what became of each file and each member of a zip, in the order in which they were heard of.

    When a study is read again, what the newest reading says of a file counts.
    """
    fates = {item.name: FileFate(name=item.name, fate=Fate.RECEIVED) for item in files_of(store, study)}
    with store.database.read() as connection:
        rows = connection.execute(select(FATES).where(FATES.c.study == study).order_by(FATES.c.seq)).mappings().all()
    for row in rows:
        name = row["name"]
        if row["fate"] == Fate.PROBED:
            fates[name] = FileFate(name=name, fate=Fate.PROBED)
            continue
        before = fates[name].refusals if name in fates else ()
        refusal = from_bytes(row["refusal"].encode(), Refusal)
        refusals = before if refusal in before else (*before, refusal)
        fates[name] = FileFate(name=name, fate=Fate.REFUSED, refusals=refusals)
    return tuple(fates.values())
