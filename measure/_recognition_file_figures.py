"""Figures and tables from the records of clips in files, rings side by side."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from measure._recognition_figures import share_words
from measure._recognition_file_colour import HOW  # with all of the simulator that makes colour clips
from training.label_sets import SHOWN_UNITS, views
from training.plane_rule import CLEAR_SHARE

Record = dict[str, Any]
Records = Sequence[Record]
Rings = Mapping[str, Records]
LIMITS = (0.5, 0.6, 0.7, 0.8, 0.9, 0.95)
FAN_IS_FOUND = 0.9  # overlap (share of both in either) from which on the fan was found; engineering judgement
_HOW_WORDS = {"luma": "grey as the criteria see it", "filled": "colour filled from the grey around"}


def truth(record: Record) -> str:
    """Return the name that is right, "" for none: of a steady hand's clip the view it was after."""
    if record["kind"] == "standard" and record["shares"][-1] < 1.0:
        return str(record["view"])
    return (*views(), "")[int(np.argmax(record["shares"]))]


def is_clear(record: Record) -> bool:
    """Return whether one name is right beyond dispute."""
    return bool(record["kind"] == "standard" or max(record["shares"]) >= CLEAR_SHARE)


def was_asked(record: Record) -> bool:
    """Return whether the product showed the clip to the network."""
    return bool(record["said"])


def is_new(record: Record) -> bool:
    """Return whether a clip was read since masks can hold a view off; what it is called did not change with that."""
    return "held_off" in record


def has_fan(record: Record) -> bool:
    """Return whether the fan was found where it is."""
    return bool(record["fan"] >= FAN_IS_FOUND)


def is_right(record: Record) -> bool:
    """Return whether the likeliest name is the right one; a clip that was not shown is said to be none."""
    return truth(record) == (str(record["said"][0][0]) if was_asked(record) else "")


def proposed_at(said: Sequence[Sequence[Any]], limit: float) -> str:
    """Return the view proposed at a limit, "" for none."""
    return str(said[0][0]) if said and said[0][1] >= limit else ""


def proposals(records: Records, limit: float, true: Callable[[Record], str] = truth) -> tuple[int, int]:
    """Return how many clips are proposed as a view, and how many of these rightly."""
    named = [(proposed_at(r["said"], limit), true(r)) for r in records]
    return sum(bool(view) for view, _ in named), sum(bool(view) and view == right for view, right in named)


def echoes(records: Records) -> list[Record]:
    """Return the clips proper, without those that only tell a time and without photographs."""
    return [r for r in records if r["kind"] not in ("long", "photo")]


def photos(records: Records) -> list[Record]:
    """Return the photographs of clips with a clear name, each of the kind of its clip."""
    every = [r | {"kind": r["was"]} for r in records if r["kind"] == "photo"]
    return [r for r in every if is_clear(r)]


def photo_table(rings: Rings, limit: float) -> str:
    """Return what is said of photographs of a screen."""
    rows: list[tuple[str, Callable[[Records], str]]] = [
        ("shown to the network", lambda rs: share_of(rs, was_asked)),
        ("view right of those shown", lambda rs: share_of([r for r in rs if was_asked(r)], is_right)),
        (f"proposed at {limit:.2f}", lambda rs: share_words(proposals(rs, limit)[0], len(rs))),
        ("wrong of all", lambda rs: share_words(proposals(rs, limit)[0] - proposals(rs, limit)[1], len(rs))),
    ]
    return by_ring("photographs", rows, {name: photos(records) for name, records in rings.items()})


def clear(records: Records) -> list[Record]:
    """Return the clips that have a clear name."""
    return [r for r in echoes(records) if is_clear(r)]


def way_table(rings: Rings) -> str:
    """Return how many clips come as far as the network, and where the others are lost."""
    rows: list[tuple[str, Callable[[Records], str]]] = [
        ("taken for a 2-D picture", lambda rs: share_of(rs, lambda r: r["mode"] == "two_d")),
        ("fan found, standard views by a steady hand", lambda rs: share_of(
            [r for r in rs if r["kind"] == "standard"], has_fan)),
        ("fan found, displaced and off all views", lambda rs: share_of(
            [r for r in rs if r["kind"] != "standard"], has_fan)),
        ("fan found, region tags in the file", lambda rs: share_of([r for r in rs if r["has_regions"]], has_fan)),
        ("fan found, no region tags", lambda rs: share_of([r for r in rs if not r["has_regions"]], has_fan)),
        ("overlap of found and true fan, median and least", _overlaps),
        ("shown to the network", lambda rs: share_of(rs, was_asked)),
        ("not shown: what they were taken for", _not_shown),
    ]  # fmt: skip
    return by_ring("on the way", rows, {name: echoes(records) for name, records in rings.items()})


