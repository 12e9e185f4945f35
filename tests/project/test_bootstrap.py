"""scripts/bootstrap.py says what is missing, with one command that mends it."""

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest

from scripts import bootstrap

ROOT = Path(__file__).resolve().parents[2]

# Fields of os-release(5) as these systems ship them; from memory, except Debian 12, which was read off a machine.
DEBIAN_12 = {"ID": "debian", "VERSION_ID": "12"}
DEBIAN_11 = {"ID": "debian", "VERSION_ID": "11"}
UBUNTU_22 = {"ID": "ubuntu", "ID_LIKE": "debian", "VERSION_ID": "22.04"}
FEDORA = {"ID": "fedora", "VERSION_ID": "42"}


def refusal(**changes: object) -> str:
    """Return the message for a machine that differs from a good one by `changes`."""
    machine: dict[str, object] = {
        "version": (3, 11, 2),
        "can_make_venv": True,
        "platform": "linux",
        "os_release": DEBIAN_12,
        "root": True,
        "executable": "/usr/bin/python3",
    }
    with pytest.raises(bootstrap.SetUpError) as caught:
        bootstrap.check_python(**(machine | changes))  # type: ignore[arg-type]
    return str(caught.value)


def command_in(message: str) -> str:
    """Return the one indented line of a message."""
    (command,) = [line.strip() for line in message.splitlines() if line.startswith("    ")]
    return command


def test_a_good_python_is_accepted() -> None:
    bootstrap.check_python((3, 11, 0), True, "linux", DEBIAN_12, True)


@pytest.mark.parametrize(
    ("changes", "command"),
    [
        ({"os_release": DEBIAN_12}, "apt-get update && apt-get install -y python3 python3-venv"),
        ({"os_release": UBUNTU_22}, "apt-get update && apt-get install -y python3.11 python3.11-venv"),
        ({"os_release": DEBIAN_12, "root": False}, "su -c 'apt-get update && apt-get install -y python3 python3-venv'"),
        ({"os_release": DEBIAN_11}, "python3 -m pip install --user uv && python3 -m uv python install 3.12"),
        ({"os_release": FEDORA}, "dnf install -y python3.12"),
        ({"platform": "darwin", "os_release": {}}, "brew install python@3.12"),
        ({"platform": "win32", "os_release": {}}, "winget install Python.Python.3.12"),
    ],
)
def test_an_old_python_is_refused_with_one_command(changes: dict[str, object], command: str) -> None:
    message = refusal(version=(3, 9, 2), **changes)

    assert "needs Python 3.11 or newer; this is Python 3.9 (/usr/bin/python3)" in message
    assert command_in(message) == command


def test_debian_without_ensurepip_is_told_the_package() -> None:
    message = refusal(can_make_venv=False)

    assert "modules venv and ensurepip" in message
    assert command_in(message) == "apt-get update && apt-get install -y python3-venv"


def test_a_second_python_on_debian_is_told_its_own_package() -> None:
    message = refusal(can_make_venv=False, version=(3, 12, 1), executable="/usr/bin/python3.12")

    assert command_in(message) == "apt-get update && apt-get install -y python3.12-venv"


def test_an_old_python_can_read_the_script() -> None:
    """The grammar of Python 3.8 suffices, so that 3.8 to 3.10 reach the message."""
    ast.parse((ROOT / "scripts/bootstrap.py").read_text(encoding="utf-8"), feature_version=(3, 8))


def test_only_the_standard_library_is_needed() -> None:
    tree = ast.parse((ROOT / "scripts/bootstrap.py").read_text(encoding="utf-8"))
    names = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    names |= {str(node.module) for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}

    assert names <= sys.stdlib_module_names


def test_the_shell_scripts_refuse_a_machine_without_python(tmp_path: Path) -> None:
    """With an empty path there is no Python at all: the sh script itself has to say it."""
    if os.name == "nt":
        pytest.skip("the sh scripts are not for Windows")
    (tmp_path / "dirname").symlink_to("/usr/bin/dirname")
    done = subprocess.run(
        ["/bin/sh", str(ROOT / "scripts/test")],
        env={"PATH": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )

    assert done.returncode == 1
    assert command_in(done.stderr) == "apt-get update && apt-get install -y python3 python3-venv"


def test_an_unknown_set_is_a_wrong_use(capsys: pytest.CaptureFixture[str]) -> None:
    assert bootstrap.main(["tests"]) == 2
    assert "run|test|docs" in capsys.readouterr().err


# --- system packages ---

ROWS = [("poppler-utils", "pdftoppm", "turns pages into pictures")]


def test_the_list_of_system_packages_is_read() -> None:
    rows = bootstrap.read_system_packages((ROOT / bootstrap.SYSTEM_PACKAGES).read_text(encoding="utf-8"))

    assert ("poppler-utils", "pdftoppm") in [row[:2] for row in rows]
    assert all(reason for _, _, reason in rows)


def test_what_is_there_is_not_missing() -> None:
    assert bootstrap.missing_system_packages(ROWS, which=lambda _command: "/usr/bin/pdftoppm") == []
    assert bootstrap.missing_system_packages(ROWS, which=lambda _command: None) == ROWS


def test_root_on_debian_installs_after_an_update() -> None:
    commands: list[list[str]] = []
    bootstrap.install_system_packages(ROWS, DEBIAN_12, True, run=lambda command, **_: commands.append(command))

    assert [command[:2] for command in commands] == [["apt-get", "update"], ["apt-get", "install"]]
    assert commands[1][-1] == "poppler-utils"


def test_nothing_is_installed_when_nothing_is_missing() -> None:
    bootstrap.install_system_packages([], DEBIAN_12, True, run=lambda *_a, **_k: pytest.fail("ran a command"))


@pytest.mark.parametrize(("os_release", "root"), [(DEBIAN_12, False), (FEDORA, True), ({}, False)])
def test_elsewhere_each_missing_package_is_named(os_release: dict[str, str], root: bool) -> None:
    with pytest.raises(bootstrap.SetUpError, match=r"poppler-utils \(the command 'pdftoppm'\): turns"):
        bootstrap.install_system_packages(ROWS, os_release, root, run=lambda *_a, **_k: pytest.fail("ran a command"))


# --- when to install again ---


def a_project(root: Path) -> Path:
    """Lay out the files that the stamp is made of."""
    for name in ("requirements/build.txt", "requirements/run.txt", "pyproject.toml", "src/fanlight/__init__.py"):
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_text(name)
    return root


@pytest.mark.parametrize("changed", ["requirements/build.txt", "requirements/run.txt", "pyproject.toml"])
def test_a_changed_lock_is_installed_again(tmp_path: Path, changed: str) -> None:
    root = a_project(tmp_path)
    stamp = bootstrap.stamp_path(root, "run")
    assert not bootstrap.is_current(root, "run")
    stamp.parent.mkdir()
    stamp.write_text(bootstrap.stamp_of(root, "run"))
    assert bootstrap.is_current(root, "run")

    (root / changed).write_text("changed")

    assert not bootstrap.is_current(root, "run")
