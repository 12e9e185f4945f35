"""Make requirements/*.txt anew from pyproject.toml, and check that the locks can be installed where we say they can.

    python scripts/lock.py            keeps the versions that are locked, adds and drops what pyproject.toml says
    python scripts/lock.py --upgrade  takes the newest versions that pyproject.toml allows
    python scripts/lock.py --check    only reads the locks: each line a pin with its hashes, no host named

Needs the command `uv` (pip install uv). Each lock is resolved once for all systems, with the hash of every file of a
version. The later locks are held to the versions of the earlier ones, so that all of them fit into one .venv.
"""

import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent

# Of these the registry has a source archive only; all else must come ready-made, so that nobody needs a compiler.
SOURCE_ONLY = {"test": ("deid-data",)}

# name of the lock -> what goes into it, the locks whose versions hold
SETS: dict[str, tuple[list[str], list[str]]] = {
    "build": (["--group", "pyproject.toml:build"], []),
    "run": (["pyproject.toml"], ["build"]),
    "test": (["pyproject.toml", "--extra", "jpeg-lossless", "--group", "test"], ["build", "run"]),
    "docs": (["pyproject.toml", "--group", "docs"], ["build", "run", "test"]),
}

# glibc 2.28 is in Debian 10 and later; macOS 14 is the oldest for which the video and image libraries come ready-made.
MACOS = "14.0"
PLATFORMS = (
    "x86_64-manylinux_2_28",
    "aarch64-manylinux_2_28",
    "aarch64-apple-darwin",
    "x86_64-apple-darwin",
    "x86_64-pc-windows-msvc",
)
PYTHONS = ("3.11", "3.12", "3.13")

PINNED = re.compile(r"^(?P<name>[A-Za-z0-9][A-Za-z0-9._-]*)==(?P<version>[^ ;\\]+)(?: *; *(?P<marker>[^\\]+?))? *\\?$")
HASH = re.compile(r"^ +--hash=sha256:[0-9a-f]{64}(?: \\)?$")
OPTION = re.compile(r"^--(?:only-binary :all:|no-binary [a-z0-9-]+)$")


def header(name: str) -> str:
    """Return the first lines of a lock: what it is, and that only the named packages may be built from source."""
    lines = [f"# The {name} lock, made by scripts/lock from pyproject.toml. Do not edit.", "--only-binary :all:"]
    # pip forgets earlier exceptions when it reads ':all:', so the exceptions stand below it.
    lines += [f"--no-binary {package}" for package in SOURCE_ONLY.get(name, ())]
    return "\n".join(lines) + "\n\n"


def problems_in_lock(text: str) -> list[str]:
    """Return what a lock may not hold: a line that is no pin, hash, comment or build option; a pin without a hash."""
    problems: list[str] = []
    unhashed = ""
    for number, line in enumerate(text.splitlines(), start=1):
        if HASH.match(line):
            unhashed = ""
            continue
        if not line.strip() or line.lstrip().startswith("#"):
            if "://" in line:
                problems.append(f"line {number} names a host: {line.strip()}")
            continue
        if unhashed:
            problems.append(f"{unhashed} has no hash")
            unhashed = ""
        if PINNED.match(line):
            unhashed = line.split(" ")[0]
        elif not OPTION.match(line):
            problems.append(f"line {number} is no pin, hash, comment or build option: {line.strip()}")
    if unhashed:
        problems.append(f"{unhashed} has no hash")
    return problems


def uv(*arguments: str) -> subprocess.CompletedProcess[str]:
    """Run uv without the settings that this machine may have for where packages come from."""
    program = shutil.which("uv")
    if program is None:
        raise SystemExit(
            "scripts/lock needs the command uv, which is not on the path. Run:\n    python3 -m pip install uv"
        )
    environment = {
        key: value
        for key, value in os.environ.items()
        if not key.startswith(("UV_INDEX", "UV_FIND_LINKS", "UV_DEFAULT_INDEX", "PIP_"))
    }
    environment["MACOSX_DEPLOYMENT_TARGET"] = MACOS
    return subprocess.run(
        [program, "--no-config", *arguments], cwd=ROOT, env=environment, capture_output=True, text=True, check=False
    )


def compile_lock(name: str, *, upgrade: bool) -> None:
    """Write one lock."""
    inputs, held_to = SETS[name]
    lock = ROOT / "requirements" / f"{name}.txt"
    source_only = [argument for package in SOURCE_ONLY.get(name, ()) for argument in ("--no-binary", package)]
    result = uv(
        "pip", "compile", *inputs, "--universal", "--python-version", PYTHONS[0], "--generate-hashes", "--no-header",
        "--no-emit-index-url", "--no-emit-find-links", "--only-binary", ":all:", *source_only,
        *[argument for other in held_to for argument in ("--constraints", f"requirements/{other}.txt")],
        *(["--upgrade"] if upgrade else []), "--quiet", "--output-file", str(lock),
    )  # fmt: skip
    if result.returncode != 0:
        raise SystemExit(f"requirements/{name}.txt could not be made:\n{result.stderr}")
    body = lock.read_text(encoding="utf-8")
    body = body[re.search(r"^[A-Za-z0-9]", body, re.MULTILINE).start() :]  # type: ignore[union-attr]
    lock.write_text(header(name) + body, encoding="utf-8")


def missing_on(name: str, platform: str, python: str) -> str:
    """Return why a pin of this lock has no file that fits this system; an empty text if each has one."""
    text = (ROOT / "requirements" / f"{name}.txt").read_text(encoding="utf-8")
    pins = [line.rstrip("\\ ") for line in text.splitlines() if PINNED.match(line)]
    with tempfile.NamedTemporaryFile("w", suffix=".in", encoding="utf-8") as file:
        file.write("\n".join(pins))
        file.flush()
        source_only = [argument for package in SOURCE_ONLY.get(name, ()) for argument in ("--no-binary", package)]
        result = uv(
            "pip", "compile", file.name, "--no-deps", "--python-platform", platform, "--python-version", python,
            "--only-binary", ":all:", *source_only, "--quiet",
        )  # fmt: skip
    return "" if result.returncode == 0 else result.stderr.strip()


def main(arguments: list[str]) -> int:
    """Make the locks, then check them; return the exit code."""
    reading_only = "--check" in arguments
    if not reading_only:
        for name in SETS:
            compile_lock(name, upgrade="--upgrade" in arguments)
    failed = False
    for name in SETS:
        text = (ROOT / "requirements" / f"{name}.txt").read_text(encoding="utf-8")
        for problem in problems_in_lock(text):
            failed = True
            print(f"requirements/{name}.txt: {problem}")
        if reading_only:
            continue
        systems = [(platform, python) for platform in PLATFORMS for python in PYTHONS]
        gaps = [(*system, gap) for system in systems if (gap := missing_on(name, *system))]
        for platform, python, gap in gaps:
            failed = True
            print(f"requirements/{name}.txt: not installable on {platform}, Python {python}:\n{gap}")
        pins = len([line for line in text.splitlines() if PINNED.match(line)])
        print(f"requirements/{name}.txt: {pins} pins, files for {len(systems) - len(gaps)} of {len(systems)} systems")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
