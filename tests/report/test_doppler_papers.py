"""Doppler in letters: the cited picture keeps its colour and its strip, the caution of angles, what a valve lacks."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime
from html import unescape
from io import BytesIO

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from fanlight.coach.priorities import find_priorities
from fanlight.critique.doppler.confidence import UNMEASURED
from fanlight.reference.criteria import read_criteria
from fanlight.reference.letter import read_letter_limits
from fanlight.reference.load import load_house
from fanlight.report.annotate import draw_evidence
from fanlight.report.document import Advice
from fanlight.report.doppler_words import LOWER_BOUND, lacking_rungs, rung_notes
from fanlight.report.html import render_html
from fanlight.report.letter import build_letter
from fanlight.report.study_sheet import build_study_sheet
from fanlight.report.summary import build_summary
from fanlight.study import (
    Box,
    Breathing,
    ClipReading,
    ClipVerdict,
    Evidence,
    Finding,
    LadderFinding,
    Layout,
    Measurement,
    Mode,
    Polyline,
    Purpose,
    Region,
    RegionReading,
    Rung,
    RungState,
    ScreenText,
    Side,
    StudyReview,
    Valve,
    ValveLadder,
    Verdict,
)
from tests.report.sample import PICTURE, finding, reading, sample_review

WHEN = datetime(2026, 11, 26, 9, 0)
HOUSE = load_house()
STRIP = Box(row0=300, col0=40, row1=440, col1=600)
GUIDE = replace(PICTURE, apex_row_px=20, far_px=200)
RED, BLUE = (220, 40, 20), (30, 60, 230)


def duplex(*, trusted: bool = True) -> Layout:
    region = Region(
        spatial_format=3, data_type=3, box=STRIP, unit_x=4, unit_y=7, delta_x=0.004, delta_y=-1.0, reference_row_px=70
    )
    return Layout(
        rows=480, cols=640, picture=GUIDE, picture_confidence=1, picture_reason="", scale=None, scale_reason="",
        regions=(RegionReading(region=region, trusted=trusted, reason=""),),
    )  # fmt: skip


def screen() -> NDArray[np.uint8]:
    """A name in the corner and between picture and strip; red in the guide, blue in the strip."""
    pixels = np.zeros((480, 640, 3), np.uint8)
    pixels[:16, :100] = pixels[240:280, :] = 255
    pixels[100:120, 310:330] = RED
    pixels[350:370, 100:500] = BLUE
    return pixels


def shares(picture: NDArray[np.uint8]) -> tuple[float, float, float]:
    """Return how much of a picture is reddish, bluish and white."""
    red, green, blue = (picture[..., n].astype(int) for n in range(3))
    return (
        float(((red > 150) & (blue < 100) & (green < 100)).mean()),
        float(((blue > 150) & (red < 100)).mean()),
        float(((red > 200) & (green > 200) & (blue > 200)).mean()),
    )


def test_a_cited_spectrum_stands_with_its_picture_in_colour_and_without_names() -> None:
    drawn = draw_evidence(screen(), duplex(), (), 0)

    red, blue, white = shares(drawn)
    assert red > 0
    assert blue > 0.02
    assert white == 0


def test_a_strip_that_the_pixels_do_not_bear_out_stays_outside() -> None:
    """Nobody knows what stands there: it may be a name."""
    red, blue, white = shares(draw_evidence(screen(), duplex(trusted=False), (), 0))

    assert red > 0
    assert (blue, white) == (0, 0)


def test_a_strip_that_takes_the_whole_screen_or_holds_a_name_stays_outside() -> None:
    """What a file says of its screen is no proof: a region may be far too large."""
    layout = duplex()
    (stated,) = layout.regions
    whole = replace(stated, region=replace(stated.region, box=Box(row0=0, col0=0, row1=480, col1=640)))
    name = ScreenText(
        text="Tansy", box=Box(row0=STRIP.row0 + 2, col0=120, row1=STRIP.row0 + 12, col1=160), confidence=0.9
    )

    for other in (replace(layout, regions=(whole,)), replace(layout, texts=(name,))):
        _, blue, white = shares(draw_evidence(screen(), other, (), 0))
        assert (blue, white) == (0, 0)


def spectral(confidence: float) -> tuple[ClipReading, Finding]:
    """A pulsed wave whose peak is cut off, as sure as is said."""
    criterion = read_criteria(HOUSE)["spectrum_wrap"]
    line = Polyline(points=((301.0, 100.0), (301.0, 500.0)))
    missed = finding(
        "spectrum_wrap", 1, Verdict.MISSED, 0.8, unit=criterion.unit, band=criterion.band, side=Side.HIGH,
        confidence=confidence, evidence=(Evidence(shape=line, label="end of the scale"),),
    )  # fmt: skip
    made = reading(1, (missed,), ClipVerdict.NOT_ASSESSABLE, mode=Mode.PULSED_WAVE)
    verdicts = tuple((purpose, ClipVerdict.NOT_ASSESSABLE) for purpose in Purpose)
    return replace(made, layout=duplex(), verdicts=verdicts, key_frame=0), missed


class OneScreen:
    def frame(self, clip: str, frame: int) -> NDArray[np.uint8] | None:
        return screen()


def reviewed(confidence: float) -> StudyReview:
    made, missed = spectral(confidence)
    limits = read_letter_limits(HOUSE)
    points = find_priorities([missed], read_criteria(HOUSE), Breathing.NORMAL, limits.sure_from)
    first = sample_review()
    return replace(first, readings=(made, *first.readings[1:]), priorities=points)


def test_what_was_not_measured_is_too_unsure_for_a_letter() -> None:
    """The rule that keeps criteria without a row in docs/accuracy.md out of letters."""
    assert read_letter_limits(HOUSE).sure_from > UNMEASURED
    assert reviewed(UNMEASURED).priorities == ()


def test_once_it_is_sure_a_doppler_point_stands_with_value_picture_and_what_to_do() -> None:
    letter = build_letter(reviewed(0.9), OneScreen(), WHEN)

    (point,) = [block for block in letter.blocks if isinstance(block, Advice)]
    assert point.title == "Spectrum within its scale"
    assert point.value == "clip 1: 80 %; target at most 39 %"
    assert "continuous wave along the same line" in point.correction
    assert point.figure is not None
    assert point.figure.caption == "Clip 1, frame 1"
    _, blue, white = shares(np.asarray(Image.open(BytesIO(point.figure.png)).convert("RGB")))
    assert blue > 0.02
    assert white == 0


def test_velocities_carry_the_caution_of_the_angle() -> None:
    """In the letter where a spectrum is there, in the summary where a velocity or gradient is; nowhere else."""
    first = sample_review()
    jet = Measurement(name="", label="aortic outflow: gradient", value=7.9, unit="mmHg", given_by="marked by hand")

    def has(document: object) -> bool:
        return LOWER_BOUND in unescape(re.sub(r"\s+", " ", render_html(document)))  # type: ignore[arg-type]

    assert has(build_letter(reviewed(0.9), OneScreen(), WHEN))
    assert not has(build_letter(first, OneScreen(), WHEN))
    summary = build_summary(replace(first, measurements=(*first.measurements, jet)), {"QUINONES2002": "Q"}, HOUSE, WHEN)
    assert has(summary)
    assert "QUINONES2002: Q" in render_html(summary)  # among the sources, in full
    assert not has(build_summary(first, {}, HOUSE, WHEN))


def test_a_rung_that_one_valve_lacks_is_said_where_no_step_says_it() -> None:
    first = sample_review().coverage
    reached = tuple((rung, RungState.DIAGNOSTIC) for rung in Rung)
    stored = replace(first, steps=tuple(replace(step, states=reached) for step in first.steps), unplaced=())

    assert lacking_rungs(stored) == "Asked for at a valve and not found: mitral valve: CW."
    assert lacking_rungs(first) == ""  # each step says it already
    assert lacking_rungs(replace(stored, can_judge_missing=False)) == ""
    assert lacking_rungs(replace(stored, unplaced=("waits",))) == ""  # it may be of that valve
    text = unescape(render_html(build_letter(replace(sample_review(), coverage=stored), OneScreen(), WHEN)))
    assert "mitral valve: CW." in text
    assert "Everything that the plan asks for was stored" not in text


@pytest.mark.parametrize(("n", "shown"), [(0, 0), (3, 3), (5, 4)])
def test_a_letter_teaches_a_few_rules_of_the_ladder_and_counts_the_rest(n: int, shown: int) -> None:
    ladder = ValveLadder(valve=Valve.AORTIC, states=(), notes=tuple(f"note {k}" for k in range(n)))
    notes = rung_notes(replace(sample_review().coverage, ladders=(ladder,)))

    assert len(notes) == shown
    assert n == 0 or notes[0] == "Aortic valve: note 0"
    assert n <= 3 or notes[-1] == f"And {n - 3} more about the rungs: see the study sheet."


def test_what_is_only_perhaps_so_stands_on_the_sheet_and_not_in_the_letter() -> None:
    unsure = LadderFinding(rule="L3", words="Perhaps it wraps.", clips=("clip05",), is_sure=False)
    sure = LadderFinding(rule="L2", words="No colour.", clips=("clip05",))
    ladder = ValveLadder(
        valve=Valve.AORTIC, states=(), notes=(unsure.words, sure.words, "More."), findings=(unsure, sure)
    )
    review = replace(sample_review(), coverage=replace(sample_review().coverage, ladders=(ladder,)))

    assert rung_notes(review.coverage) == ["Aortic valve: No colour.", "Aortic valve: More."]
    shown = replace(review, study_findings=(), readings=())
    sheet = build_study_sheet(shown, read_criteria(HOUSE), {}, {}, OneScreen(), HOUSE, WHEN)
    assert unsure.words in unescape(render_html(sheet))
