"""The command line of a measurement that keeps a record of each subject: draw, measure, print or write the tables."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path

from fanlight.simulate.clip.ring import Ring
from measure._described import described
from measure._records import Job, Record, Records, jobs_of, seeds_words
from scripts.measured import write_table

ByRing = Mapping[str, Sequence[Record]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement:
    """What is measured of each subject, and what the page says of it."""

    kind: str  # of the records
    one: Callable[[Job], Record]  # a function of a module, for the processes
    first_seed: Mapping[Ring, int]
    n_subjects: int  # of each ring
    tables: Callable[[ByRing], Mapping[str, str]]  # by name
    page: Path
    measured_by: Sequence[str]  # the script first
    drawn_by: Sequence[str] = ()  # modules whose imports are what was drawn and read by, for the header of the tables
    describes: Callable[[], Sequence[str]] | None = None  # the files of the header, where it is not the rooms of those


def run(measurement: Measurement, doc: str | None) -> None:
    """Read the command line, draw and measure what is not there yet, print or write."""
    given = _parser(measurement, doc).parse_args()
    rings = [Ring(value) for value in given.ring] if given.ring else list(Ring)
    kept = Records(folder=given.records, kind=measurement.kind)
    if not given.tables_only:
        first = measurement.first_seed if given.first_seed is None else dict.fromkeys(rings, given.first_seed)
        kept.draw(measurement.one, jobs_of(rings, first, given.subjects), given.workers)
    records = kept.read(rings)
    tables = measurement.tables(records)
    if given.print_only:
        print("\n\n".join(tables.values()))
        return
    for name in measurement.drawn_by:
        import_module(name)
    describes = measurement.describes() if measurement.describes else described(*measurement.measured_by)
    for name, table in tables.items():
        write_table(
            measurement.page, name, table, script=measurement.measured_by[0], describes=describes,
            seeds=seeds_words(records),
        )  # fmt: skip


def _parser(measurement: Measurement, doc: str | None) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(description=doc, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--records", type=Path, required=True, help="folder in which what was measured is kept")
    parser.add_argument("--ring", action="append", choices=[ring.value for ring in Ring], help="all of them")
    parser.add_argument("--first-seed", type=int, help="of the one ring that is drawn")
    parser.add_argument("--subjects", type=int, default=measurement.n_subjects, help="of each ring")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--print-only", action="store_true", help="write nothing")
    parser.add_argument("--tables-only", action="store_true", help="draw nothing")
    return parser
