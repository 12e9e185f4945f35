"""Tables of what the pose fit said against what is true."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from measure._wilson import wilson

Record = dict[str, Any]
SURE = 0.95
FIRM, PLACE = ("rotate", "tilt", "rock"), ("slide", "space")
TITLES = {"rotate": "rotation", "tilt": "tilt", "rock": "rock", "slide": "slide", "space": "step over ribs"}
BINS = ((0.2, 0.5), (0.5, 0.8), (0.8, 0.95), (0.95, 0.99), (0.99, 1.01))


def share(right: int, n: int) -> str:
    """Return a share with its numbers and 95 % interval."""
    if n == 0:
        return "–"
    low, high = wilson(right, n)
    return f"{right} of {n} ({100 * right / n:.0f} %, {100 * low:.0f}–{100 * high:.0f})"


def _sense(offset: Record) -> int:
    return 1 if offset["plus"] >= offset["minus"] else -1


def _named(clip: Record) -> dict[str, int]:
    """Return the movements whose sense is sure, with their sense."""
    return {
        kind: _sense(one) for kind, one in clip["offsets"].items() if max(one["plus"], one["minus"]) >= SURE
    }  # fmt: skip


def said_of(clip: Record, kind: str) -> str:
    """Return how a clip with a fault of this kind was judged: right, pair, another, opposite or silent."""
    true = clip["true"][kind]
    named = _named(clip)
    if kind in named:
        return "right" if named[kind] * true > 0 else "opposite"
    if any((a == kind and s * true > 0) or (b == kind and t * true > 0) for a, s, b, t in clip["pairs"]):
        return "pair"
    # A small scatter of another movement, named in its true sense, is no mistake.
    if any(sense * clip["true"].get(other, 0.0) <= 0 or _is_small(clip, other) for other, sense in named.items()):
        return "another"
    return "another" if clip["pairs"] else "silent"


def _is_small(clip: Record, kind: str) -> bool:
    return bool(abs(clip["true"].get(kind, 0.0)) < 0.5 * clip["offsets"][kind]["limit"])


def is_quiet(window: Record) -> bool:
    """Whether nothing at all is said of a window."""
    sure = any(max(one["plus"], one["minus"]) >= SURE for one in window["place"].values())
    return not sure and not any(_named(clip) or clip["pairs"] for clip in window["clips"])


def _fault_clips(records: Iterable[Record], kinds: Sequence[str]) -> list[tuple[str, Record]]:
    return [
        (case["kind"], case["clips"][0])
        for record in records for case in record["faults"] if case["kind"] in kinds and case["clips"]
    ]  # fmt: skip


def _judged(records: Sequence[Record], kinds: Sequence[str], answer: str) -> str:
    said = [said_of(clip, kind) for kind, clip in _fault_clips(records, kinds)]
    return share(said.count(answer), len(said))


def _of_those_told(records: Sequence[Record], kinds: Sequence[str]) -> str:
    said = [said_of(clip, kind) for kind, clip in _fault_clips(records, kinds)]
    told = [answer for answer in said if answer != "silent"]
    return share(sum(answer in ("right", "pair") for answer in told), len(told))


def _sized(records: Sequence[Record]) -> str:
    right = [(kind, clip) for kind, clip in _fault_clips(records, (*FIRM, *PLACE)) if said_of(clip, kind) == "right"]
    within = [0.5 <= clip["offsets"][kind]["mean"] / clip["true"][kind] <= 2.0 for kind, clip in right]
    return share(sum(within), len(within))


def _all_clips(records: Iterable[Record]) -> list[Record]:
    return [
        clip
        for record in records
        for window in (*record["correct"], *record["faults"], record["habit"]) for clip in window["clips"]
    ]  # fmt: skip


def _covered(records: Sequence[Record], kinds: Sequence[str]) -> str:
    held = [
        clip["offsets"][kind]["low"] <= clip["true"].get(kind, 0.0) <= clip["offsets"][kind]["high"]
        for clip in _all_clips(records) for kind in kinds
    ]  # fmt: skip
    return share(sum(held), len(held))


def _habit(records: Sequence[Record], how: Callable[[Record], bool], kinds: Sequence[str]) -> str:
    windows = [one["habit"] for one in records if one["habit"]["kind"] in kinds and len(one["habit"]["clips"]) > 1]
    return share(sum(how(window) for window in windows), len(windows))


def _place_said(window: Record, sense: int) -> bool:
    """Whether the place all clips share is told in the true sense (1), or the other way (-1)."""
    kind = window["kind"]
    one = window["place"][kind]
    true = window["clips"][0]["true"][kind]
    return bool(max(one["plus"], one["minus"]) >= SURE and _sense(one) * true * sense > 0)


def _wrong_place(window: Record) -> bool:
    return any(
        kind != window["kind"] and max(one["plus"], one["minus"]) >= SURE for kind, one in window["place"].items()
    )


def _alone_said(window: Record) -> bool:
    return said_of(window["alone"], window["kind"]) == "right"


def _first_said(window: Record) -> bool:
    return said_of(window["clips"][0], window["kind"]) == "right"


def rows(records: Sequence[Record]) -> dict[str, str]:
    """Return the figures of one group of animals, by title."""
    correct = [window for record in records for window in record["correct"] if window["clips"]]
    windows = [w for record in records for w in (*record["correct"], *record["faults"], record["habit"]) if w["clips"]]
    times = [window["cpu_s"] / len(window["clips"]) for window in windows]
    lv = [abs(r["correct"][0]["lv_mm"][0] / r["lv_diameter_mm"] - 1) for r in records if r["correct"][0]["clips"]]
    missing = sum(window["not_fitted"] for r in records for window in (*r["correct"], *r["faults"], r["habit"]))
    every = (*FIRM, *PLACE)
    return {
        "animals": str(len(records)),
        "correct windows of which nothing is said": share(sum(map(is_quiet, correct)), len(correct)),
        **{
            f"clear {TITLES[kind]}, one clip: named in its sense": _judged(records, [kind], "right") for kind in every
        },
        "clear turn (rotation, tilt, rock): named or in an either-or, of clips of which something is said":
            _of_those_told(records, FIRM),
        "clear wrong place (slide, step): named or in an either-or, of clips of which something is said":
            _of_those_told(records, PLACE),
        "clear fault, one clip: nothing is said": _judged(records, every, "silent"),
        "clear fault, one clip: either-or that holds it": _judged(records, every, "pair"),
        "clear fault, one clip: another movement is named": _judged(records, every, "another"),
        "clear fault, one clip: the opposite is named": _judged(records, every, "opposite"),
        "size within a factor of two, where named": _sized(records),
        "wrong place in three views, told for the window": _habit(records, lambda w: _place_said(w, 1), PLACE),
        "wrong place in three views, the opposite told": _habit(records, lambda w: _place_said(w, -1), PLACE),
        "habit in three views, a wrong place told that is none": _habit(records, _wrong_place, every),
        "habit of turning, first clip named: joint fit": _habit(records, _first_said, FIRM),
        "habit of turning, first clip named: alone": _habit(records, _alone_said, FIRM),
        "90 % interval holds the truth, turns": _covered(records, FIRM),
        "90 % interval holds the truth, slide and step": _covered(records, PLACE),
        "left ventricle's diameter off, median and 95 %":
            f"{100 * float(np.median(lv)):.0f} %, {100 * float(np.percentile(lv, 95)):.0f} %" if lv else "–",
        "clips with fewer than three landmarks, or no place to stand": str(missing),
        "processor time a clip, mean and 95 %":
            f"{np.mean(times):.2f} s, {np.percentile(times, 95):.2f} s" if times else "–",
    }  # fmt: skip


def figure_table(groups: Mapping[str, Sequence[Record]]) -> str:
    """Return one column for each group of animals."""
    columns = {title: rows(records) for title, records in groups.items() if records}
    lines = ["| | " + " | ".join(columns) + " |", "|---" * (len(columns) + 1) + "|"]
    lines += [
        f"| {name} | " + " | ".join(column[name] for column in columns.values()) + " |"
        for name in next(iter(columns.values()))
    ]
    return "\n".join(lines)


def compact_table(groups: Mapping[str, Sequence[Record]]) -> str:
    """Return one row for each group of animals, with the figures that decide whether a mentor may trust it."""
    every = (*FIRM, *PLACE)
    heads = ("animals", "correct windows, nothing said", "faults, named or in an either-or of those told",
             "another named", "opposite named", "nothing said", "90 % interval holds")  # fmt: skip
    lines = ["| | " + " | ".join(heads) + " |", "|---" * (len(heads) + 1) + "|"]
    for name, records in groups.items():
        correct = [window for record in records for window in record["correct"] if window["clips"]]
        cells = [
            str(len(records)), share(sum(map(is_quiet, correct)), len(correct)), _of_those_told(records, every),
            *(_judged(records, every, answer) for answer in ("another", "opposite", "silent")),
            _covered(records, every),
        ]  # fmt: skip
        lines.append(f"| {name} | " + " | ".join(cells) + " |")
    return "\n".join(lines)


def reliability_table(groups: Mapping[str, Sequence[Record]]) -> str:
    """Return how often a sense said with a probability is the true one: beyond the limit, in that sense."""
    lines = ["| probability said | " + " | ".join(groups) + " |", "|---" * (len(groups) + 1) + "|"]
    for low, high in BINS:
        cells = []
        for records in groups.values():
            right = [
                _sense(one) * clip["true"].get(kind, 0.0) > one["limit"]
                for clip in _all_clips(records) for kind, one in clip["offsets"].items()
                if kind != "press" and low <= max(one["plus"], one["minus"]) < high
            ]  # fmt: skip
            cells.append(share(sum(right), len(right)))
        lines.append(f"| {low:.2f} to {min(high, 1.0):.2f} | " + " | ".join(cells) + " |")
    return "\n".join(lines)
