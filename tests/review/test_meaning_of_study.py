"""A review tells what its numbers mean together: what came with the study, what the engine measured, what was named."""

from __future__ import annotations

from dataclasses import replace

from fanlight.reference.load import load_house
from fanlight.review.conclude import conclude
from fanlight.study import (
    ENGINE,
    GivenMeasurement,
    HeartFailure,
    Measurement,
    Mode,
    ModeReading,
    Named,
    Patient,
    Request,
    Species,
    StudyReview,
)
from tests.report.sample import sample_review

DOG = Patient(species=Species.DOG, breed="Beagle", weight_kg=9.0, age_years=8.0)
NAMED = Named(
    by="M. Mentor", lesions=("myxomatous_mitral_valve_disease",), failure=HeartFailure.NONE, treatment="none"
)  # fmt: skip


def _review(trainee_mm: float, named: Named = NAMED) -> StudyReview:
    """Return a study with one strip, on which engine and trainee measured the ventricle."""
    review = sample_review()
    first = review.readings[0]
    strip = ModeReading(mode=Mode.M_MODE, probability=1.0, reasons=())
    measured = tuple(
        Measurement(
            name=name, label=name, value=value, unit="mm", uncertainty=0.4, given_by=ENGINE, frames=(0,),
            method="M-mode, leading edge to leading edge/1",
        )
        for name, value in (("lvidd", 34.0), ("ivsd", 8.0), ("lvwd", 6.0))
    )  # fmt: skip
    reading = replace(
        first, findings=(), mode=strip, measured=measured, measured_as=(first.view.view, first.view.valve)
    )  # fmt: skip
    theirs = GivenMeasurement(
        quantity="lvidd", label="LVIDd", value=trainee_mm, unit="mm", given_by="request sheet", method="M-mode",
        clip_name=first.clip.name.rsplit("/", 1)[-1],
    )  # fmt: skip
    request = Request(murmur_grade=3, vertebral_heart_score=11.0, trainee_measurements=(theirs,), named=named)
    study = replace(review.study, patient=DOG, request=request, machine_measurements=())
    return conclude(study, (reading,), (), load_house())


def test_a_trainee_s_caliper_that_took_the_septum_in_is_told_to_the_mentor() -> None:
    """Two readers of one M-mode lie within CV 4.3 % (ACVIM2018C10); 42 mm is our 34 mm and the septum's 8 mm."""
    (remark,) = _review(42.0).meaning.remarks

    assert remark.words.startswith("LVIDd: 42.0 mm (request sheet, ")
    assert remark.likely == "the difference is the thickness of our IVSd: the caliper may have taken that wall in"
    assert remark.about_reading
    assert remark.sheet_only
    assert _review(35.0).meaning.remarks == ()


def test_what_was_given_goes_before_what_the_summary_does_not_show() -> None:
    """The engine's M-mode numbers are kept off the summary until they are measured on enough fresh animals."""
    stage, _ = _review(35.0).meaning.gradings

    assert any(words.startswith("LVIDDN 1.83") for words in stage.used)  # 3.5 cm at 9 kg, CORNELL2004's exponent
    assert not stage.sheet_only
    assert stage.result == ""
    assert stage.missing == ("LA:Ao in the short axis",)


def test_without_a_named_lesion_nothing_is_graded() -> None:
    meaning = _review(35.0, Named()).meaning

    assert meaning.gradings == ()
    assert meaning.waits_for == ("the lesion", "the failure status", "the treatment")
