"""Figures and tables from the records of the picture network."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from fanlight.study import Landmark
from measure._wilson import wilson
from training.label_sets import LANDMARKS, SHOWN_UNITS, Structure, views
from training.plane_rule import CLEAR_SHARE

Records = Sequence[dict[str, Any]]
Rings = Mapping[str, Records]
LIMITS = (0.5, 0.6, 0.7, 0.8, 0.9, 0.95)
N_BINS = 10
SAID_SHOWN = 0.5  # a landmark said to be there with at least this share is taken as found


def share_words(right: int, n: int) -> str:
    """Return a share with its 95 % interval (Wilson) and n."""
    if n == 0:
        return "– (n 0)"
    low, high = wilson(right, n)
    return f"{100 * right / n:.1f} % ({100 * low:.1f}–{100 * high:.1f}), n {n}"


def truth(record: dict[str, Any]) -> int:
    """Return the number of the name that is right: of a steady hand's clip the view it was after."""
    if record["kind"] == "standard" and record["shares"][-1] < 1.0:
        return views().index(record["view"])
    return int(np.argmax(record["shares"]))


def is_asked(record: dict[str, Any]) -> bool:
    """Return whether one name is right beyond dispute."""
    return bool(record["kind"] == "standard" or max(record["shares"]) >= CLEAR_SHARE)


def said(record: dict[str, Any]) -> int:
    """Return the number of the name that was said."""
    return int(np.argmax(record["said"]))


def hits(records: Iterable[dict[str, Any]], key: str = "said") -> tuple[int, int]:
    """Return how many clips were named rightly, and of how many that have a clear name."""
    asked = [r for r in records if is_asked(r)]
    return sum(int(np.argmax(r[key])) == truth(r) for r in asked), len(asked)


def top_one_table(rings: Rings) -> str:
    """Return view top-1 by what was shown, rings side by side."""
    rows: list[tuple[str, Callable[[dict[str, Any]], bool]]] = [
        ("standard views, steady hand", lambda r: r["kind"] == "standard"),
        ("displaced as by a fault, still clear", lambda r: r["kind"] == "displaced"),
        ("planes off all views", lambda r: r["kind"] == "off"),
        ("**all**", bool),
    ]
    lines = _table(["shown", *(f"ring {name}" for name in rings)])
    for words, chosen in rows:
        cells = [share_words(*hits(r for r in records if chosen(r))) for records in rings.values()]
        lines.append(_row([words, *cells]))
    cells = [share_words(*hits((r for r in records), "frame_said")) for records in rings.values()]
    lines.append(_row(["all, mean of single frames instead of the clip", *cells]))
    if any(r["said_second"] for records in rings.values() for r in records):
        cells = [share_words(*hits(records, "said_second")) for records in rings.values()]
        lines.append(_row(["all, a second training with other seeds", *cells]))
        cells = [share_words(*_agreed(records)) for records in rings.values()]
        lines.append(_row(["both trainings say the same", *cells]))
    return "\n".join(lines)


def _agreed(records: Records) -> tuple[int, int]:
    asked = [r for r in records if is_asked(r)]
    return sum(said(r) == int(np.argmax(r["said_second"])) for r in asked), len(asked)


def class_table(rings: Rings) -> str:
    """Return view top-1 on standard views by class of heart and species."""
    lines = _table(["class", *(f"ring {name}" for name in rings)])
    classes = sorted({r["heart"] for records in rings.values() for r in records})
    for heart in classes:
        cells = [share_words(*hits(_standard(records, heart=heart))) for records in rings.values()]
        lines.append(_row([heart.replace("_", " "), *cells]))
    for species in ("dog", "cat"):
        cells = [share_words(*hits(_standard(records, species=species))) for records in rings.values()]
        lines.append(_row([species, *cells]))
    return "\n".join(lines)


def _standard(records: Records, **wanted: str) -> list[dict[str, Any]]:
    return [r for r in records if r["kind"] == "standard" and all(r[k] == v for k, v in wanted.items())]


