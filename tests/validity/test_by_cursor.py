"""What a cursor that was seen on its guide does to invented numbers."""

from __future__ import annotations

import math

import pytest

from fanlight.measure.guide_cursor import GuideCursor
from fanlight.measure.strip_part import StripPart
from fanlight.measure.wall_peaks import WALL_PEAKS
from fanlight.reference.load import load_house
from fanlight.reference.m_mode_cursor import read_cursor_limits
from fanlight.study import ENGINE, House, Measurement
from fanlight.validity.by_cursor import weigh_by_cursor

HOUSE = load_house()
LIMITS = read_cursor_limits(HOUSE)


def number(name: str, value: float, unit: str = "mm", *, label: str = "", validity: str = "") -> Measurement:
    return Measurement(
        name=name, label=label or name, value=value, unit=unit, uncertainty=0.02 * abs(value), given_by=ENGINE,
        validity=validity,
    )  # fmt: skip


def cursor(part: StripPart, aslant_deg: float, error_deg: float = 1.0) -> GuideCursor:
    return GuideCursor(part=part, aslant_deg=aslant_deg, error_deg=error_deg)


def weighed(seen: GuideCursor | None, *items: Measurement) -> list[Measurement]:
    return weigh_by_cursor(items, seen, LIMITS)


@pytest.mark.parametrize(("aslant_deg", "said"), [(10, "note: on"), (21, "note: perhaps"), (30, "at least: ")])
def test_a_ring_seen_aslant_is_a_lower_bound(aslant_deg: float, said: str) -> None:
    """cos 30° = 0.866 (plane geometry): 13 % too small."""
    (tapse,) = weighed(cursor(StripPart.TRICUSPID_RING, aslant_deg), number("tapse", 9.0))
    assert tapse.validity.startswith(said)
    assert tapse.value == 9.0
    if said == "at least: ":
        assert f"about {100 * (1 - math.cos(math.radians(30))):.0f} % too small" in tapse.validity


def test_a_septum_aslant_reads_the_separation_too_large() -> None:
    (epss,) = weighed(cursor(StripPart.MITRAL_LEAFLETS, 30), number("epss", 4.0))
    assert epss.validity.startswith("at most: ")


def test_against_a_bound_to_the_other_side_the_number_goes() -> None:
    was = number("lvidd", 30.0, validity="at least: few frames")
    (found,) = weighed(cursor(StripPart.LEFT_VENTRICLE, 30), was)
    assert found.value is None
    assert found.validity.startswith("refused: ")


PEAKS = [
    pytest.param(25.0, "note: out of step: the free wall is inmost later", id="25 - 2 * 0.5 > 10"),
    pytest.param(-25.0, "note: out of step: the septum is inmost later", id="the other way round"),
    pytest.param(10.1, "note: not surely out of step", id="within its own error of the limit"),
]


@pytest.mark.parametrize(("percent", "said"), PEAKS)
def test_out_of_step_is_a_remark_with_what_looks_alike(percent: float, said: str) -> None:
    (found,) = weighed(cursor(StripPart.LEFT_VENTRICLE, 3), number("", percent, "%", label=WALL_PEAKS))
    assert found.validity.startswith(said)
    if "not surely" not in said:
        for word in ("bundle branch block", "under pressure", "no diagnosis", "licensed veterinarian"):
            assert word in found.validity


@pytest.mark.parametrize("seen", [None, cursor(StripPart.LEFT_VENTRICLE, 14, error_deg=2.0)])
def test_without_a_cursor_surely_square_nothing_is_out_of_step(seen: GuideCursor | None) -> None:
    found = weighed(seen, number("", 25.0, "%", label=WALL_PEAKS))
    assert all(item.value is None for item in found)


def test_a_wrong_limit_is_named() -> None:
    rows = {name: dict(row) for name, row in HOUSE.table("m_mode_cursor").items()}
    rows["ring_deg"]["limit"] = 90.0
    with pytest.raises(ValueError, match=r"m_mode_cursor.ring_deg.limit must lie above 0 and below 90, got 90"):
        read_cursor_limits(House(tables={"m_mode_cursor": rows}))
