"""What marks say, held against worked examples that the pages of the desk are held to as well."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from fanlight.measure.areas import areas_of
from fanlight.measure.read_out import read_out
from fanlight.study import (
    Box,
    Layout,
    MarkedAxis,
    MarkedDistance,
    Region,
    RegionReading,
    Scale,
    ScaleSource,
    Sector,
    Strip,
    StripAxis,
)
from fanlight.study.codec import from_plain

CASES = json.loads((Path(__file__).parent / "read_out_cases.json").read_text("utf-8"))


def layout_of(plain: dict[str, Any]) -> Layout:
    kinds: dict[str, Any] = {"sector": Sector, "strip": Strip}
    picture = plain["picture"] and from_plain(
        {key: v for key, v in plain["picture"].items() if key != "kind"}, kinds[plain["picture"]["kind"]]
    )
    scale = plain["scale"] and from_plain(
        {"source": ScaleSource.REGION, "uncertainty_fraction": 0.0, "witnesses": [], **plain["scale"]}, Scale
    )
    regions = tuple(
        RegionReading(
            region=Region(**{**item["region"], "box": Box(**item["region"]["box"])}), trusted=item["trusted"], reason=""
        )
        for item in plain["regions"]
    )
    return Layout(
        rows=plain["rows"], cols=plain["cols"], picture=picture, picture_confidence=1.0, picture_reason="", scale=scale,
        scale_reason="", regions=regions,
    )  # fmt: skip


@pytest.mark.parametrize("case", CASES["cases"], ids=lambda case: case["name"])
def test_a_mark_says_what_was_worked_out_by_hand(case: dict[str, Any]) -> None:
    marked = case.get("marked", {})
    depth = from_plain(marked["depth"], MarkedDistance) if "depth" in marked else None
    axes = [from_plain(item, MarkedAxis) for item in marked.get("axes", [])]
    layout = layout_of(CASES["screens"][case["screen"]])
    areas = areas_of(layout, depth, axes, holds_read=marked.get("holdsRead", False))

    found = read_out(case["kind"], [(row, col) for row, col in case["points"]], areas)

    assert found.area == case["area"]
    assert [(item.name, item.unit) for item in found.values] == [(name, unit) for name, _, unit in case["values"]]
    assert [item.value for item in found.values] == pytest.approx([value for _, value, _ in case["values"]])


@pytest.mark.parametrize(
    ("axis", "end", "amount", "words"),
    [
        ("time", (10, 11), 200, "at least 2 columns apart, got 1"),
        ("velocity", (11, 90), 200, "at least 2 rows apart, got 1"),
        ("time", (10, 90), 0, "above 0 ms, got 0"),
        ("velocity", (90, 10), float("nan"), "above 0 cm/s, got nan"),
    ],
)
def test_a_scale_that_says_nothing_is_refused(axis: str, end: tuple[float, float], amount: float, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        MarkedAxis(axis=StripAxis(axis), start=(10.0, 10.0), end=end, amount=amount)
