"""Make .venv from the hashed locks, then run a command in it.

    python3 scripts/bootstrap.py run|test|docs ... [--system-packages] [-- ARGUMENTS FOR THE .venv's PYTHON]

Needs the standard library only, and is written for Python 3.8 and later, so that an interpreter that is too old for
Fanlight can still read this file and say what to do about it.

One after the other, and nothing twice: the build backend from its own lock, each asked set from its lock, then this
project in place. Every package is compared with the hash in the lock; no package is built with a tool that no lock
names.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Callable

ROOT = Path(__file__).resolve().parent.parent
OLDEST_PYTHON = (3, 11)
LOCKS = ("run", "test", "docs")
SYSTEM_PACKAGES = "scripts/system-packages.txt"


class SetUpError(Exception):
    """The set-up cannot go on; the message says what was expected, what was found and what mends it."""


# --- what kind of machine this is


def read_os_release(path: str = "/etc/os-release") -> dict[str, str]:
    """Return the fields of os-release(5), an empty dict where there is no such file."""
    fields: dict[str, str] = {}
    try:
        lines = Path(path).read_text(encoding="utf-8").splitlines()
    except OSError:
        return fields
    for line in lines:
        name, equals, value = line.partition("=")
        if equals:
            fields[name.strip()] = value.strip().strip("\"'")
    return fields


def is_debian(os_release: dict[str, str]) -> bool:
    """Return whether packages are Debian's (Debian itself, and what is built on it)."""
    return "debian" in [os_release.get("ID", ""), *os_release.get("ID_LIKE", "").split()]


def is_root() -> bool:
    """Return whether this process may install system packages."""
    return hasattr(os, "geteuid") and os.geteuid() == 0


def apt_install(packages: list[str], root: bool) -> str:
    """Return the one command that installs Debian packages, for a person to copy."""
    command = f"apt-get update && apt-get install -y {' '.join(packages)}"
    # A small Debian has no sudo, so su: it asks for root's password.
    return command if root else f"su -c '{command}'"


# --- is this Python good enough?


def newer_python_command(platform: str, os_release: dict[str, str], root: bool) -> str:
    """Return the one command that brings a Python new enough for Fanlight."""
    if platform == "win32":
        return "winget install Python.Python.3.12"
    if platform == "darwin":
        return "brew install python@3.12"
    if is_debian(os_release):
        # Debian 12 is the first whose python3 is 3.11; Ubuntu 22.04 has it under its own name, Ubuntu 24.04 has 3.12.
        release = os_release.get("VERSION_ID", "").split(".")[0]
        ubuntu = os_release.get("ID") == "ubuntu"
        if ubuntu and release == "22":
            return apt_install(["python3.11", "python3.11-venv"], root)
        if release.isdigit() and int(release) >= (24 if ubuntu else 12):
            return apt_install(["python3", "python3-venv"], root)
    if os_release.get("ID") == "fedora" or "rhel" in os_release.get("ID_LIKE", "").split():
        return ("" if root else "sudo ") + "dnf install -y python3.12"
    # This distribution has no package new enough: bring an interpreter of one's own.
    return "python3 -m pip install --user uv && python3 -m uv python install 3.12"


def check_python(
    version: tuple[int, ...],
    can_make_venv: bool,
    platform: str,
    os_release: dict[str, str],
    root: bool,
    executable: str = "",
) -> None:
    """Raise SetUpError when this interpreter cannot make the environment.

    Takes what it judges as arguments, so that the tests can be a machine other than their own.
    """
    if tuple(version[:2]) < OLDEST_PYTHON:
        raise SetUpError(
            f"Fanlight needs Python {OLDEST_PYTHON[0]}.{OLDEST_PYTHON[1]} or newer; this is Python "
            f"{version[0]}.{version[1]} ({executable or 'python3'}). Run:\n"
            f"    {newer_python_command(platform, os_release, root)}"
        )
    if not can_make_venv:
        if is_debian(os_release):
            name = f"python{version[0]}.{version[1]}-venv"
            # The plain name follows the distribution's own python3; an interpreter beside it has its own package.
            package = "python3-venv" if executable in ("/usr/bin/python3", "/bin/python3", "") else name
            remedy = apt_install([package], root)
        else:
            remedy = newer_python_command(platform, os_release, root)
        raise SetUpError(
            "Fanlight sets itself up in .venv, for which Python needs its modules venv and ensurepip; this Python "
            f"({executable or 'python3'}) came without them. Run:\n    {remedy}"
        )