def coverage_table(rings: Rings) -> str:
    """Return, by the limit above which a view is proposed, how many are and how many of them are wrong."""
    head = [
        "limit",
        *(f"{what}, ring {name}" for name in rings for what in ("proposed", "right of them", "wrong of all")),
    ]
    lines = _table(head)
    for limit in LIMITS:
        cells = []
        for records in rings.values():
            asked = [r for r in records if is_asked(r)]
            named = [r for r in asked if max(r["said"]) >= limit and said(r) < len(views())]
            right = sum(said(r) == truth(r) for r in named)
            cells += [
                f"{100 * len(named) / max(len(asked), 1):.1f} %", share_words(right, len(named)),
                share_words(len(named) - right, len(asked)),
            ]  # fmt: skip
        lines.append(_row([f"{limit:.2f}", *cells]))
    return "\n".join(lines)


def calibration_table(rings: Rings) -> str:
    """Return how often the answer is right by how sure it is, and the expected calibration error."""
    lines = _table(["said", *(f"{what}, ring {name}" for name in rings for what in ("mean said", "right"))])
    edges = np.linspace(0, 1, N_BINS + 1)
    for low, high in pairwise(edges):
        cells = []
        for records in rings.values():
            within = [r for r in records if is_asked(r) and low < max(r["said"]) <= high]
            mean = float(np.mean([max(r["said"]) for r in within])) if within else math.nan
            cells += [
                f"{mean:.2f}" if within else "–",
                share_words(sum(said(r) == truth(r) for r in within), len(within)),
            ]
        if any("n 0" not in cell for cell in cells[1::2]):
            lines.append(_row([f"{low:.1f} to {high:.1f}", *cells]))
    errors = [f"ring {name} {calibration_error(records):.3f}" for name, records in rings.items()]
    return "\n".join([*lines, "", f"Expected calibration error over ten bins: {', '.join(errors)}."])


def calibration_error(records: Records) -> float:
    """Return the mean gap between how sure and how often right, weighed by how many clips lie in each bin."""
    asked = [r for r in records if is_asked(r)]
    bins: dict[int, list[tuple[float, bool]]] = {}
    for r in asked:
        bins.setdefault(min(int(max(r["said"]) * N_BINS), N_BINS - 1), []).append((max(r["said"]), said(r) == truth(r)))
    gaps = [len(rows) * abs(np.mean([s for s, _ in rows]) - np.mean([ok for _, ok in rows])) for rows in bins.values()]
    return float(sum(gaps) / max(len(asked), 1))


def confusion_table(rings: Rings) -> str:
    """Return for each view how often it was named rightly, and what it was taken for."""
    names = [*(view.replace("_", " ") for view in views()), "none of these"]
    lines = _table(["shown", *(f"{what}, ring {name}" for name in rings for what in ("right", "taken for"))])
    for index, name in enumerate(names):
        cells = []
        for records in rings.values():
            mine = [r for r in records if is_asked(r) and truth(r) == index]
            wrong = Counter(names[said(r)] for r in mine if said(r) != index)
            cells.append(share_words(sum(said(r) == index for r in mine), len(mine)))
            cells.append(", ".join(f"{other} ({count})" for other, count in wrong.most_common(3)) or "–")
        lines.append(_row([name, *cells]))
    return "\n".join(lines)


def landmark_table(rings: Rings) -> str:
    """Return how far landmarks are off where they truly lie in the plane, and how often they are found there."""
    head = ["landmark", *(f"{what}, ring {name}" for name in rings for what in ("median mm", "RMS mm", "found", "n"))]
    lines = _table(head)
    for index, mark in enumerate(LANDMARKS):
        cells = []
        for records in rings.values():
            rows = [row for r in records for row in r["landmarks"] if row[0] == index and row[1]]
            found = [row for row in rows if row[2] >= SAID_SHOWN]
            errors = np.array([row[3] for row in found])
            cells += [
                f"{np.median(errors):.1f}" if len(found) else "–",
                f"{np.sqrt(np.mean(errors**2)):.1f}" if len(found) else "–",
                f"{100 * len(found) / len(rows):.0f} %" if rows else "–",
                str(len(rows)),
            ]
        lines.append(_row([Landmark(mark).value, *cells]))
    return "\n".join(lines)


