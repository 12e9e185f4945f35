"""Angle, correction and gate of drawn spectra with a guide, against what was drawn."""

from __future__ import annotations

import math

import pytest

from fanlight.critique.doppler.spectrum_aim import FAMILY
from fanlight.study import DrawnMark, Landmark, MarkKind, Mode, Patient, Point, Species, Valve, Verdict
from tests.critique.doppler.spectra import FAN, MM_PER_PX, Spectrum, gate_of, judge

ANGLE, TISSUE, PLACE = "spectrum_angle", "spectrum_gate_in_tissue", "spectrum_gate_place"
GUIDED = Spectrum(cursor_deg=5.0)


def _line(turn_deg: float) -> DrawnMark:
    turn = math.radians(turn_deg)
    start: Point = (30.0, 300.0)
    end = (start[0] + 40 * math.cos(turn), start[1] + 40 * math.sin(turn))
    return DrawnMark(kind=MarkKind.LINE, frame=0, points=(start, end), label="Flow axis")


def _point(landmark: Landmark, at: Point) -> DrawnMark:
    return DrawnMark(kind=MarkKind.POINT, frame=0, points=(at,), landmark=landmark.name)


@pytest.mark.parametrize(
    ("turn_deg", "verdict"), [(31.0, Verdict.BORDERLINE), (42.0, Verdict.MISSED), (-40.0, Verdict.MISSED)]
)
def test_a_wide_angle_is_read_as_drawn(turn_deg: float, verdict: Verdict) -> None:
    found = judge(GUIDED, family=FAMILY, marks=(_line(turn_deg),))[ANGLE]
    assert found.verdict is verdict
    assert found.value == pytest.approx(abs(turn_deg - 5.0), abs=2.0)
    assert found.reason.startswith("at least")


def test_a_small_angle_is_a_bound_and_clears_nobody() -> None:
    found = judge(GUIDED, family=FAMILY, marks=(_line(10.0),))[ANGLE]
    assert found.verdict is Verdict.NOT_ASSESSABLE
    assert "the angle is that or larger" in found.reason


def test_marks_of_the_valve_give_the_axis() -> None:
    """Ring at the right, apex of the ventricle at the left: 45 degrees across."""
    marks = (_point(Landmark.MITRAL_CENTRE, (70.0, 320.0)), _point(Landmark.LV_APEX, (20.0, 270.0)))
    found = judge(GUIDED, family=FAMILY, valve=Valve.MITRAL, marks=marks)[ANGLE]
    assert found.value == pytest.approx(45.0 - 5.0, abs=2.0)
    assert found.verdict is Verdict.MISSED


def test_without_marks_or_cursor_the_reason_is_said() -> None:
    assert "no mark gives the axis" in judge(GUIDED, family=FAMILY)[ANGLE].reason
    assert "no guide picture" in judge(Spectrum(), family=FAMILY)[ANGLE].reason


@pytest.mark.parametrize(("level", "verdict"), [(4, Verdict.MET), (200, Verdict.MISSED)])
def test_a_gate_in_blood_and_in_tissue(level: int, verdict: Verdict) -> None:
    found = judge(Spectrum(cursor_deg=5.0, gate_level=level), family=FAMILY)[TISSUE]
    assert found.verdict is verdict


def test_a_gate_beside_blood_is_left_open() -> None:
    """The ring of a valve moves by some millimetres in a beat (physiology): a wall a few pixels thick may move off."""
    found = judge(Spectrum(cursor_deg=5.0, gate_level=200, gate_round_px=4.5), family=FAMILY)[TISSUE]
    assert found.verdict is Verdict.NOT_ASSESSABLE
    assert "the guide shows one moment" in found.reason


def _place_marks(apart_mm: float) -> tuple[DrawnMark, ...]:
    row, col = gate_of(GUIDED)
    return (_point(Landmark.MITRAL_TIPS, (row, col + apart_mm / MM_PER_PX)),)


@pytest.mark.parametrize(
    ("apart_mm", "verdict"), [(2.0, Verdict.MET), (6.5, Verdict.BORDERLINE), (14.0, Verdict.MISSED)]
)
def test_a_gate_away_from_the_tips(apart_mm: float, verdict: Verdict) -> None:
    found = judge(GUIDED, family=FAMILY, valve=Valve.MITRAL, marks=_place_marks(apart_mm))[PLACE]
    assert found.value == pytest.approx(apart_mm, abs=1.2)
    assert found.verdict is verdict


def test_the_distance_counts_by_the_size_of_the_animal() -> None:
    """Eight times the weight is twice the length (geometry)."""
    large = Patient(species=Species.DOG, weight_kg=80.0)
    small = judge(GUIDED, family=FAMILY, valve=Valve.MITRAL, marks=_place_marks(14.0))[PLACE].value
    found = judge(GUIDED, family=FAMILY, valve=Valve.MITRAL, marks=_place_marks(14.0), patient=large)[PLACE].value
    assert small is not None
    assert found == pytest.approx(small / 2)


@pytest.mark.parametrize(
    ("valve", "patient", "words"),
    [
        (None, Patient(weight_kg=10.0), "the valve is not known"),
        (Valve.MITRAL, Patient(), "the weight of the animal is not known"),
        (Valve.AORTIC, Patient(weight_kg=10.0), "no marks give the place of the aortic valve"),
    ],
)
def test_what_is_missing_is_said(valve: Valve | None, patient: Patient, words: str) -> None:
    found = judge(GUIDED, family=FAMILY, valve=valve, marks=_place_marks(2.0), patient=patient)[PLACE]
    assert found.verdict is Verdict.NOT_ASSESSABLE
    assert words in found.reason


@pytest.mark.parametrize("mode", [Mode.CONTINUOUS_WAVE, Mode.TISSUE_DOPPLER])
def test_gates_are_asked_of_pulsed_wave_of_blood(mode: Mode) -> None:
    found = judge(GUIDED, mode, family=FAMILY, valve=Valve.MITRAL, marks=_place_marks(14.0))
    assert {found[key].verdict for key in (TISSUE, PLACE)} == {Verdict.NOT_ASSESSABLE}


def test_the_fan_holds_the_gate() -> None:
    """The drawing itself: the gate lies between face and depth."""
    assert FAN.near_px < GUIDED.gate_px < FAN.far_px


@pytest.mark.parametrize(
    ("words", "angle_deg"),
    [("Angle corr. 20.5", 20.5), ("Angle correction 60", 60.0), ("θ 45°", 45.0), ("Angle 75", None), ("Angle", None)],
)
def test_an_angle_correction_is_read_as_a_screen_writes_it(words: str, angle_deg: float | None) -> None:
    """A bare angle may be the width of the sector; where nothing is said nobody is cleared."""
    found = judge(GUIDED, family=FAMILY, words=(words,))["spectrum_angle_corrected"]
    assert found.value == angle_deg
    if angle_deg is None:
        assert found.verdict is Verdict.NOT_ASSESSABLE
