"""scripts/pages.py brings its tools by locks with hashes, and says what is missing and what mends it."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest

from scripts import pages

LOCK = json.loads((pages.FOLDER / "package-lock.json").read_text("utf-8"))


def test_each_package_of_the_lock_has_a_hash_and_no_address() -> None:
    """As in the locks of pip: where packages come from is the machine's own setting."""
    packages = {name: row for name, row in LOCK["packages"].items() if name}

    assert len(packages) >= 4
    assert [name for name, row in packages.items() if not row["integrity"].startswith("sha512-")] == []
    assert [name for name, row in packages.items() if "resolved" in row] == []
    assert "omit-lockfile-registry-resolved=true" in (pages.FOLDER / ".npmrc").read_text("utf-8").splitlines()


def test_the_lock_is_of_the_packages_that_are_asked_for() -> None:
    asked = json.loads((pages.FOLDER / "package.json").read_text("utf-8"))["devDependencies"]

    assert LOCK["packages"][""]["devDependencies"] == asked


def test_missing_node_is_a_failure_with_its_remedy(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(pages, "find_spec", lambda name: None)

    assert pages.main([]) == 1
    assert "python3 scripts/bootstrap.py docs" in capsys.readouterr().err


def test_a_package_without_npm_is_a_failure_with_its_remedy(tmp_path: Path) -> None:
    (tmp_path / "bin").mkdir()
    (tmp_path / "bin" / "node").touch()

    with pytest.raises(pages.SetUpError, match=r"should hold npm-cli\.js"):
        pages.programs(tmp_path, windows=False)


def machine(folder: Path, code: int) -> tuple[Path, Path]:
    """Make a folder with a lock, and a "node" that ends with a code where it is asked to install."""
    for name in ("package.json", "package-lock.json", ".npmrc"):
        (folder / name).write_text("{}")
    (folder / "node_modules").mkdir()
    node = folder / "node"
    node.write_text(f'#!/bin/sh\necho "$@" >> asked\nexit {code}\n')
    node.chmod(0o755)
    return node, folder / "npm-cli.js"


def test_the_tools_are_installed_once_and_again_when_the_lock_changes(tmp_path: Path) -> None:
    node, npm = machine(tmp_path, 0)
    pages.install(tmp_path, node, npm, {})
    pages.install(tmp_path, node, npm, {})
    assert (tmp_path / "asked").read_text().splitlines() == [f"{npm} ci --loglevel=error"]

    (tmp_path / "package-lock.json").write_text("{ }")
    pages.install(tmp_path, node, npm, {})
    assert len((tmp_path / "asked").read_text().splitlines()) == 2


def test_an_installation_that_failed_is_tried_again(tmp_path: Path) -> None:
    node, npm = machine(tmp_path, 1)
    for _ in range(2):
        with pytest.raises(pages.SetUpError, match="NPM_CONFIG_REGISTRY"):
            pages.install(tmp_path, node, npm, {})

    assert len((tmp_path / "asked").read_text().splitlines()) == 2


def test_a_check_that_fails_fails_the_whole(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    node, npm = machine(tmp_path, 0)
    monkeypatch.setattr(pages, "node_home", lambda: tmp_path)
    monkeypatch.setattr(pages, "programs", lambda home: (node, npm))
    codes = iter([0, 3, 0])
    ran: list[str] = []

    def call(command: list[str], **_: object) -> int:
        if "ci" in command:
            return 0
        ran.append(command[1])
        return next(codes)

    monkeypatch.setattr(subprocess, "call", call)

    assert pages.main([], tmp_path) == 1
    assert ran == [arguments[0] for arguments in pages.CHECKS.values()]
