"""Tables of modes told and of colour on muscle, on records made by hand."""

from __future__ import annotations

from typing import Any

from measure import colour_masks, recognition_modes


def test_each_mode_stands_beside_what_it_is_taken_for() -> None:
    rings = {
        "B": [("two_d", "two_d"), ("two_d", "no_contact"), ("two_d", ""), ("two_d", ""), ("colour", "colour")],
        "C": [("colour", "two_d")],
    }
    words = recognition_modes.table(rings).splitlines()

    assert words[0] == "| shown | right, ring B | taken for, ring B | right, ring C | taken for, ring C |"
    assert len(words) == 4  # modes that nothing shows have no row
    assert "25.0 % (4.6–69.9), n 4 | not sure (2), " in words[2]  # Wilson's interval of one in four
    assert words[2].endswith("| – (n 0) | – |")
    assert "| 100.0 % (20.7–100.0), n 1 | – | 0.0 % (0.0–79.3), n 1 | " in words[3]


def test_only_plain_faults_are_asked_and_what_was_not_judged_is_counted_apart() -> None:
    def record(fault: str, strength: int, value: float | None, *, raised: bool = False) -> dict[str, Any]:
        return {"seed": 1, "fault": fault, "strength": strength, "value": value, "raised": raised}

    rows = [
        record("colour_write_over", 3, 0.5, raised=True), record("colour_write_over", 5, 0.0),
        record("colour_write_over", 4, None), record("colour_write_over", 1, 0.9, raised=True), record("", 0, 0.01),
    ]  # fmt: skip
    words = colour_masks.table({"A": rows}).splitlines()

    assert words[2] == "| colour written over tissue, plain: raised | 50.0 % (9.5–90.5), n 2; 1 n. a. |"
    assert words[3] == "| colour gain too high, plain: raised | – (n 0) |"
    assert words[4] == "| no fault: quiet | 100.0 % (20.7–100.0), n 1 |"
