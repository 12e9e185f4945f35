"""Doppler faults on settings: five grades that grow, one knob each, nothing else changed."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

import numpy as np
import pytest

from fanlight.simulate.clip.colour_box_at import place_in_picture
from fanlight.simulate.clip.doppler_setting import DopplerClip
from fanlight.simulate.colour.colour_setting import ColourBox, colour_frame_rate_hz
from fanlight.simulate.faults.doppler_faults import DOPPLER_FAULTS, apply_doppler, doppler_kind, fitting_doppler
from fanlight.simulate.faults.fault import STRENGTHS
from fanlight.simulate.faults.fault_doppler import DopplerFaultKind
from fanlight.simulate.faults.faults import FAULTS, UnknownFaultError
from fanlight.simulate.machine.beams import line_geometry
from fanlight.simulate.spectral.spectral_setting import highest_scale_cm_s
from fanlight.study import Mode, Valve
from tests.simulate.doppler_stand_ins import flow_of, steady_clip

APICAL, FIVE = "left_apical_four_chamber", "left_apical_five_chamber"
COLOUR = (APICAL, Valve.MITRAL, Mode.COLOUR)
PULSED = (APICAL, Valve.MITRAL, Mode.PULSED_WAVE)
CONTINUOUS = (FIVE, Valve.AORTIC, Mode.CONTINUOUS_WAVE)
# Where a gate's depth allows little more, a scale that is too high cannot be set; it is tried on the line.
CASES = [
    (key, at)
    for key, kind in DOPPLER_FAULTS.items()
    for at in (COLOUR, PULSED, CONTINUOUS)
    if at[2] in kind.modes and (key, at) != ("spectral_scale_high", PULSED)
]
# Which fields of the machine each knob turns, with what follows by physics: a deep box or gate lowers the scale, a high
# scale the frequency. Whatever else changed would be a fault that the truth does not tell.
TURNS = {
    "box": {"box", "n_lines", "scale_m_s"},
    "colour scale": {"scale_m_s", "frequency_mhz"},
    "colour gain": {"gain_db"},
    "wall filter": {"suppresses_tissue", "wall_filter_order", "priority_fraction"},
    "priority": {"suppresses_tissue", "priority_fraction", "smoothing"},
    "packet": {"ensemble", "lines_per_pulse"},
    "gate": {"gate_depth_mm", "scale_cm_s"},
    "angle": {"cursor_deg", "gate_depth_mm", "scale_cm_s"},
    "correction": {"corrected_deg"},
    "baseline": {"baseline_fraction"},
    "spectral scale": {"scale_cm_s", "wall_filter_cm_s"},
    "spectral sweep": {"sweep_mm_s"},
    "spectral filter": {"wall_filter_cm_s"},
    "spectral gain": {"gain_db"},
    "guide": set(),
    "breath": {"sweep_mm_s"},
}

# What changes beside, or instead of, the machine.
CHANGES = {"guide": {"has_guide"}, "breath": {"machine", "unsteady"}, "wall filter": {"machine", "unsteady"}}


def faulty(key: str, at: Any, strength: int, seed: int = 1) -> DopplerClip:
    kind = doppler_kind(key)
    fault = kind.make(strength, flow_of().animal, np.random.default_rng(seed))
    return apply_doppler(fault, steady_clip(*at), flow_of())


def turned(a: Any, b: Any) -> set[str]:
    return {item.name for item in fields(a) if getattr(a, item.name) != getattr(b, item.name)}


def test_keys_of_doppler_faults_are_no_other_fault_s() -> None:
    assert not set(DOPPLER_FAULTS) & set(FAULTS)
    assert all(kind.why and kind.title for kind in DOPPLER_FAULTS.values())


def test_every_rung_has_its_faults() -> None:
    """What trainees do wrongly on each rung, as the critique names it: a fault for each."""
    on = {mode: {key for key, kind in DOPPLER_FAULTS.items() if mode in kind.modes} for mode in Mode}

    assert {"colour_box_large", "colour_box_misplaced", "colour_scale_low", "colour_scale_high", "colour_gain_high",
            "colour_gain_low", "colour_flash", "colour_write_over"} <= on[Mode.COLOUR]  # fmt: skip
    both = {"beam_aslant", "baseline_misplaced", "spectral_scale_low", "spectral_scale_high", "spectral_sweep_slow",
            "spectral_filter_high", "spectral_gain_high", "spectral_gain_low", "wrong_signal", "no_guide"}  # fmt: skip
    assert both <= on[Mode.PULSED_WAVE] & on[Mode.CONTINUOUS_WAVE]
    assert "gate_misplaced" in on[Mode.PULSED_WAVE] - on[Mode.CONTINUOUS_WAVE]
    assert on[Mode.TWO_D] == set()


@pytest.mark.parametrize(("key", "at"), [case for case in CASES if case[0] != "wrong_signal"])
def test_a_fault_turns_its_own_knob_alone(key: str, at: Any) -> None:
    kind, steady = DOPPLER_FAULTS[key], steady_clip(*at)
    changed = faulty(key, at, 4)

    assert turned(steady.doppler.machine, changed.doppler.machine) <= TURNS[kind.knob]
    assert turned(steady.doppler, changed.doppler) == CHANGES.get(kind.knob, {"machine"})
    assert turned(steady.clip, changed.clip) == ({"pose"} if kind.knob == "angle" else set())


@pytest.mark.parametrize("at", [PULSED, CONTINUOUS])
def test_a_wrong_signal_is_told_as_what_it_is(at: Any) -> None:
    """The truth keeps the valve that was meant, names the one that is heard, and its flow is really there."""
    steady, changed = steady_clip(*at), faulty("wrong_signal", at, 3)

    assert changed.doppler.valve is at[1]
    assert changed.doppler.signal_valve is not at[1]
    assert turned(steady.clip, changed.clip) == set()
    assert abs(flow_of().heard(changed.clip, changed.doppler.spectral).along_cm_s) > 25.0
    assert abs(changed.doppler.spectral.cursor_deg - steady.doppler.spectral.cursor_deg) > 1.0 or (
        abs(changed.doppler.spectral.gate_depth_mm - steady.doppler.spectral.gate_depth_mm) > 3.0
    )


@pytest.mark.parametrize(("key", "at"), CASES)
def test_strength_0_changes_nothing_and_the_same_draw_gives_the_same(key: str, at: Any) -> None:
    assert faulty(key, at, 0) == steady_clip(*at)
    assert faulty(key, at, 2).doppler == faulty(key, at, 2).doppler


def share(clip: DopplerClip) -> float:
    box, lines = clip.doppler.colour.box, line_geometry(clip.clip.probe, clip.clip.console)
    return area(box, lines.apex_mm) / area(
        ColourBox(left_deg=lines.left_deg, right_deg=lines.right_deg, near_mm=0.0, far_mm=lines.depth_mm), lines.apex_mm
    )


def area(box: ColourBox, apex_mm: float) -> float:
    return (box.right_deg - box.left_deg) * ((box.far_mm + apex_mm) ** 2 - (box.near_mm + apex_mm) ** 2)


def test_boxes_grow_and_a_misplaced_one_loses_its_valve() -> None:
    grown = [share(faulty("colour_box_large", COLOUR, s)) for s in STRENGTHS]
    steady = steady_clip(*COLOUR)
    now = flow_of().valve(Valve.MITRAL, steady.doppler.sought)
    depth, angle = place_in_picture(
        line_geometry(steady.clip.probe, steady.clip.console), steady.clip.pose, now.middle_mm
    )
    lost = [faulty("colour_box_misplaced", COLOUR, 5, seed).doppler.colour.box for seed in range(4)]

    assert grown == sorted(grown)
    assert grown[2] > 0.4  # house setting
    assert grown[4] > 0.95
    for box in lost:
        assert not (box.left_deg < angle < box.right_deg and box.near_mm < depth < box.far_mm)


def aslant_deg(clip: DopplerClip) -> float:
    doppler = clip.doppler
    return flow_of().aslant_deg(clip.clip, doppler.spectral.cursor_deg, doppler.valve, doppler.sought)


@pytest.mark.parametrize(
    ("key", "at", "value", "rises"),
    [
        ("colour_scale_low", COLOUR, lambda c: c.doppler.colour.scale_m_s, False),
        ("colour_scale_high", COLOUR, lambda c: c.doppler.colour.scale_m_s, True),
        ("colour_frame_rate_low", COLOUR, lambda c: colour_frame_rate_hz(c.clip.console, c.doppler.colour), False),
        ("spectral_scale_low", PULSED, lambda c: c.doppler.spectral.scale_cm_s, False),
        ("spectral_scale_high", CONTINUOUS, lambda c: c.doppler.spectral.scale_cm_s, True),
        ("spectral_filter_high", PULSED, lambda c: c.doppler.spectral.wall_filter_cm_s, True),
        ("spectral_filter_low", PULSED, lambda c: c.doppler.spectral.wall_filter_cm_s, False),
        ("baseline_misplaced", PULSED, lambda c: c.doppler.spectral.baseline_fraction, False),
        ("beam_aslant", PULSED, aslant_deg, True),
    ],
)
def test_grades_grow(key: str, at: Any, value: Any, rises: bool) -> None:
    values = [value(faulty(key, at, s)) for s in (0, *STRENGTHS)]
    steps = np.diff(values)

    assert (steps > 0).all() if rises else (steps < 0).all()


def test_a_misplaced_gate_hears_less_of_its_flow() -> None:
    """Along the cursor, away from the leaflets' tips, at the moment of the peak."""
    flow, steady = flow_of(), steady_clip(*PULSED)
    deep = faulty("gate_misplaced", PULSED, 5)
    moved_mm = abs(deep.doppler.spectral.gate_depth_mm - steady.doppler.spectral.gate_depth_mm)

    assert moved_mm == pytest.approx(16.0 * np.cbrt(12.0 / 10.0))
    best = abs(flow.heard(steady.clip, steady.doppler.spectral).along_cm_s)
    assert abs(flow.heard(deep.clip, deep.doppler.spectral).along_cm_s) < 0.95 * best


