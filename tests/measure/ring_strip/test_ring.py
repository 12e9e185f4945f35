"""The excursion of the tricuspid ring off a strip that is drawn from a known one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fanlight.measure.m_mode import MModeStrip, Seen
from fanlight.measure.ring_strip import measure_ring
from fanlight.measure.ring_strip.tricuspid import TAPSE
from fanlight.measure.strip_lines.m_mode import OnPicture
from fanlight.measure.strip_lines.ring import ring_lines
from fanlight.reference.load import load_house
from fanlight.study import ENGINE, Measurement
from tests.measure.m_mode.drawn_strip import MM_PER_ROW, MS_PER_COL
from tests.measure.ring_strip.drawn_ring import RING_MM, Ring, ring_strip_of

ONE_MM = 1.0  # re-measurement of a stored strip (engineering judgement)
RING = Ring()


def _one(strip: MModeStrip) -> Measurement:
    (found,) = measure_ring(strip, Seen(clip="a", frame=3)).measurements
    return found


def test_the_ring_is_followed_though_the_wall_comes_into_the_beam_above_it() -> None:
    """The first echo comes twice as far as the ring; the number is that of the ring, within its own 95 % band."""
    found = _one(ring_strip_of(RING))

    assert found.value == pytest.approx(RING.mm, abs=ONE_MM)
    assert found.value is not None
    assert found.uncertainty is not None
    assert abs(found.value - RING.mm) < 1.96 * found.uncertainty
    assert (found.name, found.unit, found.given_by, found.clip, found.frames) == (TAPSE, "mm", ENGINE, "a", (3,))
    assert "mean of beats 1, 2, 3 of 3" in found.method


@pytest.mark.parametrize("mm", [4.0, 7.0, 12.0])
def test_a_larger_excursion_reads_larger(mm: float) -> None:
    assert _one(ring_strip_of(Ring(mm=mm))).value == pytest.approx(mm, abs=ONE_MM)


@pytest.mark.parametrize("gain_db", [-8.0, 8.0])
def test_gain_does_not_change_it(gain_db: float) -> None:
    usual, other = _one(ring_strip_of(RING)).value, _one(ring_strip_of(RING, gain_db=gain_db)).value
    assert usual is not None
    assert other == pytest.approx(usual, abs=0.3)


def test_it_is_a_length_whatever_the_size_of_the_pixels() -> None:
    """Half the pixels for the same heart, as on a smaller screen."""
    strip = ring_strip_of(RING)
    coarse = replace(strip, levels=np.ascontiguousarray(strip.levels[::2]), mm_per_row=2 * MM_PER_ROW)
    assert _one(coarse).value == pytest.approx(RING.mm, abs=ONE_MM)


def test_the_error_of_the_scale_enters() -> None:
    strip = ring_strip_of(RING)
    sure, vague = _one(strip).uncertainty, _one(replace(strip, mm_share=0.1)).uncertainty
    assert sure is not None
    assert vague == pytest.approx(np.hypot(sure, 0.1 * RING.mm), rel=0.1)


@pytest.mark.parametrize(
    ("strip", "said"),
    [
        pytest.param(ring_strip_of(RING, with_ecg=False), "no R waves are read", id="no ECG"),
        pytest.param(ring_strip_of(Ring(has_ring=False)), "the cursor meets no ring", id="no ring in the beam"),
        pytest.param(ring_strip_of(Ring(mm=0.2)), "comes towards the apex", id="the cursor lies across its way"),
        pytest.param(ring_strip_of(Ring(goes_back=False)), "does not go back in diastole", id="it stays up"),
    ],
)
def test_what_is_no_ring_is_refused_with_the_reason(strip: MModeStrip, said: str) -> None:
    found = _one(strip)
    assert found.value is None
    assert said in found.reason


def test_a_black_strip_and_a_tiny_one_are_refused() -> None:
    strip = ring_strip_of(RING)
    assert "equally bright" in _one(replace(strip, levels=np.zeros_like(strip.levels))).reason
    assert "at least 48 and 32 are needed" in _one(replace(strip, levels=strip.levels[:30, :20])).reason


def test_a_beat_that_differs_is_not_averaged_away() -> None:
    """Noise over one systole: that beat is left out with its reason, or the strip refused; never a mean of both."""
    strip = ring_strip_of(RING)
    levels = strip.levels.copy()
    first = round(RING.starts_ms[1] / MS_PER_COL)
    noise = np.random.default_rng(1).integers(0, 255, levels[:, first + 4 : first + 70].shape)
    levels[:, first + 4 : first + 70] = noise
    found = _one(replace(strip, levels=levels))
    if found.value is not None:
        assert found.value == pytest.approx(RING.mm, abs=ONE_MM)
        assert "beat 2 left out" in found.method
    else:
        assert "beat" in found.reason


def test_its_line_runs_along_the_ring_and_the_pair_is_as_long_as_the_number() -> None:
    strip = ring_strip_of(RING)
    reading = measure_ring(strip)
    lines = ring_lines(reading, OnPicture(strip, 40, 60), 0, load_house())

    assert [place.beat for place in lines.places] == [1, 2, 3]
    for place in lines.places:
        (upper, col), (lower, same) = place.points
        assert col == same
        assert (lower - upper) * MM_PER_ROW == pytest.approx(place.value, abs=0.05)
        # The pair begins at the R wave's place of the ring, where it was drawn.
        assert lower == pytest.approx(40 - 0.5 + RING_MM / MM_PER_ROW, abs=ONE_MM / MM_PER_ROW)