def _not_shown(records: Records) -> str:
    reasons = Counter(r["mode"] or "not sure" for r in records if not was_asked(r))
    return ", ".join(f"{mode.replace('_', ' ')} ({n})" for mode, n in reasons.most_common()) or "–"


def _overlaps(records: Records) -> str:
    found = [r["fan"] for r in records]
    return f"{np.median(found):.3f}, {min(found):.3f}" if found else "–"


def view_table(rings: Rings) -> str:
    """Return views right of those with a clear name, by what was shown, heart and species."""
    kinds = {
        "standard views, steady hand": "standard", "displaced as by a fault, still clear": "displaced",
        "planes off all views": "off",
    }  # fmt: skip
    with_fan = {name: [r for r in clear(records) if was_asked(r) and has_fan(r)] for name, records in rings.items()}
    rows: list[tuple[str, Callable[[Records], str]]] = [
        (words, _right_where("kind", kind)) for words, kind in kinds.items()
    ]
    rows += [("**all shown, fan found**", lambda rs: share_of(rs, is_right))]
    rows += [
        (heart.replace("_", " "), _right_where("heart", heart))
        for heart in sorted({r["heart"] for records in with_fan.values() for r in records})
    ]
    rows += [(species, _right_where("species", species)) for species in ("dog", "cat")]
    lines = by_ring("shown", rows, with_fan)
    rest: list[tuple[str, Callable[[Record], bool]]] = [
        ("shown, but the fan was not found (apart)", lambda r: was_asked(r) and not has_fan(r)),
        ("not shown (apart): right where none of the views is", lambda r: not was_asked(r)),
        ("every clip with a clear name", bool),
    ]
    for words, chosen in rest:
        lines += "\n" + row(
            [words, *(share_of([r for r in clear(rs) if chosen(r)], is_right) for rs in rings.values())]
        )
    return lines


def _right_where(key: str, value: str) -> Callable[[Records], str]:
    return lambda records: share_of([r for r in records if r[key] == value], is_right)


def limit_table(rings: Rings, house_limit: float) -> str:
    """Return, by limit, how many clips are proposed, how many of these rightly, and how many of all wrongly."""
    heads = [f"{what}, ring {name}" for name in rings for what in ("proposed", "right of them", "wrong of all")]
    lines = head(["limit", *heads])
    for limit in sorted({*LIMITS, house_limit}):
        cells = []
        for records in rings.values():
            asked = clear(records)
            named, right = proposals(asked, limit)
            cells += [share_words(named, len(asked)), share_words(right, named), share_words(named - right, len(asked))]
        words = f"**{limit:.2f}** (House)" if limit == house_limit else f"{limit:.2f}"
        lines.append(row([words, *cells]))
    return "\n".join(lines)


def wrong_words(rings: Rings, limit: float) -> str:
    """Return what was proposed wrongly at a limit."""
    parts = []
    for name, records in rings.items():
        wrong = Counter(
            (r["kind"], truth(r), proposed_at(r["said"], limit))
            for r in clear(records)
            if proposed_at(r["said"], limit) not in ("", truth(r))
        )
        said = [
            f"{_view(true)} ({kind}) taken for {_view(view)}{f', {count} times' if count > 1 else ''}"
            for (kind, true, view), count in wrong.most_common()
        ]
        parts.append(f"Ring {name}: {'; '.join(said) or 'none'}.")
    return f"Wrongly proposed at {limit:.2f}: " + " ".join(parts)


def _view(key: str) -> str:
    return key.replace("_", " ") or "none of these"


