"""The table of what became of faults after what was named of them was carried out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from measure._pose_table import share

Record = dict[str, Any]
MET, MISSED = "met", "missed"


def is_told(clip: Record) -> bool:
    """Whether something was named of a clip, and so carried out."""
    return "after" in clip


def turned(clips: Iterable[Record], start: str, end: str, now: str = "after") -> tuple[int, int]:
    """Return how many criteria of one verdict turn to another, and of how many; one that is not judged again is none.

    Parameters
    ----------
    clips : iterable of dict
        Those of which something was named.
    start, end : str
        Verdicts, of the displaced clip and of the later one.
    now : str
        "after" what was named, or "undone": the fault taken away exactly.
    """
    asked = [(clip, key) for clip in clips for key, verdict in clip["before"].items() if verdict == start]
    return sum(clip[now].get(key) == end for clip, key in asked), len(asked)


def rows(clips: Sequence[Record]) -> dict[str, str]:
    """Return the figures of the clips with one fault."""
    told = [clip for clip in clips if is_told(clip)]
    mended, n_told = turned(told, MISSED, MET)
    n_missed = sum(verdict == MISSED for clip in clips for verdict in clip["before"].values())
    return {
        "something is named, of clips": share(len(told), len(clips)),
        "missed criteria that turn met, where something is named": share(mended, n_told),
        "… the same had the fault been taken away exactly": share(*turned(told, MISSED, MET, "undone")),
        "missed criteria that turn met, of all clips": share(mended, n_missed),
        "met criteria that turn missed": share(*turned(told, MET, MISSED)),
        "… the same had the fault been taken away exactly ": share(*turned(told, MET, MISSED, "undone")),
        "displacement left, median and middle half": left_words([clip["left"] for clip in told]),
    }


def left_words(left: Sequence[float]) -> str:
    """Return how much of a displacement is left, in the movement that was at fault."""
    if not left:
        return "–"
    low, middle, high = (100 * float(each) for each in np.percentile(left, [25, 50, 75]))
    return f"{middle:.0f} % ({low:.0f}–{high:.0f}), n {len(left)}"


def table_of(by_ring: Mapping[str, Sequence[Record]], titles: Mapping[str, str]) -> str:
    """Return a block of rows for all faults and for each, in one clip and in three views; a column for each ring.

    Parameters
    ----------
    by_ring : mapping of str to sequence of dict
        Records of `measure/_closed_loop_clips.py`.
    titles : mapping of str to str
        Of the faults, by their keys, in order.
    """
    lines = ["| fault | | " + " | ".join(f"ring {name}" for name in by_ring) + " |", "|---" * (len(by_ring) + 2) + "|"]
    lines.append("| | animals | " + " | ".join(str(len(records)) for records in by_ring.values()) + " |")
    for title, which, faults in blocks(titles, by_ring):
        columns = [
            rows([clip for record in records for clip in record[which] if clip["fault"] in faults])
            for records in by_ring.values()
        ]
        lines += [f"| {title} | {what.strip()} | " + " | ".join(c[what] for c in columns) + " |" for what in columns[0]]
    return "\n".join(lines)


def blocks(
    titles: Mapping[str, str], by_ring: Mapping[str, Sequence[Record]]
) -> list[tuple[str, str, tuple[str, ...]]]:
    """Return the blocks of the table: title, which clips, of which faults."""
    places = {clip["fault"] for records in by_ring.values() for record in records for clip in record["three"]}
    found = [("all faults, one clip", "one", tuple(titles))]
    found += [(title, "one", (fault,)) for fault, title in titles.items()]
    if places:
        found.append(("wrong place kept in three views, each clip", "three", tuple(places)))
    return found
