"""What every file of the project must keep to: nothing points outside the tree, nothing names a package host.

    python scripts/tree.py

A clone must work wherever it lies, on any machine, with that machine's own settings for where packages come from.
"""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent

# Made by tools and ignored by git: no part of the project.
MADE = {".git", ".venv", "__pycache__", "_build", "dist", "demo-output", ".hypothesis", "node_modules"}
BINARY = {".dcm", ".png", ".jpg", ".gif", ".zip", ".pdf", ".onnx", ".npz", ".ttf", ".mp4", ".avi", ".mov"}

# A folder of one machine. A path of a standard place (/etc/os-release, /usr/bin/python3, /tmp) may be named.
MACHINE_PATH = re.compile(r"(?<![\w.:/\\])/(?:work|home|root|opt|mnt|srv|media|Users)/[\w.-]+|[A-Za-z]:\\Users\\\w+")
# Where packages come from is the machine's business. Built from parts, so that this line is no finding.
PACKAGE_HOST = re.compile("--(?:extra-)?" + "index-url|--find" + "-links|--trusted" + "-host|file:" + "///")
# A line that must name such a thing says so, with the reason.
EXCUSED = re.compile(r"outside-ok: \w+")
LINK = re.compile(r"\]\((?P<target>[^)#\s]+)[^)]*\)|\bsrc=\"(?P<src>[^\"]+)\"")


def files(root: Path = ROOT) -> Iterator[Path]:
    """Yield every file and link of the project, in order."""
    for folder, names, file_names in os.walk(root):
        names[:] = sorted(n for n in names if n not in MADE and not n.endswith((".egg-info", "_cache")))
        links = [n for n in names if (Path(folder) / n).is_symlink()]
        yield from (Path(folder) / name for name in sorted(file_names + links))


def problems(root: Path = ROOT) -> list[str]:
    """Return each place where a file points outside the tree, as `file:line: what`."""
    found: list[str] = []
    for path in files(root):
        name = path.relative_to(root).as_posix()
        if path.is_symlink():
            if not path.resolve().is_relative_to(root.resolve()):
                found.append(f"{name}: a link that leaves the tree, to {path.readlink()}")
            continue
        if path.suffix.lower() in BINARY:
            continue
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
            if EXCUSED.search(line):
                continue
            found += [f"{name}:{number}: names a folder of one machine, {m[0]}" for m in MACHINE_PATH.finditer(line)]
            found += [f"{name}:{number}: says where packages come from, {m[0]}" for m in PACKAGE_HOST.finditer(line)]
            if path.suffix == ".md":
                found += [f"{name}:{number}: {text}" for text in _broken_links(path, line, root)]
    return found


def _broken_links(path: Path, line: str, root: Path) -> Iterator[str]:
    for match in LINK.finditer(line):
        target = match["target"] or match["src"]
        if re.match(r"[a-z]+:", target):
            continue
        aim = (path.parent / target).resolve()
        if not aim.is_relative_to(root.resolve()):
            yield f"links out of the tree, to {target}"
        elif not aim.exists():
            yield f"links to a file that is not there, {target}"


if __name__ == "__main__":
    FOUND = problems()
    print("\n".join(FOUND) or "nothing points outside the tree")
    sys.exit(1 if FOUND else 0)