def spread_factor(records: Records) -> float:
    """Return by what the stated spread of landmarks is to be multiplied so that it is one standard deviation.

    Of errors that are normal in both directions, 1 - exp(-2) = 86.5 % lie within twice it (identity).
    """
    ratios = [row[3] / row[4] for r in records for row in r["landmarks"] if row[1] and row[2] >= SAID_SHOWN]
    return float(np.quantile(ratios, 1 - math.exp(-2)) / 2)


def landmark_words(name: str, records: Records, factor: float) -> str:
    """Return all landmarks of a ring in one line: error in mm and in the ventricle's diameter, spread against error."""
    rows = [(row, r["unit_mm"]) for r in records for row in r["landmarks"]]
    there = [(row, unit) for row, unit in rows if row[1]]
    found = [(row, unit) for row, unit in there if row[2] >= SAID_SHOWN]
    said_there = [row for row, _ in rows if row[2] >= SAID_SHOWN]
    errors = np.array([row[3] for row, _ in found])
    shares = np.array([row[3] / unit for row, unit in found])
    within = np.mean([row[3] <= 2 * factor * row[4] for row, _ in found])
    further_off = 100 * np.mean([1 - row[1] for row in said_there])
    tenth = np.quantile(shares, 0.9)
    return (
        f"Ring {name}: {len(found)} of {len(there)} landmarks that lie within {SHOWN_UNITS} diameters of the plane "
        f"were found ({100 * len(found) / len(there):.0f} %); {further_off:.0f} % of those said to be there "
        f"lie further off. Error: median {np.median(errors):.1f} mm, "
        f"90th percentile {np.quantile(errors, 0.9):.1f} mm; "
        f"{100 * np.median(shares):.1f} % and {100 * tenth:.1f} % of the healthy ventricle's diameter. "
        f"{100 * within:.0f} % lie within twice the stated spread (86 % would be right)."
    )


def structure_table(rings: Rings) -> str:
    """Return how far structures overlap the truth (Dice, all pixels together)."""
    lines = _table(["structure", *(f"ring {name}" for name in rings)])
    for structure in list(Structure)[1:]:
        cells = []
        for records in rings.values():
            true, said_px, both = np.sum([r["overlap"][structure] for r in records], axis=0)
            cells.append(f"{2 * both / (true + said_px):.2f}" if true + said_px else "–")
        lines.append(_row([structure.name.lower().replace("_", " "), *cells]))
    return "\n".join(lines)


def odd_table(rings: Rings) -> str:
    """Return what is said of pictures flipped or turned half round: whether it is noticed."""
    lines = _table(["asked", *(f"ring {name}" for name in rings)])
    rows: list[tuple[str, Callable[[Records], str]]] = [
        ("marker side, as drawn and flipped, standard views", _mirrors),
        ("probe turned half round, still clear: named as the view", lambda rs: share_words(*hits(rs))),
        ("probe turned half round: marker said to be at the other side", lambda rs: share_words(
            sum(r["mirrored"] >= 0.5 for r in rs if is_asked(r)), sum(is_asked(r) for r in rs))),
        ("flipped standard view still named rightly", lambda rs: share_words(
            sum(int(np.argmax(r["said_flipped"])) == truth(r) for r in rs), len(rs))),
        ("phase, mean distance in % of a beat", lambda rs: (
            f"{100 * np.mean([np.mean(np.abs(r['phase_off'])) for r in rs]):.1f}, n {len(rs)}")),
    ]  # fmt: skip
    for words, figure in rows:
        chosen = _half_round if words.startswith("probe turned") else _standard
        lines.append(_row([words, *(figure(chosen(records)) for records in rings.values())]))
    return "\n".join(lines)


def _half_round(records: Records) -> list[dict[str, Any]]:
    """Return planes off the standard ones that show a view with left and right exchanged."""
    return [r for r in records if r["turned"] and r["kind"] != "standard" and truth(r) < len(views())]


def _mirrors(records: Records) -> str:
    right = sum((r["mirrored"] < 0.5) + (r["mirrored_flipped"] >= 0.5) for r in records)
    return share_words(right, 2 * len(records))


def _table(head: Sequence[str]) -> list[str]:
    return [_row(head), "|" + "---|" * len(head)]


def _row(cells: Iterable[str]) -> str:
    return "| " + " | ".join(cells) + " |"
