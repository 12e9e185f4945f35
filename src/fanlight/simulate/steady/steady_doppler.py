"""What a hand without any fault would set for Doppler of a valve in a view: box, gate, scale, baseline, sweep."""

from __future__ import annotations

import math
from dataclasses import replace

from fanlight.simulate.clip.body_scale import body_scale
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.clip.colour_box_at import box_at
from fanlight.simulate.clip.doppler_setting import DopplerSetting, Sought, room_cm_s
from fanlight.simulate.clip.spectral_clip import gate_at
from fanlight.simulate.colour.colour_setting import DOPPLER_SHARE, ColourSetting, default_colour, most_scale_m_s
from fanlight.simulate.machine.beams import line_geometry
from fanlight.simulate.machine.console import Console
from fanlight.simulate.spectral.spectral_setting import SpectralSetting, highest_scale_cm_s
from fanlight.simulate.steady.doppler_aim import FlowPeak, ModelFlow
from fanlight.simulate.steady.gate_length import gate_length_mm
from fanlight.study import Mode, Valve

# Scale of colour: the middle of the bands that teachers give for the inflow valves; fast enough for healthy outflow at
# the others (engineering judgement). Depth may allow less.
_SCALE_M_S = {Valve.MITRAL: 0.85, Valve.TRICUSPID: 0.67, Valve.AORTIC: 0.95, Valve.PULMONIC: 0.95}
# Size of a box in widths of the ring: valve, a good part of the chamber that receives, and room beside the ring.
_BOX_LENGTH, _BOX_WIDTH = 2.3, 1.5
_PEAK_SHARE = 2 / 3  # of the room on its side of the baseline (common practice, no source)
# Lower for tissue: its band is a third as broad as its peak is high, and both edges are to stay within the scale
# (engineering judgement; at two thirds the bands of broad gates were seen to wrap).
_TISSUE_PEAK_SHARE = 0.5
_FLOW_SIDE = 0.8  # of the height that the baseline leaves to the side of the flow (common practice: the empty side)
_ANNULUS_GATE_MM = 3.0  # in an animal of 10 kg; 2 to 5 mm are common practice, no source
_SWEEP_MM_S = 100.0
_SAFE_SHARE = 0.9  # of the room: below that nothing wraps
_SHORTEST_SCALE_CM_S = 20.0
_FILTER_SHARE = 0.08  # of the scale: walls go, slow flow stays (engineering judgement)
_GATED_FILTER_CM_S, _LINE_FILTER_CM_S = (4.0, 12.0), (12.0, 40.0)


def steady_doppler(flow: ModelFlow, setting: ClipSetting, valve: Valve, mode: Mode, sought: Sought) -> DopplerSetting:
    """Return the setting without fault for one rung at one valve, as the picture shows it.

    Parameters
    ----------
    flow : ModelFlow
        What the animal's blood does.
    setting : ClipSetting
        Where the probe stands and what the picture reaches, with whatever is wrong about it.
    valve, mode, sought
        The rung, and which flow is looked for.

    Raises
    ------
    ValueError
        If the valve lies outside the picture, has no such flow, or its flow is not met.
    """
    machine: ColourSetting | SpectralSetting
    if mode is Mode.COLOUR:
        machine = _colour(flow, setting, valve, sought)
    elif mode is Mode.TISSUE_DOPPLER:
        machine = _annulus(flow, setting, valve)
    else:
        peak = flow.fastest(setting, valve, sought, mode)
        machine = spectral_at(setting, mode, peak, body_scale(flow.animal))
        if mode is Mode.PULSED_WAVE:
            machine = _for_both_ways(flow, setting, machine, peak)
    return DopplerSetting(valve=valve, sought=sought, signal_valve=valve, machine=machine)


