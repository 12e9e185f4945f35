"""A clone works wherever it lies: nothing points outside it; the scripts come in pairs; the licence is there."""

import hashlib
import os
import tomllib
from pathlib import Path

import pytest

from scripts import changelog, tree

ROOT = Path(__file__).resolve().parents[2]
SCRIPTS = ("demo", "test", "check", "measure", "fuzz", "lock")


def test_nothing_points_outside_the_tree() -> None:
    assert tree.problems() == []


@pytest.mark.parametrize(
    ("name", "text", "problem"),
    [
        ("a.py", 'PATH = "' + "/home" + '/someone/x"\n', "names a folder of one machine"),
        ("a.toml", 'path = "C:' + "\\Users" + '\\someone"\n', "names a folder of one machine"),
        ("pip.txt", "--find" + "-links wheels\n", "says where packages come from"),
        ("docs/a.md", "[away](" + "../../away.md)\n", "links out of the tree"),
        ("docs/a.md", "[gone](gone.md)\n", "links to a file that is not there"),
    ],
)
def test_what_points_outside_is_caught(tmp_path: Path, name: str, text: str, problem: str) -> None:
    (tmp_path / name).parent.mkdir(exist_ok=True)
    (tmp_path / name).write_text(text, encoding="utf-8")

    (found,) = tree.problems(tmp_path)

    assert found.startswith(f"{name}:1: {problem}")


def test_a_link_out_of_the_tree_is_caught(tmp_path: Path) -> None:
    inside = tmp_path / "inside"
    inside.mkdir()
    (inside / "link").symlink_to(tmp_path)

    assert tree.problems(inside) == [f"link: a link that leaves the tree, to {tmp_path}"]


@pytest.mark.parametrize("name", SCRIPTS)
def test_each_script_has_a_twin_for_windows(name: str) -> None:
    """Both run the same Python file with the same sets; the twin says that nobody has tried it."""
    script, twin = ROOT / "scripts" / name, ROOT / "scripts" / f"{name}.cmd"
    last_line = script.read_text(encoding="utf-8").splitlines()[-1]
    arguments = last_line.removeprefix('exec "$PYTHON" ').removesuffix(' "$@"')

    assert arguments in twin.read_text(encoding="utf-8").replace("\\", "/")
    assert "Not tried on Windows" in twin.read_text(encoding="utf-8")
    assert twin.read_bytes().count(b"\r\n") == twin.read_bytes().count(b"\n")
    assert os.name == "nt" or os.access(script, os.X_OK)


@pytest.mark.parametrize("name", SCRIPTS)
def test_what_a_script_runs_is_there(name: str) -> None:
    words = (ROOT / "scripts" / name).read_text(encoding="utf-8").splitlines()[-1].split()
    files = [word for word in words if word.endswith(".py")]

    assert files
    assert [file for file in files if not (ROOT / file).is_file()] == []


def test_the_readme_shows_the_two_commands() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")

    assert "\nscripts/demo\n" in readme
    assert "\nscripts/test\n" in readme


def test_the_licence_is_the_whole_apache_licence() -> None:
    """SHA-256 of the text as Debian's base-files ships it in its folder of common licences."""
    digest = hashlib.sha256((ROOT / "LICENSE").read_bytes()).hexdigest()

    assert digest == "cfc7749b96f63bd31c3c42b5c471bf756814053e847c10f3eb003417bc523d30"


def test_the_package_says_its_licence() -> None:
    """As an SPDX expression, PEP 639."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]

    assert project["license"] == "Apache-2.0"
    assert project["license-files"] == ["LICENSE"]


def test_the_changelog_fragments_are_in_order() -> None:
    assert changelog.problems() == []


@pytest.mark.parametrize(
    ("name", "text", "problem"),
    [
        ("notes.md", "Something.", "the name must be"),
        ("2-intake.feature.md", "Something.", "the name must be"),
        ("2-intake.added.md", "reads zips", "must be whole sentences"),
        ("2-intake.added.md", "Words. " * 100, "700 characters|699 characters"),
    ],
)
def test_a_bad_fragment_is_caught(tmp_path: Path, name: str, text: str, problem: str) -> None:
    (tmp_path / name).write_text(text, encoding="utf-8")

    (found,) = changelog.problems(tmp_path)

    assert any(words in found for words in problem.split("|"))
