"""Whether diseased hearts are refused more often than normal ones, at the same errors of the hand, by what is measured.

    python -m measure.refusal_by_heart --masks FOLDER --strips FOLDER --spectra FOLDER
    python -m measure.refusal_by_heart --marks FOLDER --print-only

What no folder is given of is left out; of marks by hand, which are hardly ever refused, the tables by class tell.

Draws nothing: it counts the records that `measure.picture_values`, `measure.found_values`, `measure.m_mode_borders` and
`measure.spectral_values` keep. In these all hearts are seen by one steady hand with one spread of pose.
"""

from __future__ import annotations

import argparse
import json
import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from measure._described import described
from measure._picture_table import ROWS
from measure._share_of_animals import share_interval
from scripts.measured import write_table

PAGE = Path(__file__).resolve().parent.parent / "docs" / "accuracy.md"
SCRIPT = "measure/refusal_by_heart.py"
TABLE = "refusal-by-heart"
MOST_POINTS = 5  # more refusals in diseased hearts than in normal ones; the project's target
NORMAL = "normal"
_MASKS = {
    "LA:Ao": ("base LA:Ao, commissure-parallel", "base LA:Ao, single line"), "LVIDd": ("chordae LVIDd",),
    "LVIDs": ("chordae LVIDs",), "LA long axis": ("outflow LA long axis",),
}  # fmt: skip
_SPECTRA = {
    "outflow velocities": ("aortic_vmax", "pulmonary_vmax"), "inflow velocities": (
        "mitral_e", "mitral_a", "tricuspid_e", "tricuspid_a",
    ),
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One number that was asked for, where there is a truth."""

    family: str
    ring: str
    heart: str
    animal: int
    refused: bool


def _records(folder: Path) -> Iterator[tuple[str, Any]]:
    """Yield the ring and the contents of each record; the ring stands in its name as a letter between dashes."""
    for path in sorted(folder.glob("*.json")):
        ring = next(part for part in path.stem.split("-") if part in ("A", "B", "C"))
        yield ring, json.loads(path.read_text("utf-8"))


def of_records(folder: Path, giver: str, families: Mapping[str, Iterable[str]]) -> list[Asked]:
    """Return what was asked of records that hold items by giver and key."""
    return [
        Asked(family=family, ring=ring, heart=told["heart"], animal=told["seed"], refused=item["value"] is None)
        for ring, told in _records(folder)
        if "heart" in told
        for family, keys in families.items()
        for key in keys
        if (item := told[giver].get(key)) and item["true"]
    ]


def of_spectra(folder: Path) -> list[Asked]:
    """Return what was asked of spectra."""
    return [
        Asked(
            family=f"spectra, {family}", ring=ring, heart=row["heart"], animal=row["seed"], refused=row["value"] is None
        )
        for ring, rows in _records(folder)
        for row in rows
        for family, names in _SPECTRA.items()
        if row["name"] in names and row["truth"] is not None
    ]


def share(asked: list[Asked]) -> tuple[float, float, float]:
    """Return the refused share with its 95 % interval, as sure as if each animal had given one case."""
    part = sum(item.refused for item in asked) / len(asked)
    return part, *share_interval(part, len({item.animal for item in asked}))


def difference(diseased: list[Asked], normal: list[Asked]) -> tuple[float, float, float]:
    """Return how much more is refused in diseased hearts, with its 95 % interval.

    References
    ----------
    Newcombe, Statistics in Medicine 17 (1998) 873-890, method 10 (score intervals of both shares, squares added).
    """
    one, low_one, high_one = share(diseased)
    other, low_other, high_other = share(normal)
    low = math.hypot(one - low_one, high_other - other)
    high = math.hypot(high_one - one, other - low_other)
    return one - other, one - other - low, one - other + high


def table(asked: Iterable[Asked]) -> str:
    """Return the table, a line for each family and ring."""
    found: dict[tuple[str, str], list[Asked]] = defaultdict(list)
    for item in asked:
        found[item.family, item.ring].append(item)
    head = "| what | ring | refused in normal hearts | in diseased ones | difference, points | at most 5 | "
    head += "most refused, and its difference |"
    lines = [head, "|---" * 7 + "|"]
    for (family, ring), items in found.items():
        normal = [item for item in items if item.heart == NORMAL]
        diseased = [item for item in items if item.heart != NORMAL]
        if not normal or not diseased:
            lines.append(f"| {family} | {ring} | {_said(normal)} | {_said(diseased)} | – | not known | – |")
            continue
        more, low, high = (100 * each for each in difference(diseased, normal))
        holds = "no" if low > MOST_POINTS else "yes" if high <= MOST_POINTS else "yes, not for certain"
        holds = "no, not for certain" if more > MOST_POINTS >= low else holds
        lines.append(
            f"| {family} | {ring} | {_said(normal)} | {_said(diseased)} | {more:+.0f} ({low:+.0f} to {high:+.0f}) | "
            f"{holds} | {_worst(diseased, normal)} |"
        )
    return "\n".join(lines)


def _said(asked: list[Asked]) -> str:
    if not asked:
        return "–"
    part, low, high = (100 * each for each in share(asked))
    return f"{part:.0f} % ({low:.0f}–{high:.0f}), {len({item.animal for item in asked})} animals"


def _worst(diseased: list[Asked], normal: list[Asked]) -> str:
    """Return the class of heart that is refused most often, and how much more often than normal ones."""
    by_heart: dict[str, list[Asked]] = defaultdict(list)
    for item in diseased:
        by_heart[item.heart].append(item)
    heart = max(by_heart, key=lambda each: share(by_heart[each])[0])
    part = share(by_heart[heart])[0]
    more, low, high = (100 * each for each in difference(by_heart[heart], normal))
    return f"{heart.replace('_', ' ')}, {100 * part:.0f} %: {more:+.0f} ({low:+.0f} to {high:+.0f})" if part else "–"


def main() -> None:
    """Count, print or write."""
    parser = argparse.ArgumentParser(description=__doc__)
    for name in ("marks", "masks", "strips", "spectra"):
        parser.add_argument(f"--{name}", type=Path, help="folder of what was measured")
    parser.add_argument("--print-only", action="store_true", help="write nothing")
    given = parser.parse_args()
    of_each: dict[str, tuple[Path | None, Mapping[str, Iterable[str]]]] = {
        "hand": (given.marks, {"marks on pictures, all": [row.key for row in ROWS]}),
        "masks": (given.masks, {f"calipers on masks, {what}": keys for what, keys in _MASKS.items()}),
        "ecg": (given.strips, {f"M-mode, {key}": [key.lower()] for key in ("LVIDd", "LVIDs", "LVWd")}),
    }
    asked = [
        item for giver, (folder, families) in of_each.items() if folder is not None
        for item in of_records(folder, giver, families)
    ]  # fmt: skip
    asked += [] if given.spectra is None else of_spectra(given.spectra)
    if not asked:
        parser.error("name a folder that holds records")
    text = table(asked)
    if given.print_only:
        print(text)
        return
    seeds = "; ".join(
        f"{family}: " + ", ".join(
            f"{ring} {min(own)}-{max(own)}"
            for ring in "ABC" if (own := {i.animal for i in asked if (i.family, i.ring) == (family, ring)})
        )
        for family in dict.fromkeys(item.family for item in asked)
    )  # fmt: skip
    describes = described(SCRIPT, "measure/_picture_table.py", "measure/_share_of_animals.py")
    write_table(PAGE, TABLE, text, script=SCRIPT, describes=describes, seeds=seeds)


if __name__ == "__main__":
    main()
