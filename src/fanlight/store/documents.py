"""Signed papers: frozen bytes, their hash, and what each supersedes. A later word is an addendum, never a change."""

from __future__ import annotations

import hashlib
from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, RowMapping, func, select

from fanlight.store.action_words import DocumentKind
from fanlight.store.actions import Sign
from fanlight.store.entry import write_action
from fanlight.store.errors import MovedError, RefusedActionError, UnknownRowError, UsedIdError
from fanlight.store.log import write_entry
from fanlight.store.originals import Original
from fanlight.store.store import Store, checked_id, need_study, row_by_id, time_of
from fanlight.store.tables import ASSEMBLIES, DOCUMENTS, ENTRIES, PARTS, STUDIES


@dataclass(frozen=True, slots=True, kw_only=True)
class NewPart:
    """One file of a paper that is about to be signed."""

    name: str  # "letter.html"
    media_type: str  # "text/html"
    data: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class DocumentPart:
    """One file of a signed paper; its bytes lie in the originals under `sha256`."""

    name: str
    media_type: str
    sha256: str
    size: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A signed paper. The name is locally entered, not authenticated."""

    id: str
    study: str
    kind: DocumentKind
    version: int  # 1, 2 …
    supersedes: str  # id of the version before; "" for the first
    sha256: str  # over the list of parts, see `list_hash`
    author: str
    signed_at: datetime
    parts: tuple[DocumentPart, ...]


def list_hash(parts: Sequence[tuple[str, str]]) -> str:
    """Return the hash that stands for a whole paper: of the lines `hash, two spaces, name` of its parts."""
    return hashlib.sha256("".join(f"{sha256}  {name}\n" for name, sha256 in parts).encode()).hexdigest()


def sign_document(
    store: Store, study: str, kind: DocumentKind, parts: Sequence[NewPart], *, author: str, document: str,
    supersedes: str = "", last_entry: str | None = None,
) -> Document:  # fmt: skip
    """Freeze a paper and note its signature, both or none; a repeated request adds nothing.

    Parameters
    ----------
    parts : sequence of NewPart
        Its files, at least one, each name once.
    document : str
        UUID that the page made.
    supersedes : str
        Id of the newest version that the author has seen; "" when there was none.
    last_entry : str, optional
        Id of the newest entry that the paper rests on, "" for none; not compared when not given.

    Raises
    ------
    RefusedActionError
        When there is a newer version than the author has seen.
    MovedError
        When there is a newer entry than the paper rests on.
    """
    document = checked_id(document)
    if not parts or len({part.name for part in parts}) != len(parts):
        raise ValueError("a paper needs at least one part, each with a name of its own")
    kept = [store.originals.keep([part.data]) for part in parts]
    sha256 = list_hash([(part.name, original.sha256) for part, original in zip(parts, kept, strict=True)])
    with store.database.write() as connection:
        need_study(connection, study)
        there = row_by_id(connection, DOCUMENTS, document)
        if there is not None:
            if (there["study"], there["kind"], there["sha256"], there["author"]) != (study, kind, sha256, author):
                found = "this id stands for another signed paper"
                raise UsedIdError(f"document {document}", found, "Nothing was kept; load the study anew.")
            return _document(connection, there)
        version = _next_version(connection, study, kind, supersedes)
        if last_entry is not None and last_entry != _newest_entry(connection, study):
            found = "something was done in the study while the paper was being made"
            raise MovedError(f"study {study}", found, "Nothing was signed; look at the paper and sign again.")
        sign = Sign(document=kind, document_id=document, version=version, sha256=sha256)
        entry = write_entry(store, connection, study, sign, *write_action(sign), author, document)
        connection.execute(
            DOCUMENTS.insert().values(
                id=document, study=study, entry=entry.id, at=store.now(), kind=kind.value, version=version,
                supersedes=supersedes or None, sha256=sha256, author=author,
            )
        )  # fmt: skip
        _keep_parts(connection, document, parts, kept)
        row = row_by_id(connection, DOCUMENTS, document)
        assert row is not None
        return _document(connection, row)


def need_newest(store: Store, study: str, kind: DocumentKind, supersedes: str) -> None:
    """Raise RefusedActionError when this is not the newest version; what can be told before a paper is made."""
    with store.database.read() as connection:
        _next_version(connection, study, kind, supersedes)


def _next_version(connection: Connection, study: str, kind: DocumentKind, supersedes: str) -> int:
    newest = connection.execute(
        select(DOCUMENTS.c.id, DOCUMENTS.c.version)
        .where(DOCUMENTS.c.study == study, DOCUMENTS.c.kind == kind.value)
        .order_by(DOCUMENTS.c.version.desc())
        .limit(1)
    ).first()
    there, version = (newest[0], newest[1]) if newest else ("", 0)
    if there != supersedes:
        stands = f"version {version} of the {kind} {'was signed meanwhile' if supersedes else 'stands already'}"
        remedy = "Load the study anew; then sign an addendum to what stands there."
        raise RefusedActionError(f"study {study}", stands if newest else f"no {kind} was signed yet", remedy)
    return int(version) + 1


def _newest_entry(connection: Connection, study: str) -> str:
    newest = select(ENTRIES.c.id).where(ENTRIES.c.study == study).order_by(ENTRIES.c.seq.desc()).limit(1)
    return connection.execute(newest).scalar() or ""


def _keep_parts(connection: Connection, document: str, parts: Sequence[NewPart], kept: Sequence[Original]) -> None:
    for part, original in zip(parts, kept, strict=True):
        connection.execute(
            PARTS.insert().values(
                document=document, name=part.name, media_type=part.media_type, sha256=original.sha256,
                size=original.size,
            )
        )  # fmt: skip


def documents_of(store: Store, study: str) -> tuple[Document, ...]:
    """Return every signed paper of a study, in the order signed."""
    with store.database.read() as connection:
        rows = connection.execute(select(DOCUMENTS).where(DOCUMENTS.c.study == study).order_by(DOCUMENTS.c.seq))
        return tuple(_document(connection, row) for row in rows.mappings().all())


def last_letter(store: Store, study: str) -> Document | None:
    """Return the newest letter to the same trainee at the same practice, about an earlier study; None without one.

    What it asked for lies in the state of its study: `study_state(store, letter.study)`.
    """
    with store.database.read() as connection:
        need_study(connection, study)
    return last_letters(store, (study,)).get(study)


def last_letters(store: Store, studies: Iterable[str]) -> dict[str, Document]:
    """Return the last letter of each study that has one, as `last_letter` does; one question a trainee."""
    sheet = ASSEMBLIES.alias()
    newest = select(func.max(sheet.c.seq)).where(sheet.c.study == STUDIES.c.id).scalar_subquery()
    mine = (
        select(STUDIES.c.id, STUDIES.c.seq, ASSEMBLIES.c.trainee, ASSEMBLIES.c.practice)
        .select_from(STUDIES.join(ASSEMBLIES, ASSEMBLIES.c.seq == newest))
        .where(STUDIES.c.id.in_(tuple(studies)), ASSEMBLIES.c.trainee != "")
    )
    chosen: dict[str, str] = {}
    with store.database.read() as connection:
        rows = connection.execute(mine).all()
        for who in {(row.trainee, row.practice) for row in rows}:
            letters = _letters_to(connection, *who)
            for row in rows:
                if (row.trainee, row.practice) == who and (at := bisect_left(letters, (row.seq,))) > 0:
                    chosen[row.id] = letters[at - 1][2]
        found = connection.execute(select(DOCUMENTS).where(DOCUMENTS.c.id.in_(set(chosen.values())))).mappings()
        papers = {row["id"]: _document(connection, row) for row in found.all()}
    return {study: papers[letter] for study, letter in chosen.items()}


def _letters_to(connection: Connection, trainee: str, practice: str) -> list[tuple[int, int, str]]:
    """Return all letters to a trainee as study's place, version and id; the newest last."""
    whose = select(ASSEMBLIES.c.study).where(ASSEMBLIES.c.trainee == trainee, ASSEMBLIES.c.practice == practice)
    letters = (
        select(STUDIES.c.seq, DOCUMENTS.c.version, DOCUMENTS.c.id)
        .select_from(DOCUMENTS.join(STUDIES, STUDIES.c.id == DOCUMENTS.c.study))
        .where(DOCUMENTS.c.kind == DocumentKind.LETTER.value, DOCUMENTS.c.study.in_(whose))
        .order_by(STUDIES.c.seq, DOCUMENTS.c.version)
    )
    return [(row[0], row[1], row[2]) for row in connection.execute(letters)]


def read_document(store: Store, document: str) -> Document:
    """Return one signed paper; UnknownRowError when there is none."""
    with store.database.read() as connection:
        row = row_by_id(connection, DOCUMENTS, document)
        if row is None:
            raise UnknownRowError(f"document {document}", "no such paper was signed", "Load the study anew.")
        return _document(connection, row)


def _document(connection: Connection, row: RowMapping) -> Document:
    parts = connection.execute(select(PARTS).where(PARTS.c.document == row["id"]).order_by(PARTS.c.seq)).mappings()
    return Document(
        id=row["id"],
        study=row["study"],
        kind=DocumentKind(row["kind"]),
        version=row["version"],
        supersedes=row["supersedes"] or "",
        sha256=row["sha256"],
        author=row["author"],
        signed_at=time_of(row["at"]),
        parts=tuple(
            DocumentPart(name=part["name"], media_type=part["media_type"], sha256=part["sha256"], size=part["size"])
            for part in parts
        ),
    )
