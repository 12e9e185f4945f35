"""Carry measured tables over a change of code that leaves everything it gives as it was, bit for bit.

    python -m scripts.carry_over COMMIT     COMMIT: the tables were of its code

To draw animals for hours again proves nothing where the code only became faster or tidier. So probes are run with the
code of COMMIT, in a tree of its own, and with today's: `measure/_same_heart.py` asks what the heart in its chest, the
animal before a probe and its spectra give, `measure/_same_review.py` what a review finds in clips,
`measure/_same_causes.py` which causes findings have, and `measure/_same_strips.py` what M-mode strips show. Each
answers for its rooms of the code, and is run where one of them changed. Only if every hash is equal, the tables that
are stale now, were not so at COMMIT and tell of no changed code outside these rooms are held to today's code. Each says
so to its reader, and keeps the day and the commit at which it was measured. Tables that tell of anything else that
changed must be measured again; they are named.

    python -m scripts.carry_over COMMIT --aside FILE WHY

A file that changed on purpose, of which some tables tell and whose change their figures cannot show, is set aside: the
probes are run with it as it was, and each table that tells of it says WHY, and that nobody measured it.
"""

from __future__ import annotations

import argparse
import datetime
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from scripts.fingerprint import fingerprint
from scripts.measured import ROOT, Header, commit_now, contents_hash, files_of, read_headers
from scripts.probes import EVERY_ROOM, PROBES, TIMED, Probe, is_asked, lies_in_room


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """What was found equal."""

    commit: str  # of the code before
    now: str
    date: str
    n_things: int
    probe: Probe
    rooms: tuple[str, ...]  # of the probe, whose code changed in between

    def words(self, describes: Sequence[str]) -> str:
        """Return the sentence for the reader of a table that tells of these files; "" where it tells of no change."""
        names = [self.probe.rooms[room] for room in self.rooms if _tells_of(describes, room)]
        if not names:
            return ""
        places = " and of ".join(names)
        return (
            f"*Carried over on {self.date} to commit {self.now}: since {self.commit} the code of {places} changed, "
            f"and {self.n_things} things {self.probe.things} came out equal bit for bit (`{self.probe.script}`). "
            "Where it tells times, they are those of the former code.*"
        )


def _tells_of(describes: Sequence[str], room: str) -> bool:
    """Return whether a table tells of a room; it may name a whole folder that the room lies in, or is."""
    return any(name.startswith(room) or room.startswith(f"{name.rstrip('/')}/") for name in describes)


@contextmanager
def tree_at(commit: str) -> Iterator[Path]:
    """Yield a folder that holds the project as it was at a commit."""
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "tree"
        _git("worktree", "add", "--detach", str(folder), commit)
        try:
            yield folder
        finally:
            _git("worktree", "remove", "--force", str(folder))


def _git(*words: str) -> str:
    return subprocess.run(["git", *words], cwd=ROOT, check=True, capture_output=True, text=True).stdout.strip()


def hashes_of(tree: Path, probe: Probe, folder: Path) -> dict[str, str]:
    """Return what today's probe finds in the code of a tree; the folder holds what it makes for itself."""
    paths = os.pathsep.join([str(tree / "src"), str(tree)])
    run = subprocess.run(
        [sys.executable, str(ROOT / probe.script), str(folder)], cwd=tree, check=True, stdout=subprocess.PIPE,
        text=True, env={**os.environ, "PYTHONPATH": paths},
    )  # fmt: skip
    found: dict[str, str] = json.loads(run.stdout)
    return found


def unequal(before: dict[str, str], now: dict[str, str]) -> list[str]:
    """Return the names of what differs or is in one of both only."""
    return sorted(name for name in before.keys() | now.keys() if before.get(name) != now.get(name))


def described_now(header: Header, before: Path, now: Path = ROOT) -> tuple[str, ...]:
    """Return what a table tells of today: files of a room that are gone are left out, new ones of its rooms count."""
    there = [name for name in header.describes if (now / name).exists() or not lies_in_room(name)]
    rooms = {room for room in EVERY_ROOM if any(name.startswith(room) for name in header.describes)}
    new = [
        name for room in EVERY_ROOM if room in rooms for name in _files_in(room, now)
        if not (before / name).is_file() and name not in there
    ]  # fmt: skip
    return tuple(sorted([*there, *new])) if rooms else tuple(there)


def changed_rooms(probe: Probe, before: Path, now: Path = ROOT) -> tuple[str, ...]:
    """Return the rooms of a probe whose code is no longer what it was."""
    return tuple(room for room in probe.rooms if _prints(room, before) != _prints(room, now))


def _prints(room: str, tree: Path) -> dict[str, str | None]:
    return {name: _print_of(tree / name) for name in _files_in(room, tree) if is_asked(name)}


def _files_in(room: str, tree: Path) -> list[str]:
    place = tree / room
    files = [place] if place.is_file() else place.rglob("*.py")
    return sorted(file.relative_to(tree).as_posix() for file in files)


def other_changes(header: Header, before: Path, now: Path = ROOT) -> list[str]:
    """Return the files a table tells of, and no probe asks, that are no longer what they were."""
    names = {
        file.relative_to(tree).as_posix() for tree in (before, now)
        for name in header.describes if (tree / name).exists() for file in files_of([name], tree)
    }  # fmt: skip
    outside = (name for name in sorted(names) if not is_asked(name))
    return [name for name in outside if _print_of(before / name) != _print_of(now / name)]


