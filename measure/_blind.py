"""What every blind reading needs: pictures and key apart, answers held against the key, shares and confusions."""

from __future__ import annotations

import argparse
import csv
import sys
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2

from fanlight.simulate.clip.ring import Ring, SeedError, ring_of
from measure._wilson import wilson

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "simulator.md"
NONE = "none"
READER = (
    "**The reader is a language model's vision, not a clinician**: what it cannot name, a cardiologist may, and the "
    "other way round."
)


def empty_folder(folder: Path, key: Path) -> tuple[Path, Path]:
    """Return folder and key resolved, the folder made.

    Raises
    ------
    SystemExit
        If one of them lies in the repository, the key beside the pictures, or files in the folder.
    """
    folder, key = folder.resolve(), key.resolve()
    for path, what in ((folder, "the pictures"), (key, "the key")):
        if path.is_relative_to(ROOT):
            raise SystemExit(f"{path}: {what} must lie outside the repository {ROOT}; name a folder elsewhere")
    if key.is_relative_to(folder):
        raise SystemExit(f"{key}: the key must not lie beside the pictures; name a file outside {folder}")
    if folder.exists() and any(folder.iterdir()):
        raise SystemExit(f"{folder}: expected an empty folder, found files; name another or empty it")
    folder.mkdir(parents=True, exist_ok=True)
    return folder, key


def write_key(key: Path, fields: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Write the key: a row a picture."""
    key.parent.mkdir(parents=True, exist_ok=True)
    with key.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([fields, *rows])


def read_rows(path: Path, columns: Sequence[str]) -> list[dict[str, str]]:
    """Return the rows of a CSV file that has these columns.

    Raises
    ------
    SystemExit
        If it cannot be read or lacks a column.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            rows = list(csv.DictReader(file))
    except OSError as error:
        raise SystemExit(f"{path}: cannot be read ({error.strerror}); name a CSV file") from None
    missing = [name for name in columns if not rows or rows[0].get(name) is None]
    if missing:
        raise SystemExit(f"{path.name}: expected the columns {', '.join(columns)}, found no {', '.join(missing)}")
    return rows


def read_said(
    answers: Path, numbers: Collection[int], titles: Mapping[str, Mapping[str, str]]
) -> dict[int, tuple[str, ...]]:  # fmt: skip
    """Return what was said of each picture: by its number, keys in the order of `titles`.

    Parameters
    ----------
    answers : Path
        CSV with the column number and those of `titles`.
    numbers : collection of int
        Of the key.
    titles : mapping of str to mapping of str to str
        By column: titles of the answer sheet by key.

    Raises
    ------
    SystemExit
        If a number is missing, comes twice or does not exist, or a word is not on the answer sheet.
    """
    words = {column: _by_word(of_column) for column, of_column in titles.items()}
    said: dict[int, tuple[str, ...]] = {}
    for line, row in enumerate(read_rows(answers, ("number", *titles)), start=2):
        where = f"{answers.name}, line {line}"
        if not row["number"].strip().isdigit() or int(row["number"]) not in numbers:
            raise SystemExit(f"{where}: expected a number of the key, found {row['number']!r}; correct the number")
        number = int(row["number"])
        if number in said:
            raise SystemExit(f"{where}: number {number} comes twice; keep one of the answers")
        said[number] = tuple(_word(row[column], words[column], f"{where}, {column}") for column in titles)
    missing = sorted(set(numbers) - set(said))
    if missing:
        raise SystemExit(f"{answers.name}: no answer for {', '.join(map(str, missing))}; answer every picture")
    return said


def _by_word(titles_by_key: Mapping[str, str]) -> dict[str, str]:
    words = {title.casefold(): key for key, title in titles_by_key.items()}
    return words | {key.casefold(): key for key in titles_by_key} | ({"": NONE} if NONE in titles_by_key else {})


def _word(said: str, words: Mapping[str, str], where: str) -> str:
    try:
        return words[said.strip().casefold()]
    except KeyError:
        raise SystemExit(f"{where}: expected a title of the answer sheet, found {said!r}; copy one from it") from None


def share(right: int, n: int) -> str:
    """Return a share with its 95 % Wilson interval."""
    low, high = wilson(right, n)
    return f"{right} of {n} ({100 * right / n:.0f} %; {100 * low:.0f} to {100 * high:.0f} %)" if n else "none asked"


def confusion(what: str, pairs: Sequence[tuple[str, str]], words: Mapping[str, str]) -> list[str]:
    """Return as Markdown what was shown, by (truth, answer), and what it was taken for."""
    lines = [f"| {what} shown | n | named rightly | taken for |", "|---|---|---|---|"]
    for key in words:
        said = Counter(answer for truth, answer in pairs if truth == key)
        if said:
            others = "; ".join(f"{words[a]} ({n})" for a, n in said.most_common() if a != key)
            lines.append(f"| {words[key]} | {said.total()} | {said[key]} | {others or '–'} |")
    return lines


@dataclass(frozen=True, slots=True, kw_only=True)
class BlindReading:
    """One kind of blind reading, as a command line."""

    doc: str  # of its module: printed where nobody can read
    n_pictures: int
    first_seed: int
    columns: str  # of the answers, in words
    make: Callable[[Path, Path, int, int], None]  # folder, key, seed, processes
    report: Callable[[Path, Path, str], str]  # answers, key, reader: the table as Markdown
    score: Callable[[Path, Path, str], None]  # the same, written into docs/
    processes: int = 0  # usually, where pictures may be made by several at once; 0: one makes them all

    def main(self) -> None:
        """Make a reading or score one."""
        parser = argparse.ArgumentParser(description=self.doc.splitlines()[0])
        commands = parser.add_subparsers(dest="command")
        making = commands.add_parser("make", help="write the pictures, the answer sheet and the key")
        making.add_argument("folder", type=Path, help="empty folder outside the repository")
        making.add_argument("--key", type=Path, required=True, help="file for the key, outside that folder")
        making.add_argument(
            "--seed", type=int, default=self.first_seed, help=f"first of {self.n_pictures} seeds of ring A"
        )
        making.set_defaults(processes=1)
        if self.processes:
            making.add_argument("--processes", type=int, default=self.processes)
        scoring = commands.add_parser("score", help="count the answers and write docs/simulator.md")
        scoring.add_argument("answers", type=Path, help=f"CSV with the columns {self.columns}")
        scoring.add_argument("--key", type=Path, required=True)
        scoring.add_argument("--reader", default="one reader", help="who read, for the table")
        scoring.add_argument("--print", action="store_true", help="print the table and leave docs/ alone")
        chosen = parser.parse_args()
        cv2.setNumThreads(1)
        if chosen.command is None:  # scripts/measure runs every script without arguments; nobody can read for it
            print(f"Nothing was measured: this needs a reader.\n{self.doc}", file=sys.stderr)
        elif chosen.command == "make":
            self._need_seeds(chosen.seed)
            self.make(chosen.folder, chosen.key, chosen.seed, chosen.processes)
        elif chosen.print:
            print(self.report(chosen.answers, chosen.key, chosen.reader))
        else:
            self.score(chosen.answers, chosen.key, chosen.reader)

    def _need_seeds(self, seed: int) -> None:
        try:
            ring_of(seed, Ring.A)
            ring_of(seed + self.n_pictures - 1, Ring.A)
        except SeedError as error:
            raise SystemExit(f"--seed {seed}: {error}; {self.n_pictures} seeds follow each other") from None
