"""The locks hold pins and hashes and nothing else, and agree with each other."""

import re
from pathlib import Path

import pytest

from scripts import lock

ROOT = Path(__file__).resolve().parents[2]
HASH_LINE = f"    --hash=sha256:{'0' * 64}"


def text_of(name: str) -> str:
    """Return one lock as it is stored."""
    return (ROOT / "requirements" / f"{name}.txt").read_text(encoding="utf-8")


def pins(name: str) -> set[str]:
    """Return the pins of a lock, each with its marker."""
    return {line.rstrip(" \\") for line in text_of(name).splitlines() if lock.PINNED.match(line)}


@pytest.mark.parametrize("name", lock.SETS)
def test_a_lock_holds_only_pins_with_hashes(name: str) -> None:
    assert lock.problems_in_lock(text_of(name)) == []
    assert len(pins(name)) >= 8


@pytest.mark.parametrize("name", lock.SETS)
def test_a_lock_names_no_host(name: str) -> None:
    """Apart from the check above: no address in any spelling, comments included."""
    assert not re.search(r"://|www\.|\.(?:org|com|net|io)\b|index-url|find-links", text_of(name))


@pytest.mark.parametrize(
    ("damaged", "problem"),
    [
        ("--extra-index" + "-url https://example.invalid/simple\n", "line 1 is no pin"),
        (f"numpy==2.4.6\nscipy==1.17.1 \\\n{HASH_LINE}\n", "numpy==2.4.6 has no hash"),
        ("numpy==2.4.6 \\\n", "numpy==2.4.6 has no hash"),
        (f"numpy>=2.4 \\\n{HASH_LINE}\n", "line 1 is no pin"),
        (f"six @ https://example.invalid/six.whl \\\n{HASH_LINE}\n", "line 1 is no pin"),
        ("# from https://example.invalid\n", "line 1 names a host"),
    ],
)
def test_a_damaged_lock_is_caught(damaged: str, problem: str) -> None:
    assert any(found.startswith(problem) for found in lock.problems_in_lock(damaged))


@pytest.mark.parametrize("larger", ["test", "docs"])
def test_the_larger_locks_hold_the_run_lock(larger: str) -> None:
    """Then one .venv can hold all of them, and the demo needs no second installation after the tests."""
    assert {re.sub(r" *;.*", "", pin) for pin in pins("run")} <= {re.sub(r" *;.*", "", pin) for pin in pins(larger)}


def test_a_version_differs_between_locks_only_by_system() -> None:
    for one, other in (("test", "docs"), ("build", "test"), ("build", "docs"), ("run", "test")):
        first, second = ({}, {})  # type: dict[str, set[str]], dict[str, set[str]]
        for target, name in ((first, one), (second, other)):
            for pin in pins(name):
                package, _, rest = pin.partition("==")
                target.setdefault(package, set()).add(rest.split(" ")[0])
        both = first.keys() & second.keys()

        assert {package: first[package] for package in both} == {package: second[package] for package in both}


def test_the_build_backend_is_locked() -> None:
    names = {pin.partition("==")[0] for pin in pins("build")}

    assert {"hatchling", "editables", "setuptools"} <= names


def test_exceptions_to_ready_made_packages_stand_below_the_rule() -> None:
    """Pip forgets what stands above ':all:', so the order matters."""
    lines = text_of("test").splitlines()

    assert lines.index("--only-binary :all:") < lines.index("--no-binary deid-data")
