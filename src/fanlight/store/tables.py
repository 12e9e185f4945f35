"""The tables of the store. Every one but `standing` and `derived` only grows; triggers refuse any change of a row.

`seq` is the order in which rows were written. Times are UTC as `2026-11-25T19:54:50.000000+00:00`, so that text order
is time order. Values of the engine are kept as their JSON, packed with zlib.
"""

from __future__ import annotations

from sqlalchemy import (
    Boolean,
    Column,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)

# Named constraints: a later migration can name what it changes.
METADATA = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def _seq() -> Column[int]:
    return Column("seq", Integer, primary_key=True, autoincrement=True)


def _text(name: str) -> Column[str]:
    return Column(name, Text, nullable=False)


def _study() -> Column[str]:
    return Column("study", Text, ForeignKey("studies.id"), nullable=False)


STUDIES = Table(
    "studies",
    METADATA,
    _seq(),
    _text("id"),
    _text("made_at"),
    _text("title"),
    Column("parent", Text, ForeignKey("studies.id")),  # the study that this one answers
    _text("thread"),  # id of the first study of the case
    UniqueConstraint("id"),
    Index(None, "thread", "seq"),
    sqlite_autoincrement=True,
)
FILES = Table(
    "files",
    METADATA,
    _seq(),
    _text("id"),
    _study(),
    _text("received_at"),
    _text("name"),  # as the user knows it
    _text("sha256"),
    Column("size", Integer, nullable=False),
    UniqueConstraint("id"),
    Index(None, "study", "seq"),
    Index(None, "sha256"),
    sqlite_autoincrement=True,
)
ASSEMBLIES = Table(
    "assemblies",
    METADATA,
    _seq(),
    _study(),
    _text("at"),
    _text("engine_version"),
    _text("house"),
    Column("n_clips", Integer, nullable=False),
    Column("is_urgent", Boolean, nullable=False),  # the request sheet says so
    _text("trainee"),  # as the sheet names them; "" for a plain second reading
    _text("practice"),
    _text("identity"),  # Identity as JSON, for the list
    _text("patient"),  # Patient as JSON, for the list
    Column("value", LargeBinary, nullable=False),  # Study
    Index(None, "study", "seq"),
    Index(None, "trainee", "practice"),
    sqlite_autoincrement=True,
)
FATES = Table(
    "fates",
    METADATA,
    _seq(),
    _study(),
    _text("at"),
    _text("name"),
    _text("fate"),  # "probed" or "refused"
    Column("refusal", Text),  # Refusal as JSON
    Column("assembly", Integer, ForeignKey("assemblies.seq")),  # the newest one at that time
    Index(None, "study", "seq"),
    sqlite_autoincrement=True,
)
READINGS = Table(
    "readings",
    METADATA,
    _seq(),
    _study(),
    _text("at"),
    _text("clip"),
    _text("engine_version"),
    _text("house"),
    _text("digest"),  # of the reading without its timings
    Column("value", LargeBinary, nullable=False),  # ClipReading
    Index(None, "study", "clip", "seq"),
    sqlite_autoincrement=True,
)
REVIEWS = Table(
    "reviews",
    METADATA,
    _seq(),
    _study(),
    _text("at"),  # what came later is not in it
    _text("engine_version"),
    _text("house"),
    Column("coverage", LargeBinary, nullable=False),  # Coverage, for the small picture in the list
    Column("value", LargeBinary, nullable=False),  # StudyReview
    Index(None, "study", "seq"),
    sqlite_autoincrement=True,
)
ENTRIES = Table(
    "entries",
    METADATA,
    _seq(),
    _text("id"),
    _study(),
    _text("clip"),
    _text("at"),
    _text("author"),
    _text("action"),
    _text("payload"),  # JSON
    Column("undoes", Text, ForeignKey("entries.id")),
    UniqueConstraint("id"),
    Index(None, "study", "seq"),
    Index(None, "undoes"),
    sqlite_autoincrement=True,
)
CALLS = Table(
    "calls",
    METADATA,
    _seq(),
    _text("entry"),  # the entry that recorded it
    _study(),
    _text("call"),
    _text("step"),  # "opened", "made" or "acknowledged"
    _text("at"),
    _text("whom"),  # who was called, or who acknowledged; "" when it was opened
    _text("words"),  # the finding, what was said, or the acknowledgement
    _text("author"),
    ForeignKeyConstraint(["entry"], ["entries.id"]),
    UniqueConstraint("entry"),
    Index(None, "study", "seq"),
    sqlite_autoincrement=True,
)
DOCUMENTS = Table(
    "documents",
    METADATA,
    _seq(),
    _text("id"),
    _study(),
    _text("entry"),
    _text("at"),
    _text("kind"),
    Column("version", Integer, nullable=False),
    Column("supersedes", Text, ForeignKey("documents.id")),
    _text("sha256"),  # over the list of its parts
    _text("author"),
    ForeignKeyConstraint(["entry"], ["entries.id"]),
    UniqueConstraint("id"),
    UniqueConstraint("study", "kind", "version"),
    sqlite_autoincrement=True,
)
PARTS = Table(
    "parts",
    METADATA,
    _seq(),
    Column("document", Text, ForeignKey("documents.id"), nullable=False),
    _text("name"),  # "letter.html"
    _text("media_type"),
    _text("sha256"),
    Column("size", Integer, nullable=False),
    UniqueConstraint("document", "name"),
    Index(None, "sha256"),
    sqlite_autoincrement=True,
)
MESSAGES = Table(
    "messages",
    METADATA,
    _seq(),
    _text("id"),
    _study(),
    _text("thread"),
    _text("at"),
    _text("kind"),
    _text("author"),
    _text("words"),
    Column("answers", Text, ForeignKey("messages.id")),
    UniqueConstraint("id"),
    Index(None, "thread", "seq"),
    sqlite_autoincrement=True,
)

# Written once, never changed, exported in this order: a row names only rows of tables before it, or earlier ones.
APPEND_ONLY: tuple[Table, ...] = (
    STUDIES, FILES, ASSEMBLIES, FATES, READINGS, REVIEWS, ENTRIES, CALLS, DOCUMENTS, PARTS, MESSAGES,
)  # fmt: skip

# How each study stands, derived from the rows above and made anew with them; holds nothing of its own.
STANDING = Table(
    "standing",
    METADATA,
    Column("study", Text, ForeignKey("studies.id"), primary_key=True),
    _text("made_at"),
    Column("is_closed", Boolean, nullable=False),
    Column("rank", Integer, nullable=False),  # 0: urgent; 1: not flagged. Rising, so that one index gives the order
    _text("said_by"),  # who flagged it; "" when it is not urgent
    _text("reason"),
    Index("ix_standing_waiting", "is_closed", "rank", "made_at", "study"),
)

# What takes long to work out and is shown often, with what it rests on; may be lost at any time.
DERIVED = Table(
    "derived",
    METADATA,
    Column("kind", Text, primary_key=True),
    Column("of", Text, primary_key=True),
    _text("basis"),
    Column("value", LargeBinary, nullable=False),
)
