"""A study that lies on this machine: what cannot be taken in is named, and stops nothing else."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from fanlight.desk import Desk, DeskOptions, take_in_place
from fanlight.intake import Limits
from fanlight.store import Store, fates_of, files_of
from fanlight.study import House


@pytest.fixture
def small(store: Store, house: House, monkeypatch: pytest.MonkeyPatch) -> Iterator[Desk]:
    """A desk that takes three files of at most 100 bytes; its engine is not asked."""
    with Desk(store, house, DeskOptions(limits=Limits(file_bytes=100, files=3))) as desk:
        monkeypatch.setattr(desk.engine, "all_sent", lambda _: None)
        yield desk


def test_what_was_left_is_named_with_its_reason(small: Desk, store: Store, tmp_path: Path) -> None:
    """In what the command prints, and at the study."""
    root = tmp_path / "exam"
    (root / "folder").mkdir(parents=True)
    for name in ("a", "d", "folder/e", "f"):
        (root / name).write_bytes(b"x")
    (root / "b").write_bytes(b"x" * 101)
    expected = {"b": "at most 1e-07 GB", "folder/e": "at most 3 files"}
    if sys.platform != "win32":
        (root / "c").symlink_to(root / "a")
        (root / "linked").symlink_to(root / "folder")
        expected |= {"c": "a link, which is not followed", "linked": "a link, which is not followed"}

    taken = take_in_place(small, root)

    said = {item.name: str(item) for item in taken.left}
    assert taken.n_files == 3
    assert set(said) == set(expected)
    assert all(words in said[name] for name, words in expected.items())
    assert [item.name for item in files_of(store, taken.study)] == ["a", "d", "f"]
    fates: dict[str, Any] = {item.name: item.refusals for item in fates_of(store, taken.study)}
    assert {name: refusals[0].remedy for name, refusals in fates.items() if refusals} == {
        item.name: item.remedy for item in taken.left
    }


@pytest.mark.skipif(sys.platform == "win32", reason="links need a right of their own there")
def test_a_link_that_the_user_names_is_followed(small: Desk, store: Store, tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"x")
    (tmp_path / "link").symlink_to(tmp_path / "file")
    taken = take_in_place(small, tmp_path / "link")

    assert (taken.n_files, taken.left) == (1, ())
    assert [item.name for item in files_of(store, taken.study)] == ["file"]


def test_a_file_that_cannot_be_read_stops_no_other(
    small: Desk, store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("a", "b"):
        (tmp_path / "exam").mkdir(exist_ok=True)
        (tmp_path / "exam" / name).write_bytes(b"x")
    opened = Path.open

    def no_right(path: Path, *more: Any, **named: Any) -> Any:
        if path.name == "a":
            raise PermissionError(13, "Permission denied")
        return opened(path, *more, **named)

    monkeypatch.setattr(Path, "open", no_right)
    taken = take_in_place(small, tmp_path / "exam")

    assert [(item.name, item.found) for item in taken.left] == [("a", "Permission denied")]
    assert [item.name for item in files_of(store, taken.study)] == ["b"]
