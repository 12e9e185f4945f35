"""Measured tables in docs/: who measured what, when, of which code; and whether that code is still the same.

A measured table stands in a Markdown page between two comments. The first is the table's header::

    <!-- measured: decode
    script: measure/performance.py
    commit: 1c6af35
    date: 2026-11-25
    seeds: none
    machine: 2 cores, x86_64
    describes: src/fanlight/intake src/fanlight/frames/polar.py
    contents: sha256:…
    -->
    (a line of the same for the reader, then the table)
    <!-- measured end: decode -->

`contents` is the combined hash of what the files named under `describes` define. When it changes, the table tells of
code that is no longer there: `verify` reports it, and CI fails until the script has measured again.

    python -m scripts.measured     checks all pages of docs/

Needs the standard library only.
"""

from __future__ import annotations

import datetime
import os
import platform
import re
import subprocess
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from scripts.fingerprint import fingerprint

ROOT = Path(__file__).resolve().parent.parent

FIELDS = ("script", "commit", "date", "seeds", "machine", "describes", "contents")
BEGIN = re.compile(r"^<!-- measured: (?P<name>[a-z0-9-]+)\n(?P<header>.*?)\n-->$", re.MULTILINE | re.DOTALL)


class HeaderError(ValueError):
    """A measured table's header cannot be read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """What a measured table says of itself."""

    name: str
    script: str  # path of the script that wrote it
    commit: str  # the code that was measured; "+ changes" when the tree held more than the commit
    date: str  # ISO 8601 day
    seeds: str  # of random numbers, as the script names them; "none"
    machine: str
    describes: tuple[str, ...]  # files and folders, relative to the root
    contents: str  # "sha256:" and the combined hash of what is described


def contents_hash(describes: Sequence[str], root: Path = ROOT) -> str:
    """Return the combined hash of the files named, and of all files below the folders named; see `fingerprint`.

    Raises
    ------
    HeaderError
        If one of the paths is not there, or nothing is named.
    """
    if not describes:
        raise HeaderError("a measured table must name the files it describes")
    return f"sha256:{fingerprint(files_of(describes, root))}"


def files_of(describes: Sequence[str], root: Path = ROOT) -> list[Path]:
    """Return the files named and all files below the folders named; HeaderError where one is not there."""
    return sorted({file for name in describes for file in _files(root / name, name)})


def _files(path: Path, name: str) -> Iterator[Path]:
    if path.is_file():
        yield path
    elif path.is_dir():
        yield from (p for p in path.rglob("*") if p.is_file() and "__pycache__" not in p.parts)
    else:
        raise HeaderError(f"{name} is described by a measured table, but is not there")


def read_headers(text: str) -> list[Header]:
    """Return the headers of all measured tables of a page.

    Raises
    ------
    HeaderError
        If a header lacks a field, or its table has no end.
    """
    headers: list[Header] = []
    for match in BEGIN.finditer(text):
        name = match["name"]
        fields = dict(line.split(": ", 1) for line in match["header"].splitlines() if ": " in line)
        missing = [field for field in FIELDS if field not in fields]
        if missing:
            raise HeaderError(
                f"measured table {name!r} lacks {', '.join(missing)}; run the script that writes it again"
            )
        if f"<!-- measured end: {name} -->" not in text[match.end() :]:
            raise HeaderError(f"measured table {name!r} has no end mark")
        headers.append(
            Header(
                name=name,
                script=fields["script"],
                commit=fields["commit"],
                date=fields["date"],
                seeds=fields["seeds"],
                machine=fields["machine"],
                describes=tuple(fields["describes"].split()),
                contents=fields["contents"],
            )
        )
    if len(headers) != len(re.findall(r"^<!-- measured: ", text, re.MULTILINE)):
        raise HeaderError("a measured table's header does not end in a line '-->'")
    return headers


def verify(root: Path = ROOT) -> list[str]:
    """Return what is stale or broken in the measured tables of docs/, as sentences that name the remedy."""
    found: list[str] = []
    for page in sorted((root / "docs").rglob("*.md")):
        if "_build" in page.parts:
            continue
        where = page.relative_to(root).as_posix()
        try:
            for header in read_headers(page.read_text(encoding="utf-8")):
                if not (root / header.script).is_file():
                    found.append(f"{where}: table {header.name!r} was written by {header.script}, which is not there")
                if contents_hash(header.describes, root) != header.contents:
                    found.append(
                        f"{where}: table {header.name!r} was measured on {header.date} at {header.commit}; the code it "
                        f"describes ({' '.join(header.describes)}) is newer. "
                        f"Run: scripts/measure {Path(header.script).stem}"
                    )
        except HeaderError as error:
            found.append(f"{where}: {error}")
    return found


def write_table(
    page: Path, name: str, table: str, *, script: str, describes: Sequence[str], seeds: str = "none", root: Path = ROOT
) -> None:
    """Put a freshly measured table into a page: in place of the table of that name, else at the end.

    Parameters
    ----------
    page : Path
        Markdown page; made when missing, with the name as its title.
    name : str
        Name of the table within the page: small letters, digits and hyphens.
    table : str
        The table as Markdown.
    script : str
        Path of the calling script, relative to the root.
    describes : sequence of str
        Files and folders, relative to the root, whose behaviour the figures are about. The narrower, the longer
        they hold.
    seeds : str
        The seeds of all random numbers, "none" when there are none.
    """
    if not re.fullmatch(r"[a-z0-9-]+", name):
        raise HeaderError(f"a measured table's name is of small letters, digits and hyphens, got {name!r}")
    header = Header(
        name=name,
        script=script,
        commit=commit_now(root),
        date=datetime.datetime.now(tz=datetime.UTC).date().isoformat(),
        seeds=seeds,
        machine=machine_now(),
        describes=tuple(describes),
        contents=contents_hash(describes, root),
    )
    block = _render(header, table)
    text = page.read_text(encoding="utf-8") if page.exists() else f"# {name.capitalize()}\n"
    start = re.search(rf"^<!-- measured: {name}\n", text, re.MULTILINE)
    end_mark = f"<!-- measured end: {name} -->"
    if start:
        end = text.index(end_mark, start.end()) + len(end_mark)
        text = text[: start.start()] + block + text[end:]
    else:
        text = text.rstrip("\n") + "\n\n" + block + "\n"
    page.write_text(text, encoding="utf-8")


def _render(header: Header, table: str) -> str:
    fields = {field: getattr(header, field) for field in FIELDS} | {"describes": " ".join(header.describes)}
    lines = "\n".join(f"{field}: {fields[field]}" for field in FIELDS)
    seen = (
        f"*Measured on {header.date} at commit {header.commit} by `{header.script}`; {header.machine}; "
        f"seeds: {header.seeds}.*"
    )
    return (
        f"<!-- measured: {header.name}\n{lines}\n-->\n{seen}\n\n{table.strip()}\n<!-- measured end: {header.name} -->"
    )


def commit_now(root: Path = ROOT) -> str:
    """Return the commit that the tree stands at, and whether the tree holds more than it."""
    try:
        commit = _git(root, "rev-parse", "--short=10", "HEAD")
        changed = _git(root, "status", "--porcelain", "--", "src")
    except (OSError, subprocess.CalledProcessError):
        return "unknown (no git here)"
    return f"{commit} + changes" if changed else commit


def _git(root: Path, *arguments: str) -> str:
    return subprocess.run(["git", *arguments], cwd=root, check=True, capture_output=True, text=True).stdout.strip()


def machine_now() -> str:
    """Return what a reader must know of this machine to judge a time, and nothing that names it."""
    said = f"{os.cpu_count()} cores, {platform.machine()}, {platform.system()}, Python {platform.python_version()}"
    # Times that were taken beside other work are longer; the reader has to know.
    return said + (f", load average {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "")


if __name__ == "__main__":
    FOUND = verify()
    print("\n".join(FOUND) or "the measured tables tell of the code that is here")
    sys.exit(1 if FOUND else 0)