def _colour(flow: ModelFlow, setting: ClipSetting, valve: Valve, sought: Sought) -> ColourSetting:
    now = flow.valve(valve, sought)
    ring = 2 * now.radius_mm
    box = box_at(
        line_geometry(setting.probe, setting.console), setting.pose, now.middle_mm, now.flow,
        length_mm=_BOX_LENGTH * ring, width_mm=_BOX_WIDTH * ring,
    )  # fmt: skip
    usual = default_colour(setting.console, box)
    most = most_scale_m_s(box.far_mm, usual.frequency_mhz)
    scale = min(_SCALE_M_S[valve], math.floor(most * 100) / 100)
    return replace(usual, scale_m_s=scale)


def doppler_mhz(console: Console) -> float:
    """Return the frequency that the console sends for Doppler: that of colour."""
    echo = console.frequency_mhz * (2.0 if console.is_harmonic else 1.0)
    return round(max(DOPPLER_SHARE * echo, 1.0), 1)


def spectral_at(setting: ClipSetting, mode: Mode, peak: FlowPeak, body: float) -> SpectralSetting:
    """Return pulsed or continuous wave at a place, so that its peak stands at two thirds of the room it has.

    Where the depth allows no such scale, the highest that there is; then the spectrum may wrap.
    """
    is_gated = mode is Mode.PULSED_WAVE
    frequency, gate = doppler_mhz(setting.console), gate_length_mm(body)
    scale = max(abs(peak.along_cm_s) / (_PEAK_SHARE * 2 * _FLOW_SIDE), _SHORTEST_SCALE_CM_S)
    if is_gated:
        scale = min(scale, highest_scale_cm_s(peak.depth_mm, gate, frequency))
    low, high = _GATED_FILTER_CM_S if is_gated else _LINE_FILTER_CM_S
    return SpectralSetting(
        mode=mode,
        frequency_mhz=frequency,
        scale_cm_s=scale,
        gate_depth_mm=peak.depth_mm,
        cursor_deg=peak.cursor_deg,
        gate_mm=gate,
        baseline_fraction=_FLOW_SIDE if peak.along_cm_s > 0 else 1 - _FLOW_SIDE,
        wall_filter_cm_s=min(max(_FILTER_SHARE * scale, low), high),
        sweep_mm_s=_SWEEP_MM_S,
    )


def _for_both_ways(flow: ModelFlow, setting: ClipSetting, spectral: SpectralSetting, peak: FlowPeak) -> SpectralSetting:
    """Return the setting with room for what flows the other way through the gate, where that would wrap."""
    towards, away = flow.both_ways_cm_s(setting, spectral)
    towards, away = max(towards, peak.along_cm_s), max(away, -peak.along_cm_s)  # between moments the peak is passed
    if towards < _SAFE_SHARE * room_cm_s(spectral, 1.0) and away < _SAFE_SHARE * room_cm_s(spectral, -1.0):
        return spectral
    most = highest_scale_cm_s(spectral.gate_depth_mm, spectral.gate_mm, spectral.frequency_mhz)
    scale = min(max((towards + away) / (_PEAK_SHARE * 2), spectral.scale_cm_s), most)
    share = min(max(towards / (towards + away), 1 - _FLOW_SIDE), _FLOW_SIDE)
    return replace(spectral, scale_cm_s=scale, baseline_fraction=share)


def _annulus(flow: ModelFlow, setting: ClipSetting, valve: Valve) -> SpectralSetting:
    """Return tissue Doppler at the septal side of a ring, baseline in the middle: it moves both ways."""
    now = flow.valve(valve, Sought.ANNULUS)
    lines = line_geometry(setting.probe, setting.console)
    cursor, depth = gate_at(lines, setting.pose, now.target_mm)
    first = SpectralSetting(
        mode=Mode.TISSUE_DOPPLER, frequency_mhz=doppler_mhz(setting.console), scale_cm_s=_SHORTEST_SCALE_CM_S,
        gate_depth_mm=depth, cursor_deg=cursor, gate_mm=_ANNULUS_GATE_MM * body_scale(flow.animal),
        sweep_mm_s=_SWEEP_MM_S,
    )  # fmt: skip
    peak = abs(flow.heard(setting, first).along_cm_s)
    return replace(first, scale_cm_s=max(peak / _TISSUE_PEAK_SHARE, 4.0))
