"""Criteria of spectra on whole simulated screens, against what was set and what the model's blood does."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest

from fanlight.critique.accumulator import ClipContext, Family
from fanlight.critique.doppler import spectrum_aim, spectrum_edge, spectrum_timing
from fanlight.critique.doppler.told import tell
from fanlight.frames.layout_of import read_layout
from fanlight.frames.polar import to_grey
from fanlight.heart.animal import animal_landmarks
from fanlight.heart.cycle import state_at
from fanlight.reference.criteria import read_family
from fanlight.simulate.clip.colour_box_at import place_in_picture
from fanlight.simulate.faults.doppler_faults import doppler_kind
from fanlight.simulate.machine.beams import line_geometry
from fanlight.study import (
    Clip,
    ClipTime,
    DrawnMark,
    FileMarks,
    Finding,
    Landmark,
    MarkKind,
    Mode,
    ModeReading,
    Patient,
    PictureChunk,
    Valve,
    Verdict,
    ViewReading,
    ViewSource,
)
from tests.critique.doppler.colour_clips import HOUSE, TIME
from tests.recognise.simulated_rungs import SPECTRA_AT, Case, MadeRung, draw_case, make_rung, steady_rung

SEED = 328
FAMILIES = (spectrum_edge.FAMILY, spectrum_aim.FAMILY, spectrum_timing.FAMILY)
RAISED = (Verdict.BORDERLINE, Verdict.MISSED)
MARKED = (Landmark.MITRAL_CENTRE, Landmark.LV_APEX, Landmark.MITRAL_SEPTAL_TIP, Landmark.MITRAL_PARIETAL_TIP)


@lru_cache(maxsize=1)
def _case() -> Case:
    return draw_case(SEED)


@lru_cache(maxsize=8)
def _made(fault: str = "", strength: int = 0) -> MadeRung:
    case = _case()
    steady = steady_rung(case, SPECTRA_AT[Valve.MITRAL], Valve.MITRAL, Mode.PULSED_WAVE)
    machine = replace(steady.doppler.spectral, sweep_mm_s=50.0)  # some beats, whatever the width of the strip
    steady = replace(steady, doppler=replace(steady.doppler, machine=machine))
    rng = np.random.default_rng(1)
    made = doppler_kind(fault).make(strength, case.animal, rng) if fault else None
    return make_rung(case, steady, rng, made)


def _marks(made: MadeRung) -> tuple[DrawnMark, ...]:
    """Where the model's landmarks lie on the guide at the peak of filling."""
    case, clip = _case(), made.clip
    assert clip is not None
    assert made.screen.placed is not None
    lines, placed = line_geometry(clip.clip.probe, clip.clip.console), made.screen.placed
    moment = case.flow.valve(Valve.MITRAL, clip.doppler.sought).time_ms
    points = animal_landmarks(case.animal, state_at(case.animal.rhythm, case.flow.body.beats, moment))
    out = []
    for landmark in MARKED:
        depth, angle = place_in_picture(lines, clip.clip.pose, points[landmark])
        radius = placed.sector.near_px + depth / placed.mm_per_px
        turn = math.radians(angle)
        at = (placed.sector.apex_row_px + radius * math.cos(turn), placed.sector.apex_col_px + radius * math.sin(turn))
        out.append(DrawnMark(kind=MarkKind.POINT, frame=0, points=(at,), landmark=landmark.name))
    return tuple(out)


def _judged(made: MadeRung, family: Family, *, valve: Valve | None = Valve.MITRAL) -> dict[str, Finding]:
    n, rows, cols, _ = made.pixels.shape
    clip = Clip(
        key="", number=1, name="", container="", rows=rows, cols=cols, n_frames=n, is_colour=True, regions=made.regions
    )
    layout = read_layout(clip, made.pixels)
    animal = _case().animal
    context = ClipContext(
        clip=clip, patient=Patient(species=animal.species, weight_kg=animal.weight_kg), layout=layout,
        mode=ModeReading(mode=made.mode, probability=1.0, reasons=()), criteria=read_family(HOUSE, family.name),
    )  # fmt: skip
    tell(
        context.shared, ViewReading(view="", source=ViewSource.MENTOR, valve=valve),
        FileMarks(name="", drawn=_marks(made)),
    )  # fmt: skip
    time: ClipTime = replace(TIME, beat_period_ms=made.rr_ms)
    work = family.start(context)
    work.add(PictureChunk(first=0, pixels=made.pixels, grey=to_grey(made.pixels), beams=None))
    return {item.criterion: item for item in work.finish(time)}


def test_a_steady_hand_raises_nothing() -> None:
    said = {k: v.verdict for family in FAMILIES for k, v in _judged(_made(), family).items()}
    assert not [key for key, verdict in said.items() if verdict in RAISED]
    assert said["spectrum_wrong_signal"] is Verdict.MET


def test_a_steady_gate_lies_in_its_place() -> None:
    assert _judged(_made(), spectrum_aim.FAMILY)["spectrum_gate_place"].verdict is Verdict.MET


@pytest.mark.parametrize(
    ("fault", "strength", "family", "key"),
    [
        ("spectral_gain_low", 5, spectrum_edge.FAMILY, "spectrum_faint"),
        ("spectral_gain_high", 5, spectrum_edge.FAMILY, "spectrum_blooming"),
        ("gate_misplaced", 5, spectrum_aim.FAMILY, "spectrum_gate_place"),
        ("angle_corrected", 3, spectrum_aim.FAMILY, "spectrum_angle_corrected"),
    ],
)
def test_a_gross_fault_is_seen(fault: str, strength: int, family: Family, key: str) -> None:
    assert _judged(_made(fault, strength), family)[key].verdict in RAISED


def test_the_angle_is_no_wider_than_the_models() -> None:
    """A bound: what the picture shows of the angle is at most that between beam and flow in space, within the marks."""
    made = _made("gate_misplaced", 5)
    found = _judged(made, spectrum_aim.FAMILY)["spectrum_angle"]
    assert made.heard is not None
    shown = found.value if found.value is not None else float(found.reason.split(" at ")[1].split(" ")[0])
    assert shown <= made.heard.angle_deg + 15.0


def test_inflow_said_to_be_outflow_runs_at_the_wrong_time() -> None:
    assert _judged(_made(), spectrum_timing.FAMILY, valve=Valve.AORTIC)["spectrum_wrong_signal"].verdict in RAISED