def has_ensurepip() -> bool:
    """Return whether this interpreter can make an environment that holds pip."""
    try:
        import ensurepip  # noqa: F401 - Debian ships it apart from Python
        import venv  # noqa: F401 - Debian ships it apart from Python
    except ImportError:
        return False
    return True


# --- system packages


def read_system_packages(text: str) -> list[tuple[str, str, str]]:
    """Return (Debian package, command that it brings, what it is for) for each line of system-packages.txt."""
    rows = []
    for line in text.splitlines():
        content, _, reason = line.partition("#")
        fields = content.split()
        if fields:
            package, command = fields
            rows.append((package, command, reason.strip()))
    return rows


def missing_system_packages(
    rows: list[tuple[str, str, str]], which: Callable[[str], str | None] = shutil.which
) -> list[tuple[str, str, str]]:
    """Return the rows whose command is not on the path."""
    return [row for row in rows if which(row[1]) is None]


def install_system_packages(
    missing: list[tuple[str, str, str]],
    os_release: dict[str, str],
    root: bool,
    run: Callable[..., object] = subprocess.check_call,
) -> None:
    """Install what the tests need outside Python, where this process may; else raise SetUpError naming each."""
    if not missing:
        return
    packages = [package for package, _, _ in missing]
    if is_debian(os_release) and root:
        environment = dict(os.environ, DEBIAN_FRONTEND="noninteractive")
        say("installing Debian packages: " + " ".join(packages))
        run(["apt-get", "update", "-q"], env=environment)
        run(["apt-get", "install", "-q", "-y", "--no-install-recommends", *packages], env=environment)
        return
    lines = [f"The tests need {package} (the command {command!r}): {reason}." for package, command, reason in missing]
    if is_debian(os_release):
        lines.append("Run:\n    " + apt_install(packages, root))
    else:
        lines.append("Install the packages that hold these commands, then run this again.")
    raise SetUpError("\n".join(lines))


# --- the environment


def venv_python(venv: Path) -> Path:
    """Return the path of the environment's interpreter."""
    return venv / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def stamp_of(root: Path, name: str) -> str:
    """Return the hash that changes when the set must be installed again: locks, project data, interpreter, place."""
    digest = hashlib.sha256()
    parts = ["requirements/build.txt", f"requirements/{name}.txt", "pyproject.toml", "src/fanlight/__init__.py"]
    for part in parts:
        digest.update((root / part).read_bytes())
        digest.update(b"\0")
    digest.update(f"{sys.version}\0{root}".encode())
    return digest.hexdigest()


def stamp_path(root: Path, name: str) -> Path:
    """Return where .venv keeps what it was made from."""
    return root / ".venv" / f"fanlight-{name}.stamp"


def is_current(root: Path, name: str) -> bool:
    """Return whether .venv holds this set as the locks say."""
    try:
        return stamp_path(root, name).read_text(encoding="utf-8") == stamp_of(root, name)
    except OSError:
        return False


def make_venv(venv: Path) -> None:
    """Make the environment, or keep the one that is there when it is whole and has this interpreter's version."""
    python = venv_python(venv)
    wanted = f"{sys.version_info[0]}.{sys.version_info[1]}"
    if python.exists():
        probe = "import sys, pip; print('%d.%d' % sys.version_info[:2])"
        found = subprocess.run([str(python), "-c", probe], capture_output=True, check=False)
        if found.returncode == 0 and found.stdout.decode().strip() == wanted:
            return
        say("the .venv that is here is broken or of another Python: making it anew")
    if venv.exists():
        shutil.rmtree(str(venv))
    say(f"making .venv with Python {wanted}")
    subprocess.check_call([sys.executable, "-m", "venv", str(venv)])


