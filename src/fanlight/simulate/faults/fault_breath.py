"""A fault of spectra that lies in time: the beam leaves the flow with each breath, so that the envelope breaks off.

Grades: 1 just there, 3 plain to an eye that knows, 5 gross; sizes are engineering judgement.
"""

from __future__ import annotations

import math
from dataclasses import replace

from fanlight.simulate.clip.clip_setting import PX_PER_PAPER_MM
from fanlight.simulate.clip.doppler_setting import DopplerClip, Sought
from fanlight.simulate.clip.unsteady_probe import Swing, swung
from fanlight.simulate.faults.fault import Fault
from fanlight.simulate.faults.fault_doppler import BLOOD, DopplerFaultKind, DopplerGroup
from fanlight.simulate.machine.m_mode import ms_per_px
from fanlight.simulate.steady.doppler_aim import ModelFlow

_SIDES = ((1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0))  # out of the image plane and in it, both ways
_SWEEPS_MM_S = (66.0, 50.0, 33.0, 25.0)  # as consoles offer; at 100 a strip may end before the breath begins
_LEAST_STRIP_PX = 450  # width of the narrowest strip of our screens
_LOST_SHARE = 0.5  # of the flow's speed: with less, a beat's envelope counts as broken off (engineering judgement)


def _is_blood_flow(clip: DopplerClip) -> bool:
    return clip.doppler.sought is not Sought.ANNULUS


def _loses(clip: DopplerClip, flow: ModelFlow, fault: Fault) -> DopplerClip:
    """Let the beam swing with the breath, the way on which it meets least of its flow."""
    spectral, setting = clip.doppler.spectral, clip.clip
    turn_deg = math.degrees(math.atan2(fault.amount, spectral.gate_depth_mm))
    usual_cm_s = abs(flow.heard(setting, spectral).along_cm_s)
    swings = [Swing(about_x_deg=x * turn_deg, about_y_deg=y * turn_deg) for x, y in _SIDES]
    left_cm_s = [
        abs(flow.heard(replace(setting, pose=swung(setting.pose, swing)), spectral).along_cm_s) for swing in swings
    ]
    least = min(range(len(swings)), key=left_cm_s.__getitem__)
    if fault.strength >= 3 and left_cm_s[least] > _LOST_SHARE * usual_cm_s:
        raise ValueError(
            f"the beam keeps its flow although it swings by {turn_deg:.0f} degrees: the stream is too wide"
        )
    machine = replace(spectral, sweep_mm_s=min(spectral.sweep_mm_s, _sweep_mm_s(flow.animal.rhythm.breath_ms)))
    return replace(clip, doppler=replace(clip.doppler, machine=machine, unsteady=swings[least]))


def _sweep_mm_s(breath_ms: float) -> float:
    """Return the fastest sweep at which any strip holds a whole breath, else the slowest there is."""
    holding = [s for s in _SWEEPS_MM_S if _LEAST_STRIP_PX * ms_per_px(s, PX_PER_PAPER_MM) >= breath_ms]
    return max(holding, default=min(_SWEEPS_MM_S))


BREATH_FAULTS = (
    DopplerFaultKind(
        key="breath_loses_flow", title="beam leaves the flow with the breath", group=DopplerGroup.SPECTRUM,
        knob="breath", modes=BLOOD, unit="mm", steps=(4.5, 6.5, 9.0, 12.0, 15.0), change=_loses,
        fits_clip=_is_blood_flow, grows_with_body=True,
        why="at the gate, at the height of the breath: streams are some 8 to 15 mm wide in a dog of 10 kg, so from "
        "grade 3 on the beam is out of them for a third of each breath or more; the sweep is slow enough for a strip "
        "to hold a breath",
    ),
)  # fmt: skip
