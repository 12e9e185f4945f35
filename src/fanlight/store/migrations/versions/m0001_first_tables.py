"""The first tables, and the triggers that refuse to change what was written."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

# Table: the sets of columns of which no two rows may hold the same. `INSERT OR REPLACE` would delete such a row without
# asking a DELETE trigger (SQLite, "lang_conflict"), so an insert that meets one is refused as well.
APPEND_ONLY: dict[str, tuple[tuple[str, ...], ...]] = {
    "studies": (("seq",), ("id",)),
    "files": (("seq",), ("id",)),
    "assemblies": (("seq",),),
    "fates": (("seq",),),
    "readings": (("seq",),),
    "reviews": (("seq",),),
    "entries": (("seq",), ("id",)),
    "calls": (("seq",), ("entry",)),
    "documents": (("seq",), ("id",), ("study", "kind", "version")),
    "parts": (("seq",), ("document", "name")),
    "messages": (("seq",), ("id",)),
}


def upgrade() -> None:
    """Make the tables."""
    _make_tables()
    if op.get_bind().dialect.name == "sqlite":
        for table, unique in APPEND_ONLY.items():
            _only_grow(table, unique)


def _only_grow(table: str, unique: tuple[tuple[str, ...], ...]) -> None:
    refuse = f"SELECT RAISE(ABORT, 'rows of {table} are never changed');"
    for deed in ("UPDATE", "DELETE"):
        op.execute(f"CREATE TRIGGER {table}_no_{deed.lower()} BEFORE {deed} ON {table} BEGIN {refuse} END")
    same = " OR ".join("(" + " AND ".join(f"{name} = NEW.{name}" for name in names) + ")" for names in unique)
    op.execute(
        f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} "
        f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {same}) BEGIN {refuse} END"
    )


def _make_tables() -> None:
    op.create_table(
        "studies",
        sa.Column("seq", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("made_at", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("parent", sa.Text(), nullable=True),
        sa.Column("thread", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["parent"], ["studies.id"], name=op.f("fk_studies_parent")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_studies")),
        sa.UniqueConstraint("id", name=op.f("uq_studies_id")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_studies_thread_seq"), "studies", ["thread", "seq"], unique=False)
    op.create_table(
        "assemblies",
        sa.Column("seq", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("study", sa.Text(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.Column("engine_version", sa.Text(), nullable=False),
        sa.Column("house", sa.Text(), nullable=False),
        sa.Column("n_clips", sa.Integer(), nullable=False),
        sa.Column("is_urgent", sa.Boolean(), nullable=False),
        sa.Column("trainee", sa.Text(), nullable=False),
        sa.Column("practice", sa.Text(), nullable=False),
        sa.Column("identity", sa.Text(), nullable=False),
        sa.Column("patient", sa.Text(), nullable=False),
        sa.Column("value", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["study"], ["studies.id"], name=op.f("fk_assemblies_study")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_assemblies")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_assemblies_study_seq"), "assemblies", ["study", "seq"], unique=False)
    op.create_index(op.f("ix_assemblies_trainee_practice"), "assemblies", ["trainee", "practice"], unique=False)
    op.create_table(
        "entries",
        sa.Column("seq", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("study", sa.Text(), nullable=False),
        sa.Column("clip", sa.Text(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.Column("author", sa.Text(), nullable=False),
        sa.Column("action", sa.Text(), nullable=False),
        sa.Column("payload", sa.Text(), nullable=False),
        sa.Column("undoes", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["study"], ["studies.id"], name=op.f("fk_entries_study")),
        sa.ForeignKeyConstraint(["undoes"], ["entries.id"], name=op.f("fk_entries_undoes")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_entries")),
        sa.UniqueConstraint("id", name=op.f("uq_entries_id")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_entries_study_seq"), "entries", ["study", "seq"], unique=False)
    op.create_index(op.f("ix_entries_undoes"), "entries", ["undoes"], unique=False)
    op.create_table(
        "files",
        sa.Column("seq", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("study", sa.Text(), nullable=False),
        sa.Column("received_at", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["study"], ["studies.id"], name=op.f("fk_files_study")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_files")),
        sa.UniqueConstraint("id", name=op.f("uq_files_id")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_files_sha256"), "files", ["sha256"], unique=False)
    op.create_index(op.f("ix_files_study_seq"), "files", ["study", "seq"], unique=False)
    op.create_table(
        "messages",
        sa.Column("seq", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("study", sa.Text(), nullable=False),
        sa.Column("thread", sa.Text(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("author", sa.Text(), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("answers", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["answers"], ["messages.id"], name=op.f("fk_messages_answers")),
        sa.ForeignKeyConstraint(["study"], ["studies.id"], name=op.f("fk_messages_study")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_messages")),
        sa.UniqueConstraint("id", name=op.f("uq_messages_id")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_messages_thread_seq"), "messages", ["thread", "seq"], unique=False)
    op.create_table(
        "readings",
        sa.Column("seq", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("study", sa.Text(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.Column("clip", sa.Text(), nullable=False),
        sa.Column("engine_version", sa.Text(), nullable=False),
        sa.Column("house", sa.Text(), nullable=False),
        sa.Column("digest", sa.Text(), nullable=False),
        sa.Column("value", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["study"], ["studies.id"], name=op.f("fk_readings_study")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_readings")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_readings_study_clip_seq"), "readings", ["study", "clip", "seq"], unique=False)
    op.create_table(
        "reviews",
        sa.Column("seq", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("study", sa.Text(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.Column("engine_version", sa.Text(), nullable=False),
        sa.Column("house", sa.Text(), nullable=False),
        sa.Column("coverage", sa.LargeBinary(), nullable=False),
        sa.Column("value", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["study"], ["studies.id"], name=op.f("fk_reviews_study")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_reviews")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_reviews_study_seq"), "reviews", ["study", "seq"], unique=False)
    op.create_table(
        "standing",
        sa.Column("study", sa.Text(), nullable=False),
        sa.Column("made_at", sa.Text(), nullable=False),
        sa.Column("is_closed", sa.Boolean(), nullable=False),
        sa.Column("rank", sa.Integer(), nullable=False),
        sa.Column("said_by", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["study"], ["studies.id"], name=op.f("fk_standing_study")),
        sa.PrimaryKeyConstraint("study", name=op.f("pk_standing")),
    )
    op.create_index("ix_standing_waiting", "standing", ["is_closed", "rank", "made_at", "study"], unique=False)
    op.create_table(
        "calls",
        sa.Column("seq", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("entry", sa.Text(), nullable=False),
        sa.Column("study", sa.Text(), nullable=False),
        sa.Column("call", sa.Text(), nullable=False),
        sa.Column("step", sa.Text(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.Column("whom", sa.Text(), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("author", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["entry"], ["entries.id"], name=op.f("fk_calls_entry")),
        sa.ForeignKeyConstraint(["study"], ["studies.id"], name=op.f("fk_calls_study")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_calls")),
        sa.UniqueConstraint("entry", name=op.f("uq_calls_entry")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_calls_study_seq"), "calls", ["study", "seq"], unique=False)
    op.create_table(
        "documents",
        sa.Column("seq", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("study", sa.Text(), nullable=False),
        sa.Column("entry", sa.Text(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("supersedes", sa.Text(), nullable=True),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("author", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["entry"], ["entries.id"], name=op.f("fk_documents_entry")),
        sa.ForeignKeyConstraint(["study"], ["studies.id"], name=op.f("fk_documents_study")),
        sa.ForeignKeyConstraint(["supersedes"], ["documents.id"], name=op.f("fk_documents_supersedes")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_documents")),
        sa.UniqueConstraint("id", name=op.f("uq_documents_id")),
        sa.UniqueConstraint("study", "kind", "version", name=op.f("uq_documents_study_kind_version")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "fates",
        sa.Column("seq", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("study", sa.Text(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("fate", sa.Text(), nullable=False),
        sa.Column("refusal", sa.Text(), nullable=True),
        sa.Column("assembly", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["assembly"], ["assemblies.seq"], name=op.f("fk_fates_assembly")),
        sa.ForeignKeyConstraint(["study"], ["studies.id"], name=op.f("fk_fates_study")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_fates")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_fates_study_seq"), "fates", ["study", "seq"], unique=False)
    op.create_table(
        "parts",
        sa.Column("seq", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("document", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("media_type", sa.Text(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["document"], ["documents.id"], name=op.f("fk_parts_document")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_parts")),
        sa.UniqueConstraint("document", "name", name=op.f("uq_parts_document_name")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_parts_sha256"), "parts", ["sha256"], unique=False)
