"""A number was measured as some valve's: a clip that was placed elsewhere since has none, and says why."""

from __future__ import annotations

from dataclasses import replace

from fanlight.reference.load import load_house
from fanlight.review.conclude import conclude
from fanlight.study import ENGINE, Measurement, Side, Valve, Verdict, ViewReading, ViewSource
from tests.report.sample import finding, sample_review

VMAX = Measurement(
    name="aortic_vmax", label="Aortic peak velocity", value=1.4, unit="m/s", uncertainty=0.05, given_by=ENGINE
)
FIVE_CHAMBER = "left_apical_five_chamber"


def _engine(valve: Valve | None, measured_as: Valve) -> list[Measurement]:
    review = sample_review()
    first = replace(
        review.readings[0],
        findings=(),
        view=ViewReading(view=FIVE_CHAMBER, source=ViewSource.MENTOR, valve=valve),
        measured=(VMAX,),
        measured_as=(FIVE_CHAMBER, measured_as),
    )
    done = conclude(review.study, (first,), (), load_house())
    return [item for item in done.measurements if item.given_by == ENGINE]


def test_a_number_stands_where_the_clip_is_placed_as_it_was_measured() -> None:
    (only,) = _engine(Valve.AORTIC, Valve.AORTIC)
    assert (only.value, only.label) == (1.4, "Aortic peak velocity")
    assert only.readings


def test_a_number_of_another_valve_gives_way_to_a_reason() -> None:
    (only,) = _engine(Valve.PULMONIC, Valve.AORTIC)
    assert only.value is None
    assert "Aortic" not in only.label
    assert "placed after it was read" in only.reason


def test_a_bound_is_held_against_no_interval() -> None:
    """At least 1.4 m/s is neither inside nor above anything: the true value is not known."""
    review = sample_review()
    aslant = finding("spectrum_angle", 1, Verdict.MISSED, 40.0, side=Side.HIGH, confidence=0.8)
    first = replace(
        review.readings[0], findings=(aslant,), measured=(VMAX,), measured_as=(FIVE_CHAMBER, Valve.AORTIC),
        view=ViewReading(view=FIVE_CHAMBER, source=ViewSource.MENTOR, valve=Valve.AORTIC),
    )  # fmt: skip
    done = conclude(review.study, (first,), (), load_house())
    (only,) = (item for item in done.measurements if item.given_by == ENGINE)
    assert only.value == 1.4
    assert only.validity.startswith("at least")
    assert only.readings == ()
