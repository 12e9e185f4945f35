"""A reviewed study of which the pose names movements: the sample study, with where its probe stood put in."""

from __future__ import annotations

from dataclasses import replace

from fanlight.coach.movements.advise import advised
from fanlight.coach.movements.named import named_movements
from fanlight.reference.criteria import read_criteria
from fanlight.reference.load import load_house
from fanlight.reference.movements import read_movements
from fanlight.study import (
    Breathing,
    ClipStand,
    EitherMovement,
    LandmarksBy,
    Patient,
    ProbeOffset,
    Species,
    StudyReview,
    WindowStand,
)
from tests.report.sample import sample_review

HOUSE = load_house()
TABLES = read_movements(HOUSE)
FOUR = "right_parasternal_long_axis_four_chamber"
APICAL = "left_apical_four_chamber"
UNITS = {"slide": "mm", "space": "spaces"}
LIMITS = {"slide": 2.5, "space": 0.2, "rotate": 5.0, "tilt": 3.0, "rock": 4.0}


def offset(movement: str, mean: float, probability: float = 0.98, half: float | None = None) -> ProbeOffset:
    """One movement as the fit tells it: its mean, and as much to either side as `half` says."""
    wide = abs(mean) / 3 if half is None else half
    plus, minus = (probability, 0.0) if mean > 0 else (0.0, probability)
    return ProbeOffset(
        movement=movement, unit=UNITS.get(movement, "deg"), mean=mean, low=mean - wide, high=mean + wide,
        limit=LIMITS[movement], plus_probability=plus, minus_probability=minus,
    )  # fmt: skip


def stand(
    *offsets: ProbeOffset, view: str = FOUR, clip: str = "clip01", pairs: tuple[EitherMovement, ...] = ()
) -> WindowStand:
    """Where the probe stood in one clip, told by a person's marks."""
    one = ClipStand(
        clip=clip, view=view, given_by=LandmarksBy.PERSON, n_landmarks=8, offsets=offsets, pairs=pairs,
        none_probability=0.0, misfit_ratio=0.6,
    )  # fmt: skip
    window = "left_apical" if view.startswith("left") else "right_parasternal"
    return WindowStand(
        window=window, clips=(one,), place=(), left_out=(), has_settled=True, method="x/1", rests_on=f"{clip}{view}"
    )


def moved_review(
    *stands: WindowStand, patient: Patient | None = None, breathing: Breathing = Breathing.NORMAL
) -> StudyReview:
    """The sample study, with the corrections that these stands ask for."""
    sample = sample_review()
    told = advised(named_movements(stands, TABLES), sample.readings, TABLES, read_criteria(HOUSE), breathing)
    known = Patient(species=Species.DOG, weight_kg=12.0) if patient is None else patient
    return replace(
        sample, stands=stands, corrections=tuple(item.candidate.correction for item in told),
        study=replace(sample.study, patient=known, request=replace(sample.study.request, breathing=breathing)),
    )  # fmt: skip
