"""A plane that misses the apex makes its volumes bounds: held against the longest ventricle of the study."""

from __future__ import annotations

import math

import pytest

from fanlight.measure.picture.obliquity import length_shortfall
from fanlight.study import Measurement
from fanlight.validity.by_length import weigh_by_length

HAND, ENGINE = "marked by hand", "engine"


def _number(name: str, value: float, clip: str, *, given_by: str = HAND, validity: str = "holds") -> Measurement:
    return Measurement(
        name=name, label=name, value=value, unit="mm", uncertainty=0.01 * value, clip=clip, given_by=given_by,
        validity=validity,
    )  # fmt: skip


def _weighed(short_mm: float, *others: Measurement) -> dict[tuple[str, str], Measurement]:
    lengths = (_number("lv_length_d", 50.0, "IM1"), _number("lv_length_d", short_mm, "IM2"))
    return {(item.name, item.clip): item for item in weigh_by_length((*lengths, *others))}


@pytest.mark.parametrize(
    ("tilt_deg", "said"), [(0.0, "holds"), (8.0, "holds"), (16.0, "note: "), (21.0, "at least: "), (30.0, "at least: ")]
)
def test_the_farther_off_the_axis_the_graver(tilt_deg: float, said: str) -> None:
    """Lengths of an ellipsoid 1.9 times as long as wide, cut so far off (plane geometry)."""
    found = _weighed(50.0 * (1 - length_shortfall(tilt_deg, 1.9)), _number("edv", 20.0, "IM2"))
    assert found["edv", "IM2"].validity.startswith(said)
    assert found["lv_length_d", "IM1"].validity == "holds"


def test_the_words_name_the_longer_clip_and_what_is_sure() -> None:
    """40 of 50 mm, each to 1 %: at most 0.8 · (1 + 2 · √2 %) of it, so at least 18 % shorter."""
    found = _weighed(40.0, _number("edv", 20.0, "IM2", validity="note: gain"))["edv", "IM2"]
    sure = 100 * (1 - 0.8 * (1 + 2 * math.sqrt(2) / 100))

    assert f"{sure:.0f} % shorter in this plane than in IM1: it misses the apex" in found.validity
    assert found.validity.endswith("; note: gain")
    assert found.value == 20.0


def test_ejection_is_noted_and_systole_has_a_length_of_its_own() -> None:
    found = _weighed(40.0, _number("ejection_fraction", 60.0, "IM2"), _number("esv", 8.0, "IM2"))
    assert found["ejection_fraction", "IM2"].validity.startswith("note: ")
    assert found["esv", "IM2"].validity == "holds"


def test_a_bound_to_both_sides_is_refused() -> None:
    found = _weighed(40.0, _number("edv", 20.0, "IM2", validity="at most: so few frames"))["edv", "IM2"]
    assert found.value is None
    assert "at most: so few frames" in found.reason


def test_givers_are_not_held_against_each_other() -> None:
    by_engine = _number("lv_length_d", 70.0, "IM3", given_by=ENGINE)
    assert _weighed(49.0, by_engine)["lv_length_d", "IM2"].validity == "holds"


def test_errors_as_large_as_the_difference_say_nothing() -> None:
    vague = [
        Measurement(name="lv_length_d", label="", value=v, unit="mm", uncertainty=4.0, clip=c, given_by=HAND)
        for v, c in ((50.0, "IM1"), (45.0, "IM2"))
    ]
    assert [item.validity for item in weigh_by_length(vague)] == ["", ""]
