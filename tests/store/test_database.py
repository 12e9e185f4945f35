"""The tables are made by the migrations, refuse change, and say clearly what is wrong."""

import sqlite3
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import text

from fanlight.store import (
    DamagedError,
    LockedError,
    NewerStoreError,
    NoRoomError,
    Store,
    StoreError,
    add_study,
    default_folder,
    new_id,
    open_store,
    read_study,
)
from fanlight.store.database import HEAD, MIGRATIONS
from fanlight.store.tables import APPEND_ONLY, METADATA
from measure._store_samples import sample_id
from tests.store.filled import fill

TABLES = [table.name for table in APPEND_ONLY]


def test_migrations_make_the_tables_that_the_code_knows(store: Store) -> None:
    with store.database.read() as connection:
        assert compare_metadata(MigrationContext.configure(connection), METADATA) == []
        assert connection.execute(text("SELECT version_num FROM alembic_version")).scalar() == HEAD


def test_the_newest_migration_is_the_one_that_opening_looks_for() -> None:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))

    assert ScriptDirectory.from_config(config).get_heads() == [HEAD]


@pytest.mark.parametrize(
    ("setting", "value"), [("journal_mode", "wal"), ("synchronous", 2), ("foreign_keys", 1), ("busy_timeout", 5000)]
)
def test_settings_that_keep_data_safe(store: Store, setting: str, value: object) -> None:
    """2 is FULL (sqlite.org/pragma.html#pragma_synchronous)."""
    with store.database.read() as connection:
        assert connection.execute(text(f"PRAGMA {setting}")).scalar() == value


def test_every_table_but_the_derived_ones_only_grows() -> None:
    assert {*TABLES, "standing", "derived"} == set(METADATA.tables)


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("filled")
    with open_store(folder) as store:
        fill(store, add_study(store, sample_id("study"), title="t").id)
    return folder


@pytest.mark.parametrize("table", TABLES)
def test_no_program_can_change_a_row(filled: Path, table: str) -> None:
    """Another program, with SQLite's own settings, is refused by the file itself."""
    with sqlite3.connect(filled / "fanlight.sqlite") as other:
        before = other.execute(f"SELECT * FROM {table}").fetchall()
        columns = [row[1] for row in other.execute(f"PRAGMA table_info({table})")]
        replace = f"REPLACE INTO {table} SELECT * FROM {table} LIMIT 1"
        keep_id = f"REPLACE INTO {table} ({','.join(columns[1:])}) SELECT {','.join(columns[1:])} FROM {table} LIMIT 1"
        same_id = [keep_id] if "id" in columns else []

        assert before
        for change in (f"UPDATE {table} SET {columns[-1]} = NULL", f"DELETE FROM {table}", replace, *same_id):
            with pytest.raises(sqlite3.IntegrityError, match=f"rows of {table} are never changed"):
                other.execute(change)
        assert other.execute(f"SELECT * FROM {table}").fetchall() == before
    other.close()


def test_a_database_that_another_program_writes_gives_a_clear_error(tmp_path: Path) -> None:
    with open_store(tmp_path, wait_s=0.05) as store:
        study = add_study(store, new_id(), title="t").id
        other = sqlite3.connect(tmp_path / "fanlight.sqlite", isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(LockedError, match=r"another program has been writing for more than 0\.05 s.*Try again"):
            add_study(store, new_id(), title="t")

        assert read_study(store, study).title == "t"  # reading goes on
        other.execute("ROLLBACK")
        other.close()
        add_study(store, new_id(), title="t")


def test_reading_sees_one_moment_while_somebody_writes(store: Store, study: str) -> None:
    count = text("SELECT COUNT(*) FROM studies")
    with store.database.read() as connection:
        before = connection.execute(count).scalar()
        add_study(store, new_id(), title="t")

        assert connection.execute(count).scalar() == before == 1


def test_a_full_disk_keeps_nothing_half(store: Store, study: str) -> None:
    with store.database.read() as connection:
        pages = connection.execute(text("PRAGMA page_count")).scalar()
        connection.execute(text(f"PRAGMA max_page_count = {pages}"))  # holds for the connection that the pool gives out

    with pytest.raises(NoRoomError, match=r"no room is left on the disk; nothing was kept.*Free some space"):
        add_study(store, sample_id("large"), title="x" * 100_000)
    with store.database.read() as connection:
        connection.execute(text("PRAGMA max_page_count = 1000000"))
        assert connection.execute(text("SELECT COUNT(*) FROM studies")).scalar() == 1
    add_study(store, sample_id("large"), title="x" * 100_000)


def test_a_store_of_a_newer_program_is_left_alone(tmp_path: Path) -> None:
    open_store(tmp_path).close()
    with sqlite3.connect(tmp_path / "fanlight.sqlite") as other:
        other.execute("UPDATE alembic_version SET version_num = '9999'")
    other.close()

    with pytest.raises(NewerStoreError, match=r"version 9999, this program knows up to.*Install the newer"):
        open_store(tmp_path)


def test_a_file_that_is_no_database_is_named(tmp_path: Path) -> None:
    (tmp_path / "fanlight.sqlite").write_bytes(b"no database at all, but long enough to be looked at" * 40)

    with pytest.raises(DamagedError, match=r"fanlight\.sqlite: the file is no database"):
        open_store(tmp_path)


def test_a_folder_that_cannot_be_made_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")

    with pytest.raises(StoreError, match="the folder cannot be made"):
        open_store(tmp_path / "file" / "store")


def test_the_store_lies_in_the_users_data_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("FANLIGHT_DATA", str(tmp_path))

    assert default_folder() == tmp_path / "store"


def test_the_folder_may_have_any_name(tmp_path: Path) -> None:
    folder = tmp_path / "echo #3, 50 % done"
    with open_store(folder) as store:
        add_study(store, new_id(), title="t")

    assert (folder / "fanlight.sqlite").is_file()
    assert [path.name for path in tmp_path.iterdir()] == [folder.name]


def test_the_database_may_lie_elsewhere(tmp_path: Path) -> None:
    with open_store(tmp_path / "a", url=f"sqlite:///{tmp_path / 'other.sqlite'}") as store:
        study = add_study(store, new_id(), title="t").id

    assert (tmp_path / "other.sqlite").is_file()
    assert not (tmp_path / "a" / "fanlight.sqlite").exists()
    with open_store(tmp_path / "a", url=f"sqlite:///{tmp_path / 'other.sqlite'}") as store:
        assert read_study(store, study).title == "t"
