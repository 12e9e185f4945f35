"""Tables of what marks on simulated 2-D clips measure against what calipers read off the same planes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from measure._confidently_wrong import is_confidently_wrong
from measure._wilson import Z_95, wilson

Record = dict[str, Any]
Item = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row of a table: a quantity, whether its error is a share of the truth, and how large it may be."""

    title: str
    key: str  # view and label, as in the records
    tolerance: float
    is_share: bool = True
    unit: str = "%"


# Tolerances: LA:Ao 0.10 and 3 % of a diameter of the left ventricle are targets of the project; all else engineering
# judgement.
ROWS = (
    Row(
        title="LA:Ao, commissure-parallel", key="base LA:Ao, commissure-parallel", tolerance=0.10, is_share=False,
        unit="",
    ),
    Row(title="LA:Ao, single line", key="base LA:Ao, single line", tolerance=0.10, is_share=False, unit=""),
    Row(title="LVIDd, short axis", key="chordae LVIDd", tolerance=0.03),
    Row(title="LVIDs, short axis", key="chordae LVIDs", tolerance=0.03),
    Row(title="IVSd, short axis", key="chordae IVSd", tolerance=0.10),
    Row(title="LVWd, short axis", key="chordae LVWd", tolerance=0.10),
    Row(title="FS, short axis", key="chordae FS", tolerance=5.0, is_share=False, unit=" points"),
    Row(title="LVIDd, four-chamber", key="four LVIDd", tolerance=0.03),
    Row(title="LV length, end-diastole", key="four LVLd", tolerance=0.05),
    Row(title="EDV, discs", key="four EDV, method of discs", tolerance=0.15),
    Row(title="EDV, area-length", key="four EDV, area-length", tolerance=0.15),
    Row(title="ESV, discs", key="four ESV, method of discs", tolerance=0.15),
    Row(title="EF, discs", key="four EF, method of discs", tolerance=10.0, is_share=False, unit=" points"),
    Row(title="LA long axis", key="four LA long axis", tolerance=0.05),
    Row(title="mitral annulus, end-diastole", key="four mitral annulus, end-diastole", tolerance=0.10),
    Row(title="aortic annulus", key="outflow aortic annulus", tolerance=0.10),
    Row(title="LA:Ao long axis", key="outflow LA:Ao long axis", tolerance=0.20, is_share=False, unit=""),
    Row(title="EPSS", key="outflow EPSS", tolerance=1.0, is_share=False, unit=" mm"),
    Row(title="MPA:Ao", key="trunk MPA:Ao", tolerance=0.10, is_share=False, unit=""),
    Row(title="LVIDs, long axis with the outflow tract", key="outflow LVIDs", tolerance=0.03),
    Row(title="LVIDs, four-chamber", key="four LVIDs", tolerance=0.03),
    Row(title="IVSs, short axis", key="chordae IVSs", tolerance=0.10),
    Row(title="LVWs, short axis", key="chordae LVWs", tolerance=0.10),
    Row(title="LV length, end-systole", key="four LVLs", tolerance=0.05),
    Row(title="ESV, area-length", key="four ESV, area-length", tolerance=0.15),
    Row(title="EF, area-length", key="four EF, area-length", tolerance=10.0, is_share=False, unit=" points"),
)  # fmt: skip
FOUND = (
    Row(title="mitral annulus, end-diastole", key="four mitral annulus, end-diastole", tolerance=0.10),
    Row(title="mitral annulus, end-systole", key="four mitral annulus, end-systole", tolerance=0.10),
    Row(title="LV length, end-diastole", key="four LVLd", tolerance=0.05),
    Row(title="LV length, end-systole", key="four LVLs", tolerance=0.05),
    Row(title="aortic annulus", key="outflow aortic annulus", tolerance=0.10),
)
# The same tolerances; of walls those of thin ones, in which a pixel of the network's masks is much.
FROM_MASKS = (
    *(row for row in ROWS if row.key in ("base LA:Ao, commissure-parallel", "base LA:Ao, single line")),
    Row(title="LVIDd", key="chordae LVIDd", tolerance=0.03),
    Row(title="LVIDs", key="chordae LVIDs", tolerance=0.03),
    Row(title="FS", key="chordae FS", tolerance=5.0, is_share=False, unit=" points"),
    Row(title="IVSd", key="chordae IVSd", tolerance=0.10),
    Row(title="IVSs", key="chordae IVSs", tolerance=0.10),
    Row(title="LVWd", key="chordae LVWd", tolerance=0.10),
    Row(title="LVWs", key="chordae LVWs", tolerance=0.10),
    Row(title="LA long axis", key="outflow LA long axis", tolerance=0.05),
)
FROM_MASKS_BY_CLASS = ("base LA:Ao, commissure-parallel", "chordae LVIDd", "chordae FS", "chordae IVSd")
BY_CLASS = ("base LA:Ao, commissure-parallel", "base LA:Ao, single line", "chordae LVIDd", "four EDV, method of discs")


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """How far the values of a row lie from the truth, of all clips on which there is a truth."""

    asked: int
    off: tuple[float, ...]  # of those given, in the row's own measure
    scaled: tuple[float, ...]  # the same in stated standard deviations