def test_only_fitting_faults_are_offered_and_unknown_ones_refused() -> None:
    clip = steady_clip(*COLOUR)

    assert all(kind.fits(clip) for kind in fitting_doppler(clip))
    assert {kind.knob for kind in fitting_doppler(clip, ["box"])} & {"box"} == set()
    with pytest.raises(UnknownFaultError, match="fault 'too_loud' does not exist"):
        doppler_kind("too_loud")
    gate = doppler_kind("gate_misplaced").make(3, flow_of().animal, np.random.default_rng(1))
    with pytest.raises(ValueError, match="fault gate_misplaced does not fit colour of the mitral valve"):
        apply_doppler(gate, clip, flow_of())
    with pytest.raises(ValueError, match="strength is 0 to 5, got 6"):
        doppler_kind("no_guide").make(6, flow_of().animal, np.random.default_rng(1))


def test_a_scale_beyond_what_the_depth_allows_cannot_be_set() -> None:
    """The steady gate stands at nine tenths of its limit: twice as much is no setting of the machine."""
    clip = steady_clip(*PULSED)
    gate = clip.doppler.spectral
    most = highest_scale_cm_s(gate.gate_depth_mm, gate.gate_mm, gate.frequency_mhz)

    assert most < 2 * gate.scale_cm_s
    assert not doppler_kind("spectral_scale_high").fits(clip)


def test_grades_that_neither_rise_nor_fall_are_refused() -> None:
    kind = DOPPLER_FAULTS["colour_gain_high"]
    with pytest.raises(ValueError, match="the grades must rise or fall"):
        DopplerFaultKind(
            key="x", title="x", group=kind.group, knob="x", modes=kind.modes, unit="1", steps=(1, 3, 2, 4, 5), why="x",
            change=kind.change,
        )  # fmt: skip
