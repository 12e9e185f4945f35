"""Errors of calipers on the left ventricle from records, with intervals over animals; clips of one animal are alike."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from measure._recognition_figures import share_words

Record = dict[str, Any]
Records = Sequence[Record]
Rings = Mapping[str, Records]
CALIPERS = ("diameter", "septum", "free wall")
SMALL_DOG_KG = 8.0
DRAWS = 1000  # of a bootstrap over animals
FEWEST_ANIMALS = 3  # of fewer no interval is told
_SCALE = {"cm": 0.1, "mm": 1.0}
_HOW = (
    "Calipers are laid on the structures that the network names, by the convention of the short axis, at the papillary "
    "muscles and the chordae, and held against calipers on the animal itself, both at end-diastole. Root mean square "
    "error with its 95 % interval (bootstrap over animals), mean error, clips and animals."
)


def card(rings: Rings, limit: float) -> str:
    """Return all tables."""
    steady = {name: [r for r in records if r["kind"] == "standard"] for name, records in rings.items()}
    return "\n\n".join([
        _HOW, "### By size, a steady hand", size_table(steady),
        "### By class of heart, a steady hand, in % of the diameter", class_table(steady),
        "### By kind of clip, all animals, in % of the diameter", kind_table(rings),
        "### The same clips upside down", upset_table(rings, limit),
    ])  # fmt: skip


def size_table(rings: Rings) -> str:
    """Return errors of large dogs in cm, of small ones in shares of the diameter, of cats in mm."""
    groups: list[tuple[str, str, Callable[[Record], bool]]] = [
        ("dogs from 8 kg, cm", "cm", lambda r: r["species"] == "dog" and r["weight_kg"] >= SMALL_DOG_KG),
        ("dogs below 8 kg, % of the diameter", "%", lambda r: r["species"] == "dog" and r["weight_kg"] < SMALL_DOG_KG),
        ("cats, mm", "mm", lambda r: r["species"] == "cat"),
    ]
    return _table(rings, groups)


def class_table(rings: Rings) -> str:
    """Return errors by class of heart."""
    hearts = sorted({r["heart"] for records in rings.values() for r in records})
    return _table(rings, [(heart.replace("_", " "), "%", _has("heart", heart)) for heart in hearts])


def kind_table(rings: Rings) -> str:
    """Return errors by whether the plane was held or displaced as by a trainee's fault."""
    kinds = {"standard": "steady hand", "displaced": "displaced as by a fault"}
    return _table(rings, [(words, "%", _has("kind", kind)) for kind, words in kinds.items()])


def upset_table(rings: Rings, limit: float) -> str:
    """Return how often a view is proposed of a picture upside down."""
    head = _row(["asked", *(f"ring {name}" for name in rings)])
    cells = [
        share_words(sum(max(r["said_upset"][:-1]) >= limit for r in records), len(records))
        for records in rings.values()
    ]
    return "\n".join([head, "|---" * (len(rings) + 1) + "|", _row([f"a view proposed from {limit:.2f} on", *cells])])


def _has(key: str, value: str) -> Callable[[Record], bool]:
    return lambda record: record[key] == value


def _table(rings: Rings, groups: Sequence[tuple[str, str, Callable[[Record], bool]]]) -> str:
    lines = [_row(["animals", "what", *(f"ring {name}" for name in rings)]), "|---" * (len(rings) + 2) + "|"]
    for words, unit, chosen in groups:
        for index, what in enumerate(CALIPERS):
            cells = [error_words([r for r in records if chosen(r)], index, unit) for records in rings.values()]
            lines.append(_row([words, what, *cells]))
    return "\n".join(lines)


def error_words(records: Records, index: int, unit: str) -> str:
    """Return the error of one caliper in "cm", "mm" or "%" of the animal's own diameter, with its interval and n."""
    asked = [r for r in records if r["lv_mm"] and r["lv_mm"][0][index] is not None and r["lv_mm"][0][0]]
    found = [r for r in asked if r["lv_mm"][1][index] is not None]
    if not found:
        return f"– (n 0{f', {len(asked)} without a value' if asked else ''})"
    off = np.array([_off(r["lv_mm"][0], r["lv_mm"][1], index, unit) for r in found])
    animals = np.array([r["seed"] for r in found])
    digits, sign = (2, "") if unit == "cm" else (1, " %" if unit == "%" else "")
    n_animals = len(np.unique(animals))
    between = ""
    if n_animals >= FEWEST_ANIMALS:
        low, high = rms_interval(off, animals)
        between = f" ({low:.{digits}f}–{high:.{digits}f})"
    without = f", {len(asked) - len(found)} without a value" if len(asked) > len(found) else ""
    return (
        f"{math.sqrt(np.mean(off**2)):.{digits}f}{sign}{between}, mean {np.mean(off):+.{digits}f}{sign}, "
        f"n {len(off)} of {n_animals} animal{'s' if n_animals > 1 else ''}{without}"
    )


def _off(true_mm: Sequence[float], said_mm: Sequence[float], index: int, unit: str) -> float:
    off_mm = said_mm[index] - true_mm[index]
    return off_mm * _SCALE[unit] if unit in _SCALE else 100 * off_mm / true_mm[0]


def rms_interval(off: NDArray[np.float64], animals: NDArray[np.int64]) -> tuple[float, float]:
    """Return the 95 % interval of a root mean square error: whole animals are drawn, each with all its clips."""
    rng = np.random.default_rng(5)
    names, place = np.unique(animals, return_inverse=True)
    squares = np.bincount(place, weights=off**2)
    clips = np.bincount(place)
    drawn = rng.integers(0, len(names), (DRAWS, len(names)))
    rms = np.sqrt(squares[drawn].sum(axis=1) / clips[drawn].sum(axis=1))
    low, high = np.quantile(rms, [0.025, 0.975])
    return float(low), float(high)


def _row(cells: Sequence[str]) -> str:
    return "| " + " | ".join(cells) + " |"
