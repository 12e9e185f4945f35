"""Criteria of colour Doppler on drawn clips with one fault each, and on a real clip that was read by eye before."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fanlight.critique.doppler.families import DOPPLER_FAMILIES
from fanlight.reference.criteria import read_family
from fanlight.study import Box, Mode, Side, Verdict
from tests.critique.doppler.colour_clips import HOUSE, Drawn, clip, judge, ramp
from tests.critique.doppler.colour_clips import PICTURE as FAN
from tests.frames.doppler.real_colour import EXPECTED, NAME, PICTURE
from tests.frames.doppler.real_colour import clip as real_clip

COLOUR = [family.name for family in DOPPLER_FAMILIES if family.name.startswith("doppler_colour")]
BESIDE = Box(row0=45, col0=520, row1=56, col1=558)
KEYS = {key for name in COLOUR for key in read_family(HOUSE, name)}


# Of a drawn clip no beat is known and no valve is marked, and a scale that holds all velocities needs no more room.
CLEARED = KEYS - {"colour_frames_a_beat", "colour_scale_room", "colour_box_split"}


def test_a_good_clip_raises_nothing() -> None:
    found = judge(clip(Drawn()))
    assert set(found) == KEYS
    assert {key: found[key].verdict for key in CLEARED} == dict.fromkeys(CLEARED, Verdict.MET)
    assert {found[key].verdict for key in KEYS - CLEARED} == {Verdict.NOT_ASSESSABLE}


def test_without_a_drawn_outline_what_is_painted_clears_nobody() -> None:
    found = judge(clip(Drawn(has_outline=False)))
    assert found["colour_box_share"].verdict is Verdict.NOT_ASSESSABLE
    assert "no drawn outline" in found["colour_box_share"].reason
    assert found["colour_filling"].verdict is Verdict.NOT_ASSESSABLE


def test_a_picture_marked_beside_the_screen_is_said_to_lie_there() -> None:
    found = judge(clip(Drawn(n_frames=6)), picture=replace(FAN, apex_row_px=-2000.0))
    for key in KEYS:
        assert found[key].verdict is Verdict.NOT_ASSESSABLE
        assert "lies off the screen: mark it anew" in found[key].reason


@pytest.mark.parametrize(
    ("drawn", "key", "side"),
    [
        (Drawn(specks_share=0.06), "colour_specks", Side.HIGH),
        (Drawn(specks_share=0.3), "colour_specks", Side.HIGH),
        (Drawn(specks_share=0.5), "colour_specks", Side.HIGH),
        (Drawn(flash_frames=(3, 4, 9, 10, 15, 16)), "colour_flash", Side.HIGH),
        (Drawn(over_px=24), "colour_over_tissue", Side.HIGH),
        (Drawn(noise_share=0.95), "colour_noise", Side.HIGH),
        (Drawn(slow_share=0.1), "colour_slow_movement", Side.HIGH),
        (Drawn(radius_px=15.0), "colour_filling", Side.LOW),
        (Drawn(clip_frames_shown=2), "colour_rate", Side.LOW),
    ],
)
def test_each_fault_is_missed_by_its_own_criterion(drawn: Drawn, key: str, side: Side) -> None:
    found = judge(clip(drawn))
    assert (found[key].verdict, found[key].side) == (Verdict.MISSED, side)


@pytest.mark.parametrize("fastest", [1.15, 1.3, 2.5, 3.3])
def test_wraps_at_a_low_scale_are_raised(fastest: float) -> None:
    found = judge(clip(Drawn(fastest=fastest)), scale=(35.0, Box(row0=45, col0=520, row1=56, col1=558)))
    assert found["colour_wrap"].verdict in (Verdict.BORDERLINE, Verdict.MISSED)
    assert found["colour_scale_use"].verdict is Verdict.NOT_ASSESSABLE


def test_fast_flow_at_a_usual_scale_is_no_fault_of_the_scale() -> None:
    found = judge(clip(Drawn(fastest=1.3)), scale=(80.0, BESIDE))
    assert found["colour_wrap"].verdict is Verdict.NOT_ASSESSABLE
    assert "continuous wave" in found["colour_wrap"].reason


def test_slow_flow_is_a_fault_of_a_high_scale_only() -> None:
    high, usual = (judge(clip(Drawn(fastest=0.22)), scale=(scale, BESIDE)) for scale in (120.0, 85.0))
    assert (high["colour_scale_use"].verdict, high["colour_scale_use"].side) == (Verdict.MISSED, Side.LOW)
    assert usual["colour_scale_use"].verdict is Verdict.NOT_ASSESSABLE


def test_a_few_fast_pixels_do_not_make_a_high_scale_used() -> None:
    """Noise and mixed colours have every speed: 360 pixels, a twenty-fifth of the stream."""
    pixels = clip(Drawn(fastest=0.22))
    flows = [k for k in range(len(pixels)) if k % 6]  # in between blood stands still
    pixels[flows, 209:221, 245:275] = ramp(np.full((12, 30), 0.95))
    found = judge(pixels, scale=(120.0, BESIDE))["colour_scale_use"]
    assert (found.verdict, found.side) == (Verdict.MISSED, Side.LOW)


def test_a_scale_that_is_not_read_is_not_judged() -> None:
    for nowhere in (None, (80.0, Box(row0=300, col0=10, row1=310, col1=40))):  # no words, or words far from the bar
        found = judge(clip(Drawn(fastest=1.3)), scale=nowhere)
        assert {found[key].verdict for key in ("colour_wrap", "colour_scale_use")} == {Verdict.NOT_ASSESSABLE}


@pytest.mark.parametrize("has_outline", [True, False])
def test_the_share_of_the_box_is_that_of_its_cells(has_outline: bool) -> None:
    # colour between 120 and 378 px and ±36° of a fan of 390 px and ±40°, flooded now and then: area by geometry
    drawn = Drawn(flash_frames=(2, 8, 14), box_deg=36.0, box_far_px=378.0, has_outline=has_outline)
    flooded = judge(clip(drawn))
    expected = (378.0**2 - 120.0**2) / 390.0**2 * 36.0 / 40.0
    assert flooded["colour_box_share"].value == pytest.approx(expected, abs=0.01 if has_outline else 0.03)
    assert flooded["colour_box_share"].verdict is Verdict.MISSED
    assert ("as large or larger" in flooded["colour_box_share"].reason) is not has_outline


def test_a_box_with_little_colour_in_it_is_as_large_as_it_is_drawn() -> None:
    found = judge(clip(Drawn(radius_px=20.0)))
    expected = (300.0**2 - 120.0**2) / 390.0**2 * 22.0 / 40.0
    assert found["colour_box_share"].value == pytest.approx(expected, abs=0.01)


def test_a_mosaic_is_counted_where_the_scale_is_right_and_only_told_where_it_is_low() -> None:
    jet = clip(Drawn(jet=2.0))
    usual = judge(jet, scale=(80.0, BESIDE))["colour_mosaic"]
    assert usual.verdict is Verdict.NOT_ASSESSABLE  # a jet is no fault of the hand
    assert usual.value is not None
    assert usual.value > 3
    assert len(usual.frames) == usual.value
    assert "continuous wave" in usual.reason
    low = judge(jet, scale=(30.0, BESIDE), mhz=3.0, mm_per_px=0.2)["colour_mosaic"]
    assert (low.verdict, low.value) == (Verdict.NOT_ASSESSABLE, None)
    assert "low" in low.reason


def test_the_tint_of_turbulence_counts_as_a_mosaic() -> None:
    """A map of velocity and variance paints turbulence in a colour of its own (common practice, no source)."""
    tints = (2, 3, 4, 14, 15, 16)  # at 0.7 of the scale or above: slow speeds have no tint
    found = judge(clip(Drawn(tinted_frames=tints)), scale=(80.0, BESIDE))["colour_mosaic"]
    assert (found.verdict, found.value, found.frames) == (Verdict.NOT_ASSESSABLE, len(tints), tints)
    assert found.reason.startswith("the tint of turbulence (variance) is seen in 6 frames")
    for few in ((), (2, 3, 4)):  # a laminar stream, and one that is stirred for a moment
        calm = judge(clip(Drawn(tinted_frames=few)), scale=(80.0, BESIDE))["colour_mosaic"]
        assert (calm.verdict, calm.value) == (Verdict.MET, len(few))


def test_noise_is_not_taken_for_fast_flow_nor_tissue_under_it_for_still() -> None:
    found = judge(clip(Drawn(noise_share=0.95)), scale=(80.0, BESIDE))
    assert found["colour_noise"].verdict is Verdict.MISSED
    for key in ("colour_wrap", "colour_scale_use", "colour_filling"):
        assert found[key].verdict is Verdict.NOT_ASSESSABLE
    assert found["colour_specks"].verdict is not Verdict.MET


def test_colour_that_is_shown_twice_is_counted_once() -> None:
    # 24 frames, 50 ms apart, each colour in two of them. Blood flows in frames 2-5, 8-11, 14-17 and 20-23, at one speed
    # each time: 19 pairs of neighbours hold colour, in 7 it comes or goes.
    once, twice = (judge(clip(Drawn(clip_frames_shown=n)))["colour_rate"].value for n in (1, 2))
    assert once == pytest.approx(20.0, abs=1.0)
    assert twice == pytest.approx(20.0 * 7 / 19)


def test_a_scale_within_what_is_usual_is_not_blamed_where_the_depth_is_not_known() -> None:
    """Jets wrap at 50 cm/s too, and whether a higher scale was to be had depends on depth and frequency."""
    found = judge(clip(Drawn(fastest=1.3)), scale=(50.0, Box(row0=45, col0=520, row1=56, col1=558)))["colour_wrap"]
    assert found.verdict is Verdict.NOT_ASSESSABLE
    assert "whether more was to be had is not known" in found.reason


def test_tissue_that_is_never_seen_is_neither_cleared_nor_blamed() -> None:
    always = judge(clip(Drawn(flash_frames=tuple(range(24)))))
    assert always["colour_over_tissue"].verdict is Verdict.NOT_ASSESSABLE
    assert "is not seen" in always["colour_over_tissue"].reason
    assert always["colour_specks"].verdict is Verdict.NOT_ASSESSABLE


WALLS_MOVE = (2, 3, 8, 9, 14, 15, 20, 21)  # a third of 24 frames


@pytest.mark.parametrize(
    ("speed_share", "verdict"),
    [
        pytest.param(0.1, Verdict.MISSED, id="as slow as walls"),
        pytest.param(0.4, Verdict.MET, id="as fast as blood: that is a flash, or flow in grey blood"),
    ],
)
def test_walls_that_are_painted_while_they_move_are_colour_over_tissue(speed_share: float, verdict: Verdict) -> None:
    """Colour of a third of the beat counts, though most frames are free of it and the others look like flashes."""
    found = judge(clip(Drawn(slow_share=speed_share, slow_frames=WALLS_MOVE)))
    assert found["colour_over_tissue"].verdict is verdict
    assert found["colour_flash"].verdict is Verdict.MISSED


def test_without_a_bar_what_needs_speeds_is_not_judged_and_says_so() -> None:
    found = judge(clip(Drawn(has_bar=False)))
    for key in ("colour_wrap", "colour_scale_use", "colour_over_tissue"):
        assert found[key].verdict is Verdict.NOT_ASSESSABLE
        assert "no bar of velocity colours" in found[key].reason
    assert found["colour_specks"].verdict is Verdict.MET


def test_power_is_not_judged_as_velocity() -> None:
    found = judge(clip(Drawn()), mode=Mode.POWER)
    assert {f.verdict for f in found.values()} == {Verdict.NOT_ASSESSABLE}


def test_other_modes_are_not_asked() -> None:
    assert judge(clip(Drawn()), mode=Mode.TWO_D) == {}


def test_the_size_of_the_chunks_hardly_matters() -> None:
    pixels = clip(Drawn(specks_share=0.02, fastest=1.4))
    whole, parts = judge(pixels), judge(pixels, size=5)
    # the box is settled from the first chunk: with fewer frames its edges lie a pixel or two elsewhere
    assert {k: f.verdict for k, f in whole.items()} == {k: f.verdict for k, f in parts.items()}
    for key, found in whole.items():
        assert parts[key].value == (None if found.value is None else pytest.approx(found.value, abs=0.02)), key


def test_a_single_frame_is_too_little_for_tissue() -> None:
    found = judge(clip(Drawn(n_frames=2)))
    assert found["colour_specks"].verdict is Verdict.NOT_ASSESSABLE
    assert "too few" in found["colour_specks"].reason


def test_a_real_clip_says_what_an_eye_wrote_down() -> None:
    # ring D: tests/real/expected.toml, written before this code
    row = EXPECTED[NAME]["colour_doppler"]
    words = Box(row0=77, col0=762, row1=88, col1=800)  # "+59.3" above the bar, of the same file
    found = judge(real_clip(), PICTURE, scale=(EXPECTED[NAME]["velocity_scale_cm_s"][0], words))
    low, high = row["box_share_of_picture_range"]
    assert low <= (found["colour_box_share"].value or 0.0) <= high
    assert found["colour_noise"].verdict is Verdict.MET
    assert row["specks_in_still_tissue"] == "no"
    assert found["colour_specks"].verdict is Verdict.MET
    assert row["whole_box_flash_frames"] == []
    assert set(found["colour_flash"].frames) <= set(row["perhaps_flash_frames"])
    assert (found["colour_wrap"].value or 0.0) > 0.0
    assert found["colour_wrap"].frames[0] in row["wrap_frames"]
