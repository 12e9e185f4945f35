"""The tables of how well causes are told."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from measure._wilson import wilson

Record = dict[str, Any]
Pairs = Iterable[bool]
TRIED = "a change that is named as one to be tried is of a cause that truly acts"
_BINS = (0.5, 0.8, 0.95, 0.99, 1.0)


def main_table(records: dict[str, list[Record]]) -> str:
    """Return what was told rightly and wrongly, a column a ring."""
    drawn = {ring: [r for r in rows if "not_drawn" not in r] for ring, rows in records.items()}
    lines = [
        "| studies through the pixels | " + " | ".join(f"ring {ring}" for ring in drawn) + " |",
        "|" + "---|" * (len(drawn) + 1),
    ]
    for title, of in _ROWS:
        lines.append(f"| {title} | " + " | ".join(share_words(of(rows)) for rows in drawn.values()) + " |")
    for title, part, whole in COVERS:
        lines.append(f"| {title} | " + " | ".join(covered_words(rows, part, whole) for rows in drawn.values()) + " |")
    return "\n".join(lines)


def reliability_table(records: dict[str, list[Record]]) -> str:
    """Return how often a cause truly acts in a study, by the probability that was stated, rings B and C together."""
    rows = [r for ring, own in records.items() if ring != "A" or len(records) == 1 for r in own if "not_drawn" not in r]
    lines = ["| probability stated | truly acts in the study |", "|---|---|"]
    said = [(item["probability"], acts(r, item["cause"])) for r in rows for item in r["found"]]
    for low, high in zip(_BINS, (*_BINS[1:], 1.01), strict=True):
        lines.append(
            f"| {low:.2f} to {min(high, 1.0):.2f} | {share_words(true for p, true in said if low <= p < high)} |"
        )
    return "\n".join(lines)


def acts(record: Record, cause: str) -> bool:
    return any(cause in own for own in record["acting"].values())


def _named(record: Record, *, only_habits: bool) -> set[str]:
    return {item["cause"] for item in record["found"] if item["is_habit"] or not only_habits}


def _habits_found(rows: list[Record]) -> Pairs:
    return (cause in _named(r, only_habits=False) for r in rows for cause in r["habits"] if acts(r, cause))


def _habits_called(rows: list[Record]) -> Pairs:
    return (
        cause in _named(r, only_habits=True)
        for r in rows
        for cause in r["habits"]
        if sum(cause in own for own in r["acting"].values()) >= 3
    )


def _wrong_habits(rows: list[Record]) -> Pairs:
    return (bool(_named(r, only_habits=True) - set(r["habits"])) for r in rows)


def _corrections_right(rows: list[Record]) -> Pairs:
    return (any(acts(r, cause) for cause in either) for r in rows for either in r["corrections"])


def tried_right(rows: list[Record]) -> Pairs:
    """Yield whether a change that is named as one to be tried is of a cause that truly acts."""
    return (acts(r, cause) for r in rows for (cause,) in r["tried"])


def _silent_when_right(rows: list[Record]) -> Pairs:
    return (not r["corrections"] + r["tried"] for r in rows if not any(r["acting"].values()))


_ROWS: tuple[tuple[str, Callable[[list[Record]], Pairs]], ...] = (
    ("a habit is among the causes", _habits_found),
    ("a habit that acts in three clips or more is called one", _habits_called),
    ("a study is said to have a habit that it has not", _wrong_habits),
    ("a named correction, or the one it is told beside, is of a cause that truly acts", _corrections_right),
    (TRIED, tried_right),
    ("nothing is corrected where nothing is wrong", _silent_when_right),
)


def share_words(pairs: Pairs) -> str:
    told = list(pairs)
    if not told:
        return "– (n 0)"
    low, high = wilson(sum(told), len(told))
    return f"{100 * sum(told) / len(told):.0f} % ({100 * low:.0f}–{100 * high:.0f}), n {len(told)}"


def covered_words(rows: list[Record], part: str, whole: str) -> str:
    """Return the mean share of studies with a habit, and the share of all their findings together."""
    own = [r for r in rows if r["habits"] and r[whole]]
    if not own:
        return "– (n 0)"
    shares = [r[part] / r[whole] for r in own]
    everything = sum(r[part] for r in own) / sum(r[whole] for r in own)
    return f"{100 * sum(shares) / len(shares):.0f} %, n {len(shares)}; of all together {100 * everything:.0f} %"


COVERS = (
    ("share of the weight of raised findings that the corrections explain, mean over studies with a habit", "covered",
     "raised"),
    ("the same of the findings that a cause raises which truly acts", "due_covered", "due"),
    ("the same by sure changes alone, without those to be tried", "due_covered_surely", "due"),
    ("share of the weight of raised findings that such causes raise at all; chance raises the rest", "due", "raised"),
)  # fmt: skip
