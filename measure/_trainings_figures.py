"""Two trainings of the picture network on the same clips: figures of both, and their difference with an interval.

Intervals come from a bootstrap over animals, the same ones for both networks, since clips of one animal are alike.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from measure._recognition_figures import SAID_SHOWN, hits, is_asked, said, share_words, truth
from measure._ventricle_figures import CALIPERS
from training.label_sets import views

Record = dict[str, Any]
Pairs = Sequence[tuple[Record, Record]]  # what the packaged and the second network say of one clip
Values = NDArray[np.float64]
DRAWS, SEED = 1000, 7  # of the bootstrap
_WHO = ("packaged", "second")
_HOW = (
    "The second network learnt from other first weights, other batches and other clips of ring A. Both were shown "
    "the same clips. Differences are second less packaged, with the 95 % interval of a bootstrap over animals: where 0 "
    "lies within, the two trainings agree as far as these animals can tell."
)


def card(trainings: Sequence[str], views_of: Mapping[str, Pairs], ventricle: Mapping[str, Pairs], limit: float) -> str:
    """Return all tables."""
    about = "\n".join(
        ["| network | trainings |", "|---|---|", *(f"| {w} | {t} |" for w, t in zip(_WHO, trainings, strict=True))]
    )
    return "\n\n".join([
        _HOW, about, "### Views of two trainings", view_table(views_of, limit),
        "### Landmarks of two trainings",
        f"Landmarks that are truly there and said to be, with at least {SAID_SHOWN} of the share.",
        landmark_table(views_of), "### Calipers of two trainings",
        "Root mean square error at end-diastole, steady hand and displaced, in % of the animal's own diameter.",
        caliper_table(ventricle),
    ])  # fmt: skip


def view_table(rings: Mapping[str, Pairs], limit: float) -> str:
    """Return how often both name views rightly, propose wrong ones, and say the same."""
    lines = _head(rings)
    for k, who in enumerate(_WHO):
        lines.append(_row(f"named rightly, {who}", [share_words(*hits(_side(p, k))) for p in rings.values()]))
    for k, who in enumerate(_WHO):
        cells = [_proposed_wrong(_side(p, k), limit) for p in rings.values()]
        lines.append(_row(f"wrong ones proposed from {limit:.2f} on, {who}", cells))
    same = [_same(pairs) for pairs in rings.values()]
    lines.append(_row("both say the same", [share_words(*one) for one in same]))
    cells = [_difference(_right_by_animal(pairs), _mean, 100, "points") for pairs in rings.values()]
    lines.append(_row("named rightly, difference", cells))
    return "\n".join(lines)


def landmark_table(rings: Mapping[str, Pairs]) -> str:
    """Return errors of landmarks in mm and in % of the healthy ventricle's diameter, and how many are found."""
    lines = _head(rings)
    for unit, scale in (("mm", lambda _: 1.0), ("% of the diameter", lambda r: 100.0 / r["unit_mm"])):
        errors = [_errors_by_animal(pairs, scale) for pairs in rings.values()]
        for k, who in enumerate(_WHO):
            cells = [
                f"{_median(_all(one, k)):.2f}, {_tenth(_all(one, k)):.2f}, n {len(_all(one, k))}" for one in errors
            ]
            lines.append(_row(f"median and 90th percentile, {unit}, {who}", cells))
        lines.append(_row(f"median, {unit}, difference", [_difference(one, _median, 1, "") for one in errors]))
        lines.append(_row(f"90th percentile, {unit}, difference", [_difference(one, _tenth, 1, "") for one in errors]))
    found = [_found_by_animal(pairs) for pairs in rings.values()]
    for k, who in enumerate(_WHO):
        cells = [f"{100 * _mean(_all(one, k)):.1f} %, n {len(_all(one, k))}" for one in found]
        lines.append(_row(f"found of those that are there, {who}", cells))
    lines.append(_row("found, difference", [_difference(one, _mean, 100, "points") for one in found]))
    return "\n".join(lines)


def caliper_table(rings: Mapping[str, Pairs]) -> str:
    """Return errors of calipers on the left ventricle."""
    lines = _head(rings)
    for index, what in enumerate(CALIPERS):
        off = [_off_by_animal(pairs, index) for pairs in rings.values()]
        for k, who in enumerate(_WHO):
            some = [_all(one, k) for one in off]
            cells = [f"{_rms(v):.1f} %, mean {_mean(v):+.1f} %, n {len(v)}" if len(v) else "– (n 0)" for v in some]
            lines.append(_row(f"{what}, {who}", cells))
        lines.append(_row(f"{what}, difference", [_difference(one, _rms, 1, "points") for one in off]))
        apart = [_all(one, 1) - _all(one, 0) for one in off]
        cells = [f"{_rms(one):.1f} %, at most {np.abs(one).max():.1f} %" if len(one) else "–" for one in apart]
        lines.append(_row(f"{what}, the two apart from each other", cells))
    return "\n".join(lines)


