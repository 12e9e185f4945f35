"""The time of the picture stage: which clips decide whether the target is met."""

from __future__ import annotations

from typing import Any

import pytest

from measure.recognition_speed import verdict


def _record(kind: str, picture_s: float, bare_s: float | None = 0.10) -> dict[str, Any]:
    return {"kind": kind, "picture_s": picture_s, "lines_s": 0.01, "bare_s": bare_s}


@pytest.mark.parametrize(
    ("long_s", "words"), [(0.125, "met (1.10 and 1.15)"), (0.145, "missed (1.10 and 1.35)")]
)  # fmt: skip
def test_short_and_long_clips_must_both_keep_to_the_target(long_s: float, words: str) -> None:
    rings = {
        "B": [_record("standard", 0.12), _record("off", 0.12), _record("standard", 9.0, None)],
        "C": [_record("displaced", 0.50), _record("off", 0.11), _record("long", long_s)],
    }
    rings["C"] += [_record("standard", 0.12)]
    assert verdict(rings) == f"target 1.2 without calipers: {words}"