def figures_of(records: Iterable[Record], giver: str, row: Row) -> Figures:
    """Return the figures of one row by one giver."""
    found: list[Item] = [item for r in records if (item := r.get(giver, {}).get(row.key)) and item["true"]]
    given = [item for item in found if item["value"] is not None]
    off = [item["value"] - item["true"] for item in given]
    shares = [each / item["true"] for each, item in zip(off, given, strict=True)]
    return Figures(
        asked=len(found), off=tuple(shares if row.is_share else off),
        scaled=tuple(each / item["uncertainty"] for each, item in zip(off, given, strict=True)),
    )  # fmt: skip


def main_table(rings: Mapping[str, Sequence[Record]], giver: str, rows: Sequence[Row]) -> str:
    """Return bias, spread, coverage, refusals and confident errors of each row, rings side by side."""
    head = "| quantity | ring | clips | refused | bias | SD | RMS | limits of agreement | inside the stated 95 % band"
    lines = [f"{head} | confident and wrong |", "|---" * 10 + "|"]
    for row in rows:
        for ring, records in rings.items():
            lines.append(f"| {row.title} | {ring} | {_cells(figures_of(records, giver, row), row)} |")
    return "\n".join(lines)


def _cells(figures: Figures, row: Row) -> str:
    n = len(figures.off)
    refused = _share(figures.asked - n, figures.asked)
    if n < 2:
        return f"{figures.asked} | {refused} | – | – | – | – | – | –"
    off = np.array(figures.off) * (100 if row.is_share else 1)
    inside = sum(abs(each) <= Z_95 for each in figures.scaled)
    wrong = sum(
        is_confidently_wrong(off=a, in_deviations=s, tolerance=row.tolerance)
        for a, s in zip(figures.off, figures.scaled, strict=True)
    )
    said = _writer(row)
    bias, sd = float(off.mean()), float(off.std(ddof=1))
    limits = f"{said(bias - Z_95 * sd, True)} to {said(bias + Z_95 * sd, True)}"
    rms = float(np.sqrt((off**2).mean()))
    return (
        f"{figures.asked} | {refused} | {said(bias, True)} | {said(sd, False)} | {said(rms, False)} | {limits} | "
        f"{_share(inside, n)} | {_share(wrong, n)}"
    )


def _writer(row: Row) -> Callable[[float, bool], str]:
    digits = 1 if row.is_share or "points" in row.unit else 2
    unit = " %" if row.is_share else row.unit
    return lambda value, signed: f"{value:+.{digits}f}{unit}" if signed else f"{value:.{digits}f}{unit}"


def by_class_table(
    rings: Mapping[str, Sequence[Record]], giver: str, keys: Sequence[str] = BY_CLASS, of: Sequence[Row] = ROWS
) -> str:
    """Return root mean square error, coverage and refusals by class of heart."""
    rows = [row for row in of if row.key in keys]
    names = " | ".join(f"{row.title}, ring {ring}" for ring in rings for row in rows)
    lines = [f"| heart | {names} |", "|---" * (len(rows) * len(rings) + 1) + "|"]
    for heart in sorted({record["heart"] for records in rings.values() for record in records}):
        cells = []
        for records in rings.values():
            of_class = [record for record in records if record["heart"] == heart]
            cells += [_short(figures_of(of_class, giver, row), row) for row in rows]
        lines.append(f"| {heart.replace('_', ' ')} | {' | '.join(cells)} |")
    legend = "RMS error; refused of asked; share of those given inside their stated 95 % band."
    return "\n".join(lines) + f"\n\n{legend}"


def _short(figures: Figures, row: Row) -> str:
    n = len(figures.off)
    refused = f"{figures.asked - n} of {figures.asked} refused"
    if not n:
        return refused
    rms = float(np.sqrt(np.mean(np.square(figures.off)))) * (100 if row.is_share else 1)
    inside = sum(abs(each) <= Z_95 for each in figures.scaled) / n
    return f"{_writer(row)(rms, False)}; {refused}; {100 * inside:.0f} % inside"


def _share(part: int, n: int) -> str:
    low, high = wilson(part, n)
    return f"{100 * part / n:.0f} % ({100 * low:.0f}–{100 * high:.0f})" if n else "–"
