"""Criteria of colour Doppler on drawn clips with one fault each, and on a real clip that was read by eye before."""

from __future__ import annotations

import pytest

from fanlight.critique.doppler.families import DOPPLER_FAMILIES
from fanlight.reference.criteria import read_family
from fanlight.study import Mode, Side, Verdict
from tests.critique.doppler.colour_clips import HOUSE, Drawn, clip, judge
from tests.frames.doppler.test_colour_real import EXPECTED, NAME, PICTURE
from tests.frames.doppler.test_colour_real import clip as real_clip

COLOUR = [family.name for family in DOPPLER_FAMILIES if family.name.startswith("doppler_colour")]
KEYS = {key for name in COLOUR for key in read_family(HOUSE, name)}


def test_a_good_clip_raises_nothing() -> None:
    found = judge(clip(Drawn()))
    assert set(found) == KEYS
    assert {key: f.verdict for key, f in found.items()} == dict.fromkeys(KEYS, Verdict.MET)


@pytest.mark.parametrize(
    ("drawn", "key", "side"),
    [
        (Drawn(fastest=3.3), "colour_wrap", Side.HIGH),
        (Drawn(fastest=0.22), "colour_scale_use", Side.LOW),
        (Drawn(specks_share=0.06), "colour_specks", Side.HIGH),
        (Drawn(flash_frames=(3, 4, 9, 10, 15, 16)), "colour_flash", Side.HIGH),
        (Drawn(over_px=24), "colour_over_tissue", Side.HIGH),
    ],
)
def test_each_fault_is_seen_by_its_own_criterion(drawn: Drawn, key: str, side: Side) -> None:
    found = judge(clip(drawn))
    assert found[key].verdict in (Verdict.BORDERLINE, Verdict.MISSED)
    assert found[key].side is side
    others = {other: f.verdict for other, f in found.items() if other != key and f.verdict is Verdict.MISSED}
    assert not others


def test_the_share_of_the_box_is_that_of_its_cells() -> None:
    # colour between 120 and 300 px and ±22° of a fan of 390 px and ±40°, every frame flooded: area by geometry
    flooded = judge(clip(Drawn(flash_frames=tuple(range(24)))))
    expected = (300.0**2 - 120.0**2) / 390.0**2 * 22.0 / 40.0
    assert flooded["colour_box_share"].value == pytest.approx(expected, abs=0.02)


def test_without_a_bar_the_scale_is_not_judged_and_says_so() -> None:
    found = judge(clip(Drawn(has_bar=False)))
    for key in ("colour_wrap", "colour_scale_use"):
        assert found[key].verdict is Verdict.NOT_ASSESSABLE
        assert "no bar of velocity colours" in found[key].reason
    assert found["colour_specks"].verdict is Verdict.MET


def test_power_is_not_judged_as_velocity() -> None:
    found = judge(clip(Drawn()), mode=Mode.POWER)
    assert {f.verdict for f in found.values()} == {Verdict.NOT_ASSESSABLE}


def test_other_modes_are_not_asked() -> None:
    assert judge(clip(Drawn()), mode=Mode.TWO_D) == {}


def test_the_size_of_the_chunks_does_not_matter() -> None:
    pixels = clip(Drawn(specks_share=0.02, fastest=1.4))
    whole, parts = judge(pixels), judge(pixels, size=5)
    assert {k: f.value for k, f in whole.items()} == {k: f.value for k, f in parts.items()}


def test_a_single_frame_is_too_little_for_tissue() -> None:
    found = judge(clip(Drawn(n_frames=2)))
    assert found["colour_specks"].verdict is Verdict.NOT_ASSESSABLE
    assert "too few" in found["colour_specks"].reason


def test_a_real_clip_says_what_an_eye_wrote_down() -> None:
    # ring D: tests/real/expected.toml, written before this code
    row = EXPECTED[NAME]["colour_doppler"]
    found = judge(real_clip(), PICTURE)
    low, high = row["box_share_of_picture_range"]
    assert low <= (found["colour_box_share"].value or 0.0) <= high
    assert found["colour_box_share"].verdict is Verdict.MET
    assert row["specks_in_still_tissue"] == "no"
    assert found["colour_specks"].verdict is Verdict.MET
    assert row["whole_box_flash_frames"] == []
    assert set(found["colour_flash"].frames) <= set(row["perhaps_flash_frames"])
    assert (found["colour_wrap"].value or 0.0) > 0.0
    assert found["colour_wrap"].frames[0] in row["wrap_frames"]
