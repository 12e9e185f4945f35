"""The table of studies composed of kept answers."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from measure._cause_table import COVERS, TRIED, acts, covered_words, share_words, tried_right

Record = dict[str, Any]
_OPPOSITE = {
    "gain_low": "gain_high",
    "gain_high": "gain_low",
    "depth_small": "depth_large",
    "depth_large": "depth_small",
}
_ILL = ("la_enlarged", "lv_dilated", "mitral_disease", "right_overload", "effusion", "thick_walls")


def finding_table(records: dict[str, list[Record]]) -> str:
    """Return what was told rightly and wrongly, a column a ring."""
    lines = [
        "| studies composed of answers | " + " | ".join(f"ring {ring}" for ring in records) + " |",
        "|" + "---|" * (len(records) + 1),
        "| studies | " + " | ".join(str(len(rows)) for rows in records.values()) + " |",
    ]
    for title, of in _ROWS:
        lines.append(f"| {title} | " + " | ".join(share_words(of(rows)) for rows in records.values()) + " |")
    for title, part, whole in COVERS:
        lines.append(f"| {title} | " + " | ".join(covered_words(rows, part, whole) for rows in records.values()) + " |")
    return "\n".join(lines)


def _right(rows: list[Record]) -> Iterable[bool]:
    return (any(acts(r, cause) for cause in either) for r in rows for either in r["corrections"])


def _right_way(rows: list[Record]) -> Iterable[bool]:
    """Whether no cause acts that asks for the opposite of what is advised, of changes that have one."""
    told = ((r, either[0]) for r in rows for either in r["corrections"] + r["tried"] if either[0] in _OPPOSITE)
    return (acts(r, cause) or not acts(r, _OPPOSITE[cause]) for r, cause in told)


def _silent(rows: list[Record], hearts: Iterable[str]) -> Iterable[bool]:
    return (not r["corrections"] + r["tried"] for r in rows if r["kind"] == "right" and r["heart"] in hearts)


def _animal_alone(rows: list[Record], *, is_stated: bool) -> Iterable[bool]:
    own = (r for r in rows if r["kind"] == "animal" and r["is_stated"] == is_stated and acts(r, r["brings"]))
    return (all(any(acts(r, cause) for cause in either) for either in r["corrections"] + r["tried"]) for r in own)


def _animal_told(rows: list[Record]) -> Iterable[bool]:
    own = (r for r in rows if r["brings"] and r["is_stated"] and acts(r, r["brings"]))
    return (any(item["cause"] == r["brings"] for item in r["found"]) for r in own)


def _habit(rows: list[Record], *, called: bool) -> Iterable[bool]:
    for r in rows:
        found = {item["cause"] for item in r["found"] if item["is_habit"] or not called}
        for cause in r["habits"]:
            if sum(cause in own for own in r["acting"].values()) >= 3:
                yield cause in found


def _of_flow(rows: list[Record]) -> Iterable[bool]:
    flow = ("colour_", "doppler_", "spectral_", "gate_", "angle_", "guide_")
    told = ((r, either) for r in rows for either in r["corrections"] if either[0].startswith(flow))
    return (any(acts(r, cause) for cause in either) for r, either in told)


_ROWS: tuple[tuple[str, Callable[[list[Record]], Iterable[bool]]], ...] = (
    ("a named correction, or the one it is told beside, is of a cause that truly acts", _right),
    ("the same of Doppler alone", _of_flow),
    (TRIED, tried_right),
    ("gain and depth: what is advised is not the opposite of what acts", _right_way),
    ("nothing is corrected where nothing is wrong: healthy hearts", lambda rows: _silent(rows, ("normal",))),
    ("nothing is corrected where nothing is wrong: ill hearts", lambda rows: _silent(rows, _ILL)),
    ("a habit that acts in three clips or more is among the causes", lambda rows: _habit(rows, called=False)),
    ("a habit that acts in three clips or more is called one", lambda rows: _habit(rows, called=True)),
    ("the animal alone acts, as the sheet says: nothing is corrected wrongly",
     lambda rows: _animal_alone(rows, is_stated=True)),
    ("the animal alone acts, and the sheet is silent: nothing is corrected wrongly",
     lambda rows: _animal_alone(rows, is_stated=False)),
    ("what the animal brings, as the sheet says, is among the causes", _animal_told),
)  # fmt: skip
