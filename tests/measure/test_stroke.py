"""Stroke volume of one study: an integral by pulsed wave and the diameter of its annulus, or what is missing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fanlight.measure.doppler.stroke import DIAMETER_SHARE, stroke_volumes
from fanlight.reference.load import load_house
from fanlight.review.conclude import conclude
from fanlight.study import ENGINE, GivenMeasurement, Measurement, Mode, Valve, ViewReading, ViewSource
from tests.report.sample import sample_review

HOUSE = load_house()
VTI = Measurement(
    name="aortic_vti", label="Aortic velocity-time integral", value=12.0, unit="cm", uncertainty=0.6, clip="IM4",
    reason="mean of 3 beats", given_by=ENGINE, validity="note: not judged",
)  # fmt: skip
MARKED = Measurement(
    name="",
    label="aortic annulus: length",
    value=16.0,
    unit="mm",
    uncertainty=0.3,
    clip="IM1",
    given_by="marked by hand",
)
GIVEN = replace(MARKED, name="aortic_annulus", label="LVOT diam", value=1.6, unit="cm", uncertainty=None)


PICTURED = replace(MARKED, name="aortic_annulus", label="aortic annulus")


@pytest.mark.parametrize("size", [MARKED, GIVEN, PICTURED], ids=["marked", "given", "on a picture"])
def test_volume_is_integral_times_area(size: Measurement) -> None:
    """VTI 12.0 cm through a round annulus of 1.6 cm is 24.13 mL (formula, worked by hand: 2.011 cm²)."""
    (found,) = stroke_volumes([VTI], [size], HOUSE)

    assert found.value == pytest.approx(24.127, abs=0.01)
    assert (found.name, found.unit, found.clip, found.validity) == ("stroke_volume", "mL", "IM4", VTI.validity)
    assert "2.01 cm² of the aortic annulus (16.0 mm" in found.reason


def test_volume_states_the_spread_of_its_readings() -> None:
    """Of sampled integrals and diameters, with the error of a diameter and that of the hand (numpy)."""
    rng, n = np.random.default_rng(4), 20_000
    vti = rng.normal(12.0, 0.6, n)
    diameter = 1.6 * (1 + rng.normal(0, DIAMETER_SHARE, n)) + rng.normal(0, 0.03, n)
    (found,) = stroke_volumes([VTI], [MARKED], HOUSE)

    assert found.uncertainty == pytest.approx(np.std(vti * np.pi * diameter**2 / 4), rel=0.05)


@pytest.mark.parametrize(
    ("sizes", "said"),
    [
        ([], "is not given; draw a line across it on a picture of this study and name it “aortic annulus”"),
        ([replace(MARKED, label="aorta: length")], "is not given; draw a line"),
        ([replace(MARKED, label="pulmonic annulus: length")], "is not given; draw a line"),
        ([PICTURED, GIVEN], "is given 2 times; keep one of them"),
        (
            [replace(MARKED, value=None, unit="", reason="nothing is calibrated")],
            "aortic annulus: nothing is calibrated",
        ),
        ([MARKED, replace(PICTURED, value=None, reason="the plane was swept")], "aortic annulus: the plane was swept"),
        ([PICTURED, replace(PICTURED, clip="IM2")], "is given 2 times; keep one of them"),
        ([replace(GIVEN, unit="kg")], "aortic annulus: "),
        ([replace(GIVEN, value=0.0)], "aortic annulus: diameter must be a number above 0"),
    ],
    ids=[
        "none",
        "another place",
        "another valve",
        "twice",
        "no scale",
        "refused",
        "two clips",
        "wrong unit",
        "no size",
    ],
)
def test_without_one_diameter_the_line_says_what_is_missing(sizes: list[Measurement], said: str) -> None:
    (found,) = stroke_volumes([VTI], sizes, HOUSE)

    assert found.value is None
    assert found.reason.startswith("not measured: ")
    assert said in found.reason


def test_a_persons_diameter_counts_before_the_engines() -> None:
    """The same line is listed as a mark and as a picture's number, and the engine may have one of its own."""
    of_engine = replace(PICTURED, value=20.0, given_by=ENGINE)

    (both,) = stroke_volumes([VTI], [MARKED, of_engine, PICTURED], HOUSE)
    (alone,) = stroke_volumes([VTI], [of_engine], HOUSE)

    assert both.value == pytest.approx(24.127, abs=0.01)
    assert alone.value == pytest.approx(24.127 * (20 / 16) ** 2, abs=0.01)


def test_without_an_integral_nothing_is_asked() -> None:
    """Why there is no integral stands in its own line."""
    assert stroke_volumes([replace(VTI, value=None), replace(VTI, name="aortic_vmax")], [MARKED], HOUSE) == ()


def test_a_bound_stays_a_bound() -> None:
    (found,) = stroke_volumes([replace(VTI, validity="at least: the beam lies aslant")], [MARKED], HOUSE)

    assert found.validity == "at least: the beam lies aslant"


@pytest.mark.parametrize("mode", [Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE])
def test_a_study_joins_both_and_continuous_wave_gives_none(mode: Mode) -> None:
    """What was typed for the study meets what its pulsed-wave clip measured; a whole line has no cross-section."""
    review = sample_review()
    view = "left_apical_five_chamber"
    reading = replace(
        review.readings[0], findings=(), measured=(VTI,), measured_as=(view, Valve.AORTIC),
        view=ViewReading(view=view, source=ViewSource.MENTOR, valve=Valve.AORTIC),
        mode=replace(review.readings[0].mode, mode=mode),
    )  # fmt: skip
    given = GivenMeasurement(
        quantity="aortic_annulus", label="aortic annulus", value=16.0, unit="mm", given_by="machine report", method="",
        clip_name="",
    )  # fmt: skip
    study = replace(review.study, machine_measurements=(given,))

    done = conclude(study, (reading,), (), HOUSE)

    volumes = [item.value for item in done.measurements if item.name == "stroke_volume"]
    assert volumes == ([pytest.approx(24.127, abs=0.01)] if mode is Mode.PULSED_WAVE else [])
