"""An invented study and its readings, to fill a store with: as large as a real one, and made in no time."""

from __future__ import annotations

import uuid

from fanlight import __version__
from fanlight.store.action_words import JudgedStructure, Judgement, MarkKind
from fanlight.store.actions import (
    AcceptFinding,
    Action,
    AddFinding,
    DrawMark,
    JudgeStructure,
    MoveMark,
    OverruleFinding,
    PlaceClip,
)
from fanlight.study import (
    NOT_KNOWN,
    Band,
    BeatSource,
    Box,
    Clip,
    ClipReading,
    ClipTime,
    Coverage,
    Evidence,
    Finding,
    FrameTimes,
    Identity,
    Layout,
    Mode,
    ModeReading,
    Patient,
    PlanStep,
    Polyline,
    Request,
    Rung,
    RungState,
    Species,
    Study,
    StudyReview,
    Verdict,
)

HOUSE = "0123456789abcdef"
N_FINDINGS = 30  # as many as the criteria of a 2-D clip give
VIEW = "right_parasternal_long_axis_four_chamber"


def sample_id(*parts: object) -> str:
    """Return the same id for the same parts."""
    return str(uuid.uuid5(uuid.NAMESPACE_URL, "/".join(str(part) for part in parts)))


def sample_clip(number: int, study: str = "s") -> Clip:
    """Return a clip of 60 frames."""
    return Clip(
        key=f"{study}-clip-{number}", number=number, name=f"IM{number:04d}.dcm", container="DICOM", rows=600, cols=800,
        n_frames=60, is_colour=False, times=FrameTimes(times_ms=tuple(20.0 * k for k in range(60))),
        identity=Identity(animal_name="Juniper", practice="Invented practice"),
    )  # fmt: skip


def sample_finding(clip: str, k: int) -> Finding:
    """Return a finding with something to draw."""
    line = Polyline(points=tuple((100.0 + k, 20.0 * j) for j in range(20)))
    return Finding(
        criterion=f"criterion_{k}", clip=clip, value=0.3, unit="1", band=Band(met_low=0.1, met_high=0.4),
        verdict=Verdict.MET, evidence=(Evidence(shape=line, label="here", frame=3),),
    )  # fmt: skip


def sample_reading(clip: Clip, n_findings: int = N_FINDINGS) -> ClipReading:
    """Return what the engine might say of a clip."""
    return ClipReading(
        clip=clip,
        layout=Layout(
            rows=600, cols=800, picture=None, picture_confidence=0.0, picture_reason="invented", scale=None,
            scale_reason="invented", colour_box=Box(row0=10, col0=10, row1=100, col1=200),
        ),
        mode=ModeReading(mode=Mode.TWO_D, probability=0.99, reasons=("invented",)),
        view=NOT_KNOWN,
        time=ClipTime(times=clip.times, beat_source=BeatSource.MOTION, r_frames=(3.0, 22.5, 41.0)),
        findings=tuple(sample_finding(clip.key, k) for k in range(n_findings)),
        verdicts=(),
        frames_read=60,
    )  # fmt: skip


def sample_study(n_clips: int, study: str = "s", *, urgent: bool = False, trainee: str = "") -> Study:
    """Return a study as it is put together from its files."""
    return Study(
        key=study, source="invented", identity=Identity(animal_name="Juniper"),
        patient=Patient(species=Species.DOG, weight_kg=12.5), request=Request(urgent=urgent, trainee=trainee),
        clips=tuple(sample_clip(number, study) for number in range(1, n_clips + 1)),
    )  # fmt: skip


def sample_review(study: Study) -> StudyReview:
    """Return the engine's draft for a study."""
    steps = tuple(
        PlanStep(
            view=clip.key, title="a view", asked=(Rung.TWO_D,), clips=(clip.key,),
            states=tuple((rung, RungState.NOT_ASKED) for rung in Rung),
        )
        for clip in study.clips[:12]
    )  # fmt: skip
    return StudyReview(
        study=study, readings=tuple(sample_reading(clip) for clip in study.clips), refused=(), study_findings=(),
        coverage=Coverage(
            plan="p", plan_title="plan", chosen_because="invented", steps=steps, ladders=(), unplaced=(),
            can_judge_missing=True,
        ),
        measurements=(), priorities=(), strengths=(), asked_for=(), engine_version=__version__, house=HOUSE,
    )  # fmt: skip


def sample_actions(n: int, study: str = "s") -> tuple[Action, ...]:
    """Return what a mentor might do with a study, one after the other."""
    made: list[Action] = []
    for k in range(n):
        clip = f"{study}-clip-{1 + k // 7}"
        line = ((10.0 + k, 20.0), (40.5, 60.0))
        made.append(
            (
                PlaceClip(clip=clip, view=VIEW),
                AcceptFinding(clip=clip, criterion=f"criterion_{k}"),
                OverruleFinding(clip=clip, criterion=f"criterion_{k}", verdict=Verdict.MET, reason="the edge is seen"),
                AddFinding(finding=f"f{k}", clip=clip, words="The septum bows to the left."),
                DrawMark(mark=f"m{k // 7}", clip=clip, frame=3, kind=MarkKind.LINE, points=line, landmark="LV_APEX"),
                MoveMark(mark=f"m{k // 7}", clip=clip, frame=4, points=line),
                JudgeStructure(structure=list(JudgedStructure)[k % len(JudgedStructure)], judgement=Judgement.NORMAL),
            )[k % 7]
        )
    return tuple(made)
