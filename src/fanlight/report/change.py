"""What a number was at an earlier visit, in its own row, and how little a difference says by itself."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from fanlight.study import Change, Measurement
from fanlight.study.sentence import capital

# Common practice, no source.
OTHER_CAUSES = (
    "Two visits: treatment, body weight, growth, heart rate, breathing, sedation, another hand and another machine "
    "move these numbers too, and of twenty that did not change about one is marked. Whether the heart changed, and "
    "what that means, the veterinarian decides."
)


def told_changes(changes: Iterable[Change], *, whole: bool) -> tuple[Change, ...]:
    """Return what may be told of changes: on the clinical summary nothing that rests on a number kept off it."""
    return tuple(item for item in changes if whole or not item.sheet_only)


def with_changes(measurements: Iterable[Measurement], changes: Iterable[Change]) -> tuple[Measurement, ...]:
    """Return the numbers, each with what stands beside it of earlier visits; of rows that are alike the first."""
    said: dict[tuple[str, str, str, str], list[str]] = {}
    for item in changes:
        row = (item.quantity, item.label, item.given_by, item.clip)
        said.setdefault(row, []).append(change_words(item).rstrip("."))
    return tuple(
        replace(item, beside=". ".join((*said.pop(_row(item)), *([capital(item.beside)] if item.beside else []))))
        if item.rank <= 1 and item.value is not None and _row(item) in said
        else item
        for item in measurements
    )


def change_words(item: Change) -> str:
    """Return a change in a sentence, with its source."""
    return f"{item.words.rstrip('.')} [{item.citation}]." if item.citation else item.words


def _row(item: Measurement) -> tuple[str, str, str, str]:
    return item.name, item.label, item.given_by, item.clip
