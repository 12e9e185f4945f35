"""The colour scale is a house setting that gives way to physics."""

from __future__ import annotations

import pytest

from fanlight.reference.ladder import read_ladder
from fanlight.reference.valves import read_box_split, read_valves, scale_band_at
from fanlight.study import Basis, House, Valve, Verdict


def test_shipped_bands_are_shown_as_common_practice(house: House) -> None:
    """Tricuspid 60 to 75, mitral 80 to 90 cm/s, a third of the box upstream: common practice, no source."""
    valves = read_valves(house)

    assert valves[Valve.TRICUSPID].scale_cm_s == (60, 75)
    assert valves[Valve.MITRAL].scale_cm_s == (80, 90)
    assert valves[Valve.AORTIC].scale_cm_s is None
    assert {row.basis for row in valves.values()} == {Basis.COMMON_PRACTICE}
    assert read_box_split(house).upstream_fraction == pytest.approx(1 / 3, abs=0.001)


@pytest.mark.parametrize(("depth_mm", "limited"), [(60.0, False), (100.0, False), (140.0, True)])
def test_a_deep_chest_lowers_the_band(house: House, depth_mm: float, limited: bool) -> None:
    """Physics: at 3.5 MHz and 14 cm no more than 61 cm/s can be had (c²/8fd), so that 60 cm/s is not too low there."""
    band = scale_band_at(house, Valve.MITRAL, depth_mm, 3.5)

    assert band is not None
    assert band.limited is limited
    assert (band.band.judge(60.0)[0] is Verdict.MET) is limited
    assert ("physics here" in band.words) is limited


def test_what_is_not_known_is_told(house: House) -> None:
    """Without depth or frequency the band stands and the words say what was not taken into account."""
    band = scale_band_at(house, Valve.TRICUSPID, None, 3.5)

    assert band is not None
    assert band.attainable_cm_s is None
    assert "is not known" in band.words
    assert scale_band_at(house, Valve.AORTIC, 100.0, 3.5) is None


def test_a_deeper_box_never_raises_the_band(house: House) -> None:
    """The lower limit falls, or stays, as the depth grows."""
    bands = [scale_band_at(house, Valve.MITRAL, depth, 4.0) for depth in range(30, 200, 10)]
    lows = [band.band.met_low or 0.0 for band in bands if band is not None]

    assert lows == sorted(lows, reverse=True)


def test_a_split_that_is_no_whole_is_refused(house: House) -> None:
    """The two parts of the box make one."""
    table = house.table("valves")
    broken = House({**house.tables, "valves": {**table, "box": {**table["box"], "upstream_fraction": 0.5}}})

    with pytest.raises(ValueError, match="must add up to 1"):
        read_box_split(broken)


def test_each_rule_of_the_ladder_says_something_and_carries_its_note(house: House) -> None:
    """Notes are filled with view, valve and clips; a rule without a note would never be heard of."""
    rules = read_ladder(house)

    assert list(rules) == ["L1", "L2", "L3", "L4", "L5", "L6", "L7"]
    for rule in rules.values():
        assert rule.says.endswith(".")
        filled = rule.note.format(view="apical", valve="mitral", clips="3", said="no leak", gap="None (clip 3)")
        assert "3" in filled or "no leak" in filled
        assert "{" not in filled
