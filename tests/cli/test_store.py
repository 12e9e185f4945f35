"""`fanlight store`: a backup, its way back, and whether all is as it was written."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from fanlight.cli import app
from fanlight.store import add_file, add_study, export_store, files_of, new_id, open_store


def said(*words: str | Path) -> Result:
    return CliRunner().invoke(app, ["store", *map(str, words)])


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A store with one study of one file."""
    folder = tmp_path / "store"
    with open_store(folder) as store:
        study = add_study(store, new_id(), title="Juniper").id
        add_file(store, study, file=new_id(), name="a.dcm", chunks=[b"as it came"])
    return folder


def original(folder: Path) -> Path:
    (path,) = (folder / "originals").glob("??/??/*")
    return path


def test_what_was_exported_comes_back_whole(folder: Path, tmp_path: Path) -> None:
    """The same as from the functions, byte for byte; the restored folder is one that the desk opens."""
    out, again = tmp_path / "backup.zip", tmp_path / "again"
    written = said("export", out, "--data", folder)
    restored = said("restore", out, "--data", again)
    verified = said("verify", "--data", again)

    assert [item.exit_code for item in (written, restored, verified)] == [0, 0, 0], restored.stderr
    assert "1 file among it" in written.stdout
    assert f"fanlight desk --data {again}" in restored.stdout
    assert "1 file: everything is as it was written" in verified.stdout
    assert original(again).read_bytes() == b"as it came"
    with open_store(again) as store:
        export_store(store, tmp_path / "second.zip")
    assert (tmp_path / "second.zip").read_bytes() == out.read_bytes()


def test_without_a_folder_the_usual_one_is_meant(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where `fanlight desk` keeps all: a new machine needs one command."""
    said("export", tmp_path / "backup.zip", "--data", folder)
    monkeypatch.setenv("FANLIGHT_DATA", str(tmp_path / "new"))

    assert said("verify").exit_code == 5
    assert said("restore", tmp_path / "backup.zip").exit_code == 0
    assert said("verify").exit_code == 0
    with open_store() as store, store.database.read() as connection:
        study = connection.exec_driver_sql("SELECT id FROM studies").scalar()
        assert isinstance(study, str)
        assert [item.name for item in files_of(store, study)] == ["a.dcm"]


def test_nothing_is_written_over(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "backup.zip").write_text("mine")
    over = said("export", tmp_path / "backup.zip", "--data", folder)
    said("export", tmp_path / "good.zip", "--data", folder)
    into = said("restore", tmp_path / "good.zip", "--data", folder)

    assert (over.exit_code, into.exit_code) == (5, 5)
    assert "there is a file of this name" in over.stderr
    assert (tmp_path / "backup.zip").read_text() == "mine"
    assert "the folder is not empty" in into.stderr
    assert original(folder).read_bytes() == b"as it came"


@pytest.mark.parametrize("words", [("verify",), ("export", "out.zip")])
def test_a_folder_that_is_no_store_is_named_and_none_is_made(tmp_path: Path, words: tuple[str, ...]) -> None:
    nowhere = tmp_path / "typed wrongly"
    answer = said(*words, "--data", nowhere)

    assert answer.exit_code == 5
    assert f"{nowhere}: the desk keeps nothing there" in answer.stderr
    assert not nowhere.exists()


def test_damage_is_named_with_the_way_back(folder: Path, tmp_path: Path) -> None:
    """A changed file by name; neither is it exported as if it were whole."""
    path = original(folder)
    path.chmod(0o600)
    path.write_bytes(b"as it came?")
    verified = said("verify", "--data", folder)
    written = said("export", tmp_path / "backup.zip", "--data", folder)

    assert (verified.exit_code, written.exit_code) == (3, 5)
    assert "a.dcm of study" in verified.stderr
    assert "its bytes have changed" in verified.stderr
    assert "fanlight store restore EXPORT --data FOLDER" in verified.stderr
    assert not (tmp_path / "backup.zip").exists()


@pytest.mark.parametrize("command", ["verify", "export"])
def test_a_broken_database_names_the_command_that_brings_it_back(folder: Path, tmp_path: Path, command: str) -> None:
    for path in folder.glob("fanlight.sqlite*"):
        path.unlink()
    (folder / "fanlight.sqlite").write_bytes(b"no database at all" * 500)
    answer = said(command, *([tmp_path / "out.zip"] if command == "export" else []), "--data", folder)

    assert answer.exit_code == 5
    assert "the file is no database" in answer.stderr
    assert "fanlight store restore EXPORT --data FOLDER" in answer.stderr


def test_what_is_no_export_is_refused(tmp_path: Path) -> None:
    (tmp_path / "x.zip").write_bytes(b"PK nothing")
    answer = said("restore", tmp_path / "x.zip", "--data", tmp_path / "new")

    assert answer.exit_code == 5
    assert "no zip that can be read" in answer.stderr
    assert not (tmp_path / "new").exists()