def pip(root: Path, *arguments: str) -> None:
    """Run the environment's pip quietly; its errors reach the user as they are."""
    # A user's own settings for where packages come from stay in force; a setting that installs outside .venv does not.
    environment = dict(os.environ, PIP_USER="0", PIP_DISABLE_PIP_VERSION_CHECK="1", PIP_NO_INPUT="1")
    command = [str(venv_python(root / ".venv")), "-m", "pip", "install", "-qq", *arguments]
    if subprocess.call(command, cwd=str(root), env=environment) != 0:
        raise SetUpError(
            "pip could not install what the lock asks for (its message is above).\n"
            "- A hash that does not match: the package was changed on its way here. Do not go on.\n"
            "- 'No matching distribution': there is no ready-made package for this Python or processor. The locks\n"
            "  cover Python 3.11 to 3.13 on Linux (x86_64, aarch64; glibc 2.28), macOS 14 and Windows (x86_64).\n"
            "- A network error: run this again; what was installed is kept."
        )


def install(root: Path, names: list[str]) -> None:
    """Bring .venv to what the named locks say; does nothing when it is there already."""
    wanted = [name for name in names if not is_current(root, name)]
    # The test and docs locks hold everything that the run lock holds, with the same versions.
    if "run" in wanted and any(is_current(root, other) for other in ("test", "docs")):
        wanted.remove("run")
    if not wanted:
        return
    make_venv(root / ".venv")
    # First the build backend, ready-made, so that no build step below fetches a backend of its own without a hash.
    pip(root, "--require-hashes", "--only-binary", ":all:", "-r", "requirements/build.txt")
    for name in wanted:
        say(f"installing requirements/{name}.txt")
        pip(root, "--require-hashes", "--no-build-isolation", "-r", f"requirements/{name}.txt")
    pip(root, "--no-deps", "--no-build-isolation", "-e", ".")
    for name in wanted:
        stamp_path(root, name).write_text(stamp_of(root, name), encoding="utf-8")


def say(text: str) -> None:
    """Tell the user what goes on, on stderr: stdout belongs to the command that is run."""
    print("bootstrap: " + text, file=sys.stderr, flush=True)


def run_to_its_end(command: list[str]) -> int:
    """Run a command and return its exit code. Ctrl-C reaches the command too: it ends by itself, and in order."""
    process = subprocess.Popen(command)
    while True:
        try:
            return process.wait()
        except KeyboardInterrupt:
            continue


def main(arguments: list[str]) -> int:
    """Set up, then run what stands after `--`; return the exit code."""
    own: list[str] = arguments
    then: list[str] = []
    if "--" in arguments:
        cut = arguments.index("--")
        own, then = arguments[:cut], arguments[cut + 1 :]
    names = [word for word in own if not word.startswith("-")]
    options = [word for word in own if word.startswith("-")]
    if not names or set(names) - set(LOCKS) or set(options) - {"--system-packages"}:
        print(__doc__, file=sys.stderr)
        return 2
    os_release = read_os_release()
    try:
        check_python(sys.version_info[:3], has_ensurepip(), sys.platform, os_release, is_root(), sys.executable)
        if "--system-packages" in options:
            rows = read_system_packages((ROOT / SYSTEM_PACKAGES).read_text(encoding="utf-8"))
            install_system_packages(missing_system_packages(rows), os_release, is_root())
        install(ROOT, names)
    except SetUpError as error:
        print(error, file=sys.stderr)
        return 1
    except subprocess.CalledProcessError as error:
        print(f"this step of the set-up failed: {' '.join(map(str, error.cmd))}", file=sys.stderr)
        return 1
    return run_to_its_end([str(venv_python(ROOT / ".venv")), *then]) if then else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
