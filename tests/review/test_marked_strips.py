"""A mark on a strip counts wherever its number is used: summary, gradings, stroke volume, ladder."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.measure.marked import GIVEN_BY
from fanlight.reference.load import load_house
from fanlight.report.measurements import measurement_blocks, symbols_of
from fanlight.review.conclude import conclude
from fanlight.study import (
    ENGINE,
    ClipReading,
    DrawnMark,
    FileMarks,
    GivenMeasurement,
    Measurement,
    Mode,
    Side,
    StudyReview,
    Valve,
    Verdict,
)
from fanlight.validity.meaning.inputs import pick, told_of
from tests.measure.test_strip_marks import at, mark, strip
from tests.report.sample import sample_review

HOUSE = load_house()
VIEW = "left_apical_five_chamber"
OUTLINE = mark("trace", "aortic VTI", [at(100, 0), at(200, -100), at(300, 0)])  # 10 cm (calculus)


def read(name: str, value: float, unit: str) -> Measurement:
    return Measurement(name=name, label=name, value=value, unit=unit, uncertainty=0.05 * value, given_by=ENGINE)


def concluded(reading: ClipReading, *marks: DrawnMark) -> StudyReview:
    study = sample_review().study
    annulus = GivenMeasurement(
        quantity="aortic_annulus", label="aortic annulus", value=16.0, unit="mm", given_by="machine report", method="",
        clip_name="",
    )  # fmt: skip
    drawn = {reading.clip.key: FileMarks(name=reading.clip.name, drawn=marks)}
    return conclude(replace(study, machine_measurements=(annulus,)), (reading,), (), HOUSE, marks=drawn)


def outflow(mode: Mode = Mode.PULSED_WAVE) -> ClipReading:
    reading = strip(mode, Valve.AORTIC)
    return replace(
        reading, view=replace(reading.view, view=VIEW), measured_as=(VIEW, Valve.AORTIC),
        measured=(read("aortic_vti", 14.0, "cm"), read("aortic_vmax", 1.2, "m/s")),
    )  # fmt: skip


def of(review: StudyReview, name: str) -> dict[str, Measurement]:
    return {item.given_by: item for item in review.measurements if item.name == name}


def test_stroke_volume_takes_the_outline_of_the_mentor() -> None:
    """10 cm through a round annulus of 16 mm (2.011 cm²) is 20.1 mL; the engine's 14 cm would give 28.1 mL."""
    found = of(concluded(outflow(), OUTLINE), "stroke_volume")

    assert list(found) == [GIVEN_BY]
    assert found[GIVEN_BY].value == pytest.approx(20.106, abs=0.01)
    assert found[GIVEN_BY].sheet_only is False
    assert of(concluded(outflow()), "stroke_volume")[ENGINE].value == pytest.approx(28.15, abs=0.01)


def test_the_engines_number_stays_behind_and_says_which_counts() -> None:
    found = of(concluded(outflow(), OUTLINE), "aortic_vti")

    assert found[ENGINE].value == 14.0
    assert found[ENGINE].beside == "marked by hand on this clip: 10.00 cm, which counts"
    assert found[ENGINE].sheet_only


def test_a_number_of_both_says_that_a_part_of_it_is_by_hand() -> None:
    """FS of a diameter of 20 mm by hand and one of 15 mm by the engine: 25 %; on the study sheet only."""
    reading = replace(
        strip(Mode.M_MODE), measured=(read("lvids", 15.0, "mm"), read("fractional_shortening", 30.0, "%")),
        measured_as=("", None),
    )  # fmt: skip
    found = of(concluded(reading, mark("line", "LVIDd", [(100, 50), (200, 50)])), "fractional_shortening")

    assert found[GIVEN_BY].value == pytest.approx(25.0)
    assert found[GIVEN_BY].sheet_only
    assert found[ENGINE].beside.startswith("with what was marked by hand on this clip: 25")


def test_gradings_and_the_summary_take_the_mentors() -> None:
    """The engine's numbers stand on the study sheet only; what a person marked stands in the summary."""
    review = concluded(outflow(), mark("point", "aortic Vmax", [at(200, -96)]))
    told = told_of(review.study, HOUSE, review.measurements)
    taken = pick(told, "aortic_vmax", "m/s", highest=True)
    paper = repr(measurement_blocks(review, {}, symbols_of(HOUSE)))

    assert taken is not None
    assert taken.value == pytest.approx(0.96)
    assert not taken.sheet_only
    assert "marked by hand" in paper
    assert "0.96" in paper
    assert "1.2 m/s" not in paper


def test_a_quantity_is_not_listed_as_a_named_mark_as_well() -> None:
    review = concluded(outflow(), OUTLINE, mark("line", "a notch", [at(100, -20), at(140, -20)]))
    by_hand = [item.label for item in review.measurements if item.given_by == GIVEN_BY]

    assert by_hand.count("aortic VTI") == 1
    assert not any(label.startswith("aortic VTI:") for label in by_hand)
    assert "a notch: time" in by_hand


def test_a_wrap_refuses_a_hands_velocity_too() -> None:
    """What a finding that is sure says of the spectrum holds for whoever reads a velocity off it."""
    wrap = sample_review().readings[0].findings[0]
    sure = replace(wrap, criterion="spectrum_wrap", verdict=Verdict.MISSED, confidence=1.0, side=Side.HIGH, value=1.0)
    review = concluded(replace(outflow(), findings=(sure,)), mark("point", "aortic Vmax", [at(200, -96)]))

    assert of(review, "aortic_vmax")[GIVEN_BY].value is None
    assert of(review, "aortic_vmax")[GIVEN_BY].validity.startswith("refused")


def test_the_ladder_asks_that_a_marked_jet_stands_on_its_spectrum() -> None:
    """One window is not enough for a jet (rule L5); a normal velocity asks for no second one."""
    reading = strip(Mode.CONTINUOUS_WAVE, Valve.TRICUSPID)
    view = "left_apical_four_chamber"
    reading = replace(reading, view=replace(reading.view, view=view), measured_as=(view, Valve.TRICUSPID))

    def told(*marks: DrawnMark) -> str:
        ladders = concluded(reading, *marks).coverage.ladders
        return " ".join(note for item in ladders if item.valve is Valve.TRICUSPID for note in item.notes)

    assert "TR Vmax 0.96 m/s (marked by hand)" in told(mark("point", "TR Vmax", [at(200, -96)]))
    assert "Reported" not in told(mark("point", "tricuspid E", [at(200, 60)]))


def test_a_mark_that_gives_nothing_beside_one_that_does_is_named_with_its_reason() -> None:
    """The number is that of the good mark alone; which mark is not in it, and why, stands beside it."""
    flat = mark("trace", "aortic VTI", [at(100, 0), at(200, 0), at(300, 0)])
    alone = of(concluded(outflow(), OUTLINE), "aortic_vti")[GIVEN_BY]
    found = of(concluded(outflow(), OUTLINE, flat), "aortic_vti")[GIVEN_BY]

    assert (found.value, found.uncertainty, alone.beside) == (alone.value, alone.uncertainty, "")
    assert found.beside == "1 mark not counted (frame 1): it has no extent on the strip; set it again"
    assert "1 mark not counted" in repr(measurement_blocks(concluded(outflow(), OUTLINE, flat), {}, {}))