ByAnimal = list[tuple[Values, Values]]  # values of both networks, animal by animal


def _grouped(pairs: Pairs) -> list[list[tuple[Record, Record]]]:
    animals: dict[int, list[tuple[Record, Record]]] = {}
    for pair in pairs:
        animals.setdefault(pair[0]["seed"], []).append(pair)
    return list(animals.values())


def _by_animal(pairs: Pairs, values: Callable[[Record], list[float]]) -> ByAnimal:
    """Return `values` of each record, animal by animal."""
    return [
        (
            np.array([v for pair in animal for v in values(pair[0])]),
            np.array([v for pair in animal for v in values(pair[1])]),
        )
        for animal in _grouped(pairs)
    ]


def _right_by_animal(pairs: Pairs) -> ByAnimal:
    return _by_animal(pairs, lambda r: [float(said(r) == truth(r))] if is_asked(r) else [])


def _errors_by_animal(pairs: Pairs, scale: Callable[[Record], float]) -> ByAnimal:
    return _by_animal(pairs, lambda r: [row[3] * scale(r) for row in r["landmarks"] if row[1] and row[2] >= SAID_SHOWN])


def _found_by_animal(pairs: Pairs) -> ByAnimal:
    return _by_animal(pairs, lambda r: [float(row[2] >= SAID_SHOWN) for row in r["landmarks"] if row[1]])


def _off_by_animal(pairs: Pairs, index: int) -> ByAnimal:
    """Return errors of one caliper in % of the true diameter, of clips in which both networks give a value."""
    both = [pair for pair in pairs if all(_off_percent(record, index) is not None for record in pair)]
    return _by_animal(both, lambda r: [value] if (value := _off_percent(r, index)) is not None else [])


def _off_percent(record: Record, index: int) -> float | None:
    if not record["lv_mm"]:
        return None
    true_mm, said_mm = record["lv_mm"]
    if not true_mm[0] or true_mm[index] is None or said_mm[index] is None:
        return None
    return float(100 * (said_mm[index] - true_mm[index]) / true_mm[0])


def _difference(animals: ByAnimal, figure: Callable[[Values], float], scale: float, unit: str) -> str:
    """Return the difference of a figure with its 95 % interval; whole animals are drawn, for both networks alike."""
    animals = [one for one in animals if len(one[0]) and len(one[1])]
    if not animals:
        return "– (n 0)"
    low, high = difference_interval(animals, figure)
    value = figure(_all(animals, 1)) - figure(_all(animals, 0))
    digits = 2 if not unit else 1
    words = f"{scale * value:+.{digits}f} ({scale * low:+.{digits}f} to {scale * high:+.{digits}f})"
    return f"{words} {unit}".rstrip() + f", {len(animals)} animals"


def difference_interval(animals: ByAnimal, figure: Callable[[Values], float]) -> tuple[float, float]:
    """Return the 95 % interval of second less packaged over animals drawn anew."""
    rng = np.random.default_rng(SEED)
    found = []
    for _ in range(DRAWS):
        drawn = [animals[k] for k in rng.integers(0, len(animals), len(animals))]
        found.append(figure(_all(drawn, 1)) - figure(_all(drawn, 0)))
    low, high = np.quantile(found, [0.025, 0.975])
    return float(low), float(high)


def _all(animals: ByAnimal, k: int) -> Values:
    return np.concatenate([one[k] for one in animals]) if animals else np.empty(0)


def _mean(values: Values) -> float:
    return float(np.mean(values))


def _median(values: Values) -> float:
    return float(np.median(values))


def _tenth(values: Values) -> float:
    return float(np.quantile(values, 0.9))


def _rms(values: Values) -> float:
    return math.sqrt(float(np.mean(values**2)))


def _side(pairs: Pairs, k: int) -> list[Record]:
    return [pair[k] for pair in pairs]


def _proposed_wrong(records: Sequence[Record], limit: float) -> str:
    asked = [r for r in records if is_asked(r)]
    wrong = [r for r in asked if max(r["said"]) >= limit and said(r) < len(views()) and said(r) != truth(r)]
    return share_words(len(wrong), len(asked))


def _same(pairs: Pairs) -> tuple[int, int]:
    asked = [pair for pair in pairs if is_asked(pair[0])]
    return sum(said(a) == said(b) for a, b in asked), len(asked)


def _head(rings: Mapping[str, Pairs]) -> list[str]:
    return ["| what | " + " | ".join(f"ring {name}" for name in rings) + " |", "|---" * (len(rings) + 1) + "|"]


def _row(what: str, cells: Sequence[str]) -> str:
    return "| " + " | ".join([what, *cells]) + " |"
