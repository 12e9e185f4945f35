"""Volumes of planes that miss the ventricle's apex: its length here against the longest of the study. Pure."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace

from fanlight.reference.validity import Effect
from fanlight.study import Measurement

# Engineering judgement: the length in a plane over the longest of the study at the same moment. People ask for about a
# tenth in apical views (from memory).
_NOTED, _SHORT = 0.95, 0.90
_SURE_SD = 2.0  # of the ratio: what lies nearer to a limit than its own error is not said
# What too short a plane makes too small, by the length of the same moment.
_SMALLER = {
    "lv_length_d": ("lv_length_d", "edv", "edv_index", "sphericity_index"),
    "lv_length_s": ("lv_length_s", "esv", "esv_index"),
}
_EITHER = ("ejection_fraction",)  # made of both: it can read too high as well as too low


def weigh_by_length(measured: Iterable[Measurement]) -> list[Measurement]:
    """Return the numbers of a study, those of a foreshortened ventricle as bounds or with a note.

    Parameters
    ----------
    measured : iterable of Measurement
        Of all clips, each with its clip's name and weighed by its clip's findings.

    Notes
    -----
    Lengths of one giver are compared, at one moment of the beat. In a plane φ off the axis an ellipsoid k times as long
    as wide reads 1/√(cos²φ + k² sin²φ) of its length: 0.90 is about 15° off with k = 1.9.
    """
    listed = list(measured)
    for giver in dict.fromkeys(item.given_by for item in listed):
        for key in _SMALLER:
            for clip, share in _shares(listed, giver, key).items():
                listed = [_told(item, share) if _is_of(item, giver, clip, key) else item for item in listed]
    return listed


def _shares(listed: Iterable[Measurement], giver: str, key: str) -> Mapping[str, tuple[float, str]]:
    """Return by clip how much of the longest length it shows, for certain, and which clip shows that."""
    lengths = [item for item in listed if item.name == key and item.given_by == giver and item.value]
    if not lengths:
        return {}
    longest = max(lengths, key=lambda item: item.value or 0.0)
    return {
        item.clip: (_at_most(item, longest), longest.clip)
        for item in lengths
        if item.clip != longest.clip and _at_most(item, longest) < _NOTED
    }


def _at_most(item: Measurement, longest: Measurement) -> float:
    """Return the share of the longest length, as large as the errors of both let it be."""
    value, most = item.value or 0.0, longest.value or 1.0
    error = math.hypot((item.uncertainty or 0.0) / value, (longest.uncertainty or 0.0) / most)
    return value / most * (1 + _SURE_SD * error)


def _is_of(item: Measurement, giver: str, clip: str, key: str) -> bool:
    return item.given_by == giver and item.clip == clip and item.name in (*_SMALLER[key], *_EITHER)


def _told(item: Measurement, share: tuple[float, str]) -> Measurement:
    if item.value is None:
        return item
    words = (
        f"the ventricle is at least {100 * (1 - share[0]):.0f} % shorter in this plane than in {share[1]}: "
        "it misses the apex"
    )
    if share[0] >= _SHORT or item.name in _EITHER:
        return replace(item, validity=_joined(item.validity, f"note: {words}"))
    if item.validity.startswith(Effect.AT_MOST.value):
        return replace(
            item, value=None, uncertainty=None, reason=f"not given: {words}; {item.validity}",
            validity=f"refused: {words}",
        )  # fmt: skip
    return replace(item, validity=_joined(f"{Effect.AT_LEAST.value}: {words}", item.validity))


def _joined(first: str, second: str) -> str:
    said = [part for part in (first, second) if part and part != "holds"]
    return "; ".join(said)
