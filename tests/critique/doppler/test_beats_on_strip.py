"""Beats on a strip: its width over that of a beat."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.critique.doppler.beats_on_strip import beats_on_strip
from fanlight.study import Band, Finding, Layout, RegionReading, Verdict
from tests.critique.doppler.spectra import BOX, Spectrum, strip


def width(px: float | None) -> Finding:
    verdict = Verdict.NOT_ASSESSABLE if px is None else Verdict.MET
    return Finding(
        criterion="spectrum_sweep",
        clip="",
        value=px,
        unit="px",
        band=Band(met_low=85.0),
        verdict=verdict,
        reason="drawn",
    )


def layout() -> Layout:
    _, region = strip(Spectrum())
    return Layout(
        rows=480, cols=680, picture=None, picture_confidence=0.0, picture_reason="not looked for", scale=None,
        scale_reason="not asked", regions=(RegionReading(region=region, trusted=True, reason="drawn"),),
    )  # fmt: skip


def test_beats_are_the_width_of_the_strip_over_that_of_one() -> None:
    assert beats_on_strip(layout(), [width(BOX.width_px / 3)]) == pytest.approx(3.0)


def test_without_a_strip_or_a_rate_there_is_no_number() -> None:
    assert beats_on_strip(layout(), [width(None)]) is None
    assert beats_on_strip(layout(), []) is None
    assert beats_on_strip(replace(layout(), regions=()), [width(200.0)]) is None