def _why_not(header: Header, before: Path, commit: str, proofs: Sequence[Proof], now: Path) -> str:
    """Return why a stale table cannot be carried over; "" where it can."""
    if header.script in TIMED:
        return "it tells how long something takes"
    others = other_changes(header, before, now)
    if others:
        return f"{', '.join(others)} changed too"
    if not _is_fresh(header, before):
        return f"it was stale at {commit} already"
    return "" if any(proof.words(header.describes) for proof in proofs) else "no probe asked what changed"


def _is_fresh(header: Header, root: Path = ROOT) -> bool:
    there = all((root / name).exists() for name in header.describes)
    return there and contents_hash(header.describes, root) == header.contents


def _print_of(path: Path) -> str | None:
    return fingerprint([path]) if path.is_file() else None


_SAID_ABOVE = ("*Measured on ", "*Carried over on ", "*Set aside, not measured: ")


def carried(
    text: str, tables: Mapping[str, Sequence[str]], proofs: Sequence[Proof], root: Path = ROOT,
    aside: Mapping[str, str] = MappingProxyType({}),
) -> str:  # fmt: skip
    """Return a page on which these tables, by name what each tells of, are held to today's code and say why.

    `aside` holds, by file, why a change of it is left out.
    """
    for header in read_headers(text):
        if header.name not in tables:
            continue
        describes = tables[header.name]
        start = text.index(f"<!-- measured: {header.name}\n")
        end = text.index(f"<!-- measured end: {header.name} -->", start)
        block = text[start:end]
        block = block.replace(header.contents, contents_hash(describes, root), 1)
        block = block.replace(f"describes: {' '.join(header.describes)}", f"describes: {' '.join(describes)}", 1)
        sentences = [sentence for proof in proofs if (sentence := proof.words(describes))]
        sentences += [
            f"*Set aside, not measured: `{name}` changed on purpose since then; {why}.*"
            for name, why in aside.items() if _tells_of(describes, name)
        ]  # fmt: skip
        said = [sentence for sentence in sentences if sentence not in block]
        # Behind those of former times: each tells of another change since the day of the table.
        lines = block.splitlines()
        place = max(k for k, line in enumerate(lines) if line.startswith(_SAID_ABOVE))
        block = "\n".join([*lines[: place + 1], *said, *lines[place + 1 :]]) + "\n"
        text = text[:start] + block + text[end:]
    return text


def main(words: list[str]) -> int:
    """Read the command line, prove, and write the pages; 1 where something came out otherwise."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("commit")
    parser.add_argument("--aside", nargs=2, action="append", metavar=("FILE", "WHY"))
    asked = parser.parse_args(words)
    commit = _git("rev-parse", "--short=10", asked.commit)
    aside: dict[str, str] = dict(asked.aside or ())
    with tree_at(asked.commit) as before, _today(before, aside) as now:
        proofs: list[Proof] = []
        for probe in PROBES:
            rooms = changed_rooms(probe, before, now)
            if not rooms:
                continue
            n_things, differ = _asked(probe, before, now)
            if differ:
                print(f"{len(differ)} of {n_things} things came out otherwise, so nothing is carried over:")
                print("\n".join(differ[:20]))
                return 1
            date = datetime.datetime.now(tz=datetime.UTC).date().isoformat()
            proofs.append(
                Proof(commit=commit, now=commit_now(), date=date, n_things=n_things, probe=probe, rooms=rooms)
            )
        for page in sorted((ROOT / "docs").rglob("*.md")):
            if "_build" not in page.parts:
                _carry_page(page, before, commit, proofs, now, aside)
    return 0


@contextmanager
def _today(before: Path, aside: Iterable[str]) -> Iterator[Path]:
    """Yield a folder that holds today's code, but for files that are set aside: these as they were."""
    if not aside:
        yield ROOT
        return
    with tree_at("HEAD") as now:
        for name in aside:
            shutil.copyfile(before / name, now / name)
        yield now


def _asked(probe: Probe, before: Path, now: Path) -> tuple[int, list[str]]:
    """Return how many things a probe asks, and which of them come out otherwise today."""
    with tempfile.TemporaryDirectory() as made:
        now_hashes = hashes_of(now, probe, Path(made))  # first: what is made for both is made by today's code
        return len(now_hashes), unequal(hashes_of(before, probe, Path(made)), now_hashes)


def _carry_page(
    page: Path, before: Path, commit: str, proofs: Sequence[Proof], now: Path, aside: Mapping[str, str]
) -> None:  # fmt: skip
    text = page.read_text(encoding="utf-8")
    tables: dict[str, tuple[str, ...]] = {}
    for header in read_headers(text):
        if _is_fresh(header):
            continue
        where = f"{page.name}: {header.name}"
        why = _why_not(header, before, commit, proofs, now)
        if why:
            print(f"{where} must be measured again: {why}")
            continue
        tables[header.name] = described_now(header, before)
        print(f"{where} is carried over")
    if tables:
        page.write_text(carried(text, tables, proofs, aside=aside), encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