def landmark_table(rings: Rings, limit: float) -> str:
    """Return how far landmarks proposed at a limit lie off, in pixels of the stored frame against the model's truth."""
    lines = head(["landmarks proposed, fan found", *(f"ring {name}" for name in rings)])
    found, apart = ([_landmarks(records, limit, fan) for records in rings.values()] for fan in (True, False))
    within, within_apart = ([[(row, unit) for row, unit in rows if row[3] < SHOWN_UNITS] for rows in some]
                            for some in (found, apart))  # fmt: skip
    rows: list[tuple[str, Callable[[list[Any]], str]]] = [
        ("error, median and 90th percentile, mm", lambda rs: _quantiles([row[2] for row, _ in rs], 1.0)),
        ("in % of the healthy ventricle's diameter", lambda rs: _quantiles([row[2] / unit for row, unit in rs], 100.0)),
        ("within twice the stated spread (86 % would be right)", lambda rs: share_words(
            sum(row[2] <= 2 * row[4] for row, _ in rs), len(rs))),
    ]  # fmt: skip
    lines += [row([words, *(figure(ring) for ring in within)]) for words, figure in rows]
    further = [share_words(sum(row[3] >= SHOWN_UNITS for row, _ in ring), len(ring)) for ring in found]
    lines.append(row([f"proposed, yet {SHOWN_UNITS} diameters or more off the plane", *further]))
    errors = [_quantiles([row[2] for row, _ in ring], 1.0) for ring in within_apart]
    return "\n".join([*lines, row(["fan not found (apart): error, median and 90th percentile, mm", *errors])])


def _landmarks(records: Records, limit: float, is_found: bool) -> list[tuple[list[float], float]]:
    """Return the landmarks proposed in clips whose fan was found, or was not, each with its animal's unit in mm."""
    some = [r for r in echoes(records) if has_fan(r) is is_found]
    return [(row, r["unit_mm"]) for r in some for row in r["landmarks"] if row[1] >= limit]


def _quantiles(values: Sequence[float], scale: float) -> str:
    if not values:
        return "– (n 0)"
    return f"{scale * np.median(values):.1f}, {scale * np.quantile(values, 0.9):.1f}, n {len(values)}"


def colour_table(rings: Rings, limit: float) -> str:
    """Return what would be proposed of colour clips if they were asked, by how their colour was made grey."""
    lines = head(["asked with", *(f"ring {name}" for name in rings)])
    for how in HOW:
        words = _HOW_WORDS[how]
        asked = {name: [{**r, "said": r[how]} for r in records] for name, records in rings.items()}
        told = {name: (*proposals(records, limit, _aimed), len(records)) for name, records in asked.items()}
        right = [share_of(rs, lambda r: bool(r["said"]) and r["said"][0][0] == r["view"]) for rs in asked.values()]
        lines += [
            row([f"view right, {words}", *right]),
            row([f"proposed at {limit:.2f}, {words}", *(share_words(named, n) for named, _, n in told.values())]),
            row([f"wrong of all, {words}", *(share_words(named - right, n) for named, right, n in told.values())]),
        ]
    return "\n".join(lines)


def _aimed(record: Record) -> str:
    return str(record["view"])


def odd_table(rings: Rings, limit: float) -> str:
    """Return how many pictures that show no dog's or cat's heart are shown to the network, and proposed as a view."""
    heads = ["shown to the network", f"view of {limit:.2f} or more, held off by the masks", "a view proposed"]
    lines = head(["picture", "n", *heads, "view said there, most sure"])
    every = [r for records in rings.values() for r in records]
    for kind in [*sorted({r["kind"] for r in every}), "**all**"]:
        rows = [r for r in every if kind in (r["kind"], "**all**")]
        shown = [r for r in rows if was_asked(r)]
        most = max((share for r in shown for view, share in r["said"] if view), default=0.0)
        named = share_words(sum(bool(r["proposed"]) for r in rows), len(rows))
        held = str(sum(bool(proposed_at(r["said"], limit)) and bool(r["held_off"]) for r in shown))
        lines.append(row([kind, str(len(rows)), str(len(shown)), held, named, f"{most:.2f}" if shown else "–"]))
    return "\n".join(lines)


def share_of(records: Records, chosen: Callable[[Record], bool]) -> str:
    """Return the share of records for which something holds, in words."""
    return share_words(sum(chosen(r) for r in records), len(records))


def by_ring(what: str, rows: Sequence[tuple[str, Callable[[Records], str]]], rings: Rings) -> str:
    """Return a table with a column for each ring."""
    lines = head([what, *(f"ring {name}" for name in rings)])
    return "\n".join([*lines, *(row([words, *(figure(rs) for rs in rings.values())]) for words, figure in rows)])


def head(cells: Sequence[str]) -> list[str]:
    """Return the first two lines of a table."""
    return [row(cells), "|" + "---|" * len(cells)]


def row(cells: Iterable[str]) -> str:
    """Return one line of a table."""
    return "| " + " | ".join(cells) + " |"
