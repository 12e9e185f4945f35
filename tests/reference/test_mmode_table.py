"""The M-mode rows against a published table of 14 body weights."""

from __future__ import annotations

import pytest

from fanlight.reference.interval_limits import work_out_limits
from fanlight.reference.intervals import read_intervals
from fanlight.study import House
from tests.reference.outside import authority_rows

ROWS = authority_rows("mmode_dog_table.csv")
USED = [row for row in ROWS if row["use"] == "yes"]
HALF_LAST_DIGIT_CM = 0.05
ROUNDING = 1e-9


def _name(row: dict[str, str]) -> str:
    return f"WARE6 Table 2.1, {row['quantity']}, {row['body_weight_kg']} kg"


@pytest.mark.parametrize("row", USED, ids=_name)
def test_mean_and_limits_agree_with_the_printed_table(house: House, row: dict[str, str]) -> None:
    """Centre, lower and upper limit agree with the printed ones within half of the last printed digit."""
    interval = read_intervals(house)[f"dog_{row['quantity']}_mmode_cornell2004"]

    limits = work_out_limits(interval, row["quantity"], float(row["body_weight_kg"]))

    for printed, worked_out in (
        (row["mean_cm"], limits.centre),
        (row["lower_cm"], limits.lower),
        (row["upper_cm"], limits.upper),
    ):
        assert worked_out == pytest.approx(float(printed), abs=HALF_LAST_DIGIT_CM + ROUNDING)


def test_three_rows_are_kept_out_as_misprints() -> None:
    """What is not compared is counted and named, and each carries the reason."""
    left_out = [(row["quantity"], row["body_weight_kg"]) for row in ROWS if row["use"] != "yes"]

    assert len(ROWS) == 112
    assert left_out == [("lvidd", "9"), ("ivss", "11"), ("left_atrium", "15")]
    assert all(row["remark"] for row in ROWS if row["use"] != "yes")


def test_the_rows_kept_out_really_disagree(house: House) -> None:
    """A row is not left out for nothing: at least one of its three numbers misses by more than the last digit."""
    for row in ROWS:
        if row["use"] == "yes":
            continue
        interval = read_intervals(house)[f"dog_{row['quantity']}_mmode_cornell2004"]
        limits = work_out_limits(interval, row["quantity"], float(row["body_weight_kg"]))
        pairs = (("mean_cm", limits.centre), ("lower_cm", limits.lower), ("upper_cm", limits.upper))
        assert any(abs(float(row[name]) - (value or 0.0)) > HALF_LAST_DIGIT_CM for name, value in pairs)
