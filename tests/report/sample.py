"""An invented study, reviewed: every kind of finding, verdict and gap once."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanlight.study import (
    Band,
    Box,
    Breathing,
    CauseFound,
    CauseLevel,
    Clip,
    ClipReading,
    ClipTime,
    ClipVerdict,
    Correction,
    Coverage,
    Evidence,
    Explained,
    Finding,
    FrameTimes,
    Identity,
    IntervalReading,
    Layout,
    Measurement,
    Mode,
    ModeReading,
    Patient,
    PlanStep,
    Polyline,
    Priority,
    Purpose,
    ReferenceKind,
    Refusal,
    Request,
    Rung,
    RungState,
    Scale,
    ScaleSource,
    Sector,
    Side,
    Source,
    Species,
    Strength,
    Study,
    StudyReview,
    TimeSource,
    Valve,
    ValveLadder,
    Verdict,
    ViewReading,
    ViewSource,
)
from fanlight.study.time import BeatSource

HOSTILE = 'Juniper #let x = 1 $x$ *bold* <script>alert(1)</script> \\ "quoted" @label'

PICTURE = Sector(apex_row_px=20, apex_col_px=320, left_deg=-42, right_deg=42, near_px=0, far_px=420)


class InventedFrames:
    """Speckle in a sector: enough to see where evidence is drawn."""

    def frame(self, clip: str, frame: int) -> NDArray[np.uint8] | None:
        if clip == "lost":
            return None
        rng = np.random.default_rng(abs(hash((len(clip), frame))) % 9999)
        rows, cols = np.mgrid[0:480, 0:640]
        radius = np.hypot(rows - 20, cols - 320)
        angle = np.degrees(np.arctan2(cols - 320, rows - 20))
        inside = (radius < 420) & (np.abs(angle) < 42)
        grey = np.where(inside, 70 + 30 * rng.standard_normal((480, 640)), 0)
        return np.clip(grey, 0, 255).astype(np.uint8)


def clip(number: int, **changes: Any) -> Clip:
    facts: dict[str, Any] = {
        "key": f"clip{number:02d}",
        "number": number,
        "name": f"export/{number:03d}.dcm",
        "container": "DICOM",
        "rows": 480,
        "cols": 640,
        "n_frames": 90,
        "is_colour": False,
        "times": FrameTimes(times_ms=tuple(20.0 * k for k in range(90)), source=TimeSource.FRAME_TIME),
    }
    return Clip(**(facts | changes))


def finding(key: str, number: int, verdict: Verdict, value: float | None, **changes: Any) -> Finding:
    facts: dict[str, Any] = {
        "criterion": key,
        "clip": f"clip{number:02d}",
        "value": value,
        "unit": "1",
        "band": Band(border_low=0.15, met_low=0.25, met_high=0.6, border_high=0.75),
        "verdict": verdict,
        "source": Source(stage="critique.sample", version=1),
    }
    return Finding(**(facts | changes))


def reading(
    number: int, findings: tuple[Finding, ...], look: ClipVerdict, mode: Mode | None = Mode.TWO_D
) -> ClipReading:
    scale = Scale(
        mm_per_row_px=0.28, mm_per_col_px=0.28, source=ScaleSource.REGION, uncertainty_fraction=0.01, witnesses=()
    )
    layout = Layout(
        rows=480,
        cols=640,
        picture=PICTURE,
        picture_confidence=0.97,
        picture_reason="both edges and the deepest row were found",
        scale=scale,
        scale_reason="region and ruler agree",
    )
    return ClipReading(
        clip=clip(number),
        layout=layout,
        mode=ModeReading(mode=mode, probability=0.97, reasons=("one sector", "no coloured pixels")),
        view=ViewReading(view="", source=ViewSource.NOT_KNOWN, probability=0.0, reason="no tag, text or mark names it"),
        time=ClipTime(
            times=clip(number).times,
            beat_source=BeatSource.MOTION,
            beat_period_frames=24.0,
            beat_period_ms=480.0,
            heart_rate_bpm=125.0,
            complete_beats=3.7,
            confidence=0.8,
            ecg_reason="no trace on the screen",
        ),
        findings=findings,
        verdicts=((Purpose.LOOK, look), (Purpose.MEASURE, ClipVerdict.LIMITED), (Purpose.DOPPLER, look)),
        frames_read=90,
        key_frame=12,
    )


def sample_review(name: str = "Juniper", n_points: int = 3) -> StudyReview:
    """Return a review of six clips of an invented dog."""
    wedge = Polyline(points=(PICTURE.point(0, 0.2), PICTURE.point(1, 0.2), PICTURE.point(1, 0.3)), closed=True)
    line = Polyline(points=(PICTURE.point(0.7, 0.05), PICTURE.point(0.7, 0.95)))
    box = Box(row0=40, col0=300, row1=110, col1=350)
    missed = tuple(
        finding(
            "sample_low",
            number,
            Verdict.MISSED,
            0.08,
            side=Side.LOW,
            uncertainty=0.02,
            confidence=0.9,
            evidence=(Evidence(shape=wedge, label="shadow"), Evidence(shape=line, label="focus"), Evidence(shape=box)),
        )
        for number in (1, 2, 3)
    )
    good = tuple(finding("sample_met", number, Verdict.MET, 0.4) for number in range(1, 7))
    unknown = finding("sample_unknown", 4, Verdict.NOT_ASSESSABLE, None, reason="a still has no beats")
    border = finding("sample_border", 5, Verdict.BORDERLINE, 0.7, side=Side.HIGH)
    readings = (
        *(reading(number, (good[number - 1], missed[number - 1]), ClipVerdict.LIMITED) for number in (1, 2, 3)),
        reading(4, (good[3], unknown), ClipVerdict.DIAGNOSTIC),
        reading(5, (good[4], border), ClipVerdict.DIAGNOSTIC),
        reading(6, (good[5],), ClipVerdict.NOT_ASSESSABLE, mode=None),
    )
    point = Priority(
        criterion="sample_low",
        title="Focal depth",
        side="low",
        means="Speckle is fine near the probe and smears sideways at the depth of the left atrium.",
        cause="The focus stands far above the structures of interest.",
        correction="Set one focus at, or just below, the mitral valve; the far wall should become a crisp line.",
        clips=("clip01", "clip02", "clip03"),
        worst_clip="clip02",
        score=9.0,
    )
    held = Priority(
        criterion="sample_low",
        title="Lung over the picture",
        side="high",
        means="A grey veil moves over the far field with each breath.",
        cause="The lung lies between probe and heart.",
        correction="",
        withheld="Advice on handling is withheld: the request sheet does not say that the breathing is normal.",
        clips=("clip03",),
        worst_clip="clip03",
        score=2.0,
    )
    states = (
        (Rung.TWO_D, RungState.DIAGNOSTIC),
        (Rung.COLOUR, RungState.LIMITED),
        (Rung.PULSED_WAVE, RungState.NON_DIAGNOSTIC),
        (Rung.CONTINUOUS_WAVE, RungState.MISSING),
    )
    coverage = Coverage(
        plan="sample",
        plan_title="Full right-sided examination",
        chosen_because="no question was given",
        steps=tuple(
            PlanStep(view=f"v{k}", title=title, asked=tuple(Rung), clips=("clip01",) if k < 2 else (), states=states)
            for k, title in enumerate(
                (
                    "Right long axis, four-chamber",
                    "Right long axis, outflow",
                    "Right short axis, papillary level",
                    "Right short axis, aorta and left atrium",
                )
            )
        ),
        ladders=(ValveLadder(valve=Valve.MITRAL, states=states, notes=("PW aliased, no CW stored",)),),
        unplaced=(),
        can_judge_missing=True,
        order_notes=(
            "Colour was stored before the 2-D plane held (a note for practice, not a fault of the pictures).",
        ),
    )
    interval = IntervalReading(
        row="dog_lvidd",
        citation="CORNELL2004",
        kind=ReferenceKind.REFERENCE_INTERVAL,
        applies=True,
        reason="dog, adult, 12.4 kg",
        lower=2.66,
        upper=3.88,
        unit="cm",
        z=1.2,
        words="inside the reference interval 2.66 to 3.88 cm",
    )
    silent = IntervalReading(
        row="b2",
        citation="LAROUCHE2019",
        kind=ReferenceKind.STAGING_CRITERION,
        applies=False,
        reason="a staging limit speaks only where the disease is diagnosed",
    )
    patient = Patient(species=Species.DOG, breed="Mixed", sex="female", neutered=True, weight_kg=12.4, age_years=7.5)
    identity = Identity(
        animal_name=name,
        case_number="R-0412",
        owner="M. Ansel",
        practice="Brook Lane",
        examined_at=datetime(2026, 3, 3, 16, 20),
    )
    request = Request(
        question="Heart murmur found at vaccination",
        breathing=Breathing.NOT_STATED,
        murmur_grade=3,
        murmur_place="left apex",
        trainee="T. Okafor",
        trainee_reading="LA looks big to me.",
        missing=("breathing", "rhythm"),
    )
    study = Study(
        key="a1b2c3d4",
        source="export",
        identity=identity,
        patient=patient,
        request=request,
        clips=tuple(item.clip for item in readings),
        notes=("2 files held the same pictures; kept once",),
    )
    return StudyReview(
        study=study,
        readings=readings,
        refused=(
            Refusal(
                name="export/thorax.dcm",
                expected="an ultrasound picture",
                found="a radiograph (DX)",
                remedy="Leave it out.",
            ),
        ),
        study_findings=(finding("sample_study", 0, Verdict.MISSED, 0.0, side=Side.LOW),),
        coverage=coverage,
        measurements=(
            Measurement(
                name="LVIDd",
                label="LVIDd",
                value=3.6,
                unit="cm",
                given_by="machine report",
                readings=(interval, silent),
            ),
            Measurement(name="LA:Ao", label="LA:Ao", value=1.7, unit="1", given_by="request sheet", readings=(silent,)),
            Measurement(
                name="",
                label="Something else",
                value=7.0,
                unit="mm",
                given_by="request sheet",
                reason="the tables have no such quantity",
            ),
        ),
        priorities=tuple([point, held, *([point] * 8)][:n_points]),
        strengths=(
            Strength(
                criterion="sample_met",
                words="The depth is well used: the heart fills the picture.",
                clips=("clip01", "clip02", "clip03", "clip04"),
            ),
            Strength(criterion="sample_study", words="An ECG runs with the pictures.", clips=()),
        ),
        asked_for=request.missing,
        engine_version="0.1.0",
        house="0123456789abcdef",
    )


def sample_change() -> tuple[CauseFound, Correction]:
    """Return a cause that explains a finding of `sample_review`, and its correction."""
    cause = CauseFound(
        cause="depth_large", title="depth too large", level=CauseLevel.CONSOLE, probability=1.0, habit=1.0,
        is_habit=True, clips=("clip01",), explains=(Explained(criterion="sample_low", clip="clip01"),),
    )  # fmt: skip
    change = Correction(
        cause="depth_large", title="depth too large", level=CauseLevel.CONSOLE, when="w", correction="take depth away",
        right_when="r", resolves=1, clips=("clip01",), is_habit=True,
    )  # fmt: skip
    return cause, change
