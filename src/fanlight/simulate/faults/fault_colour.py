"""Faults of colour Doppler: box, scale, gain, filter, priority, what is painted where it should not be.

Grades: 1 just there, 3 plain to an eye that knows, 5 gross. Where a trade limit is known it stands beside the grade;
all else is engineering judgement, marked so.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from fanlight.simulate.clip.body_scale import body_scale
from fanlight.simulate.clip.doppler_setting import DopplerClip
from fanlight.simulate.clip.unsteady_probe import Jerks
from fanlight.simulate.colour.colour_setting import ColourBox, ColourSetting, most_scale_m_s
from fanlight.simulate.faults.fault import Fault
from fanlight.simulate.faults.fault_doppler import COLOUR, Change, DopplerFaultKind, DopplerGroup
from fanlight.simulate.machine.beams import line_geometry
from fanlight.simulate.steady.doppler_aim import ModelFlow

_LEAST_NEAR_MM, _LOWEST_MHZ, _LEAST_SCALE_M_S = 2.0, 1.0, 0.05
_GROUP = DopplerGroup.COLOUR
# A jerk of the hand, a cough, a shiver: some millimetres and back within a tenth of a second, which is 0.07 to 0.3 m/s
# along the beam at once in the whole box and lights two or three pictures. Not with the beat: every four fifths of it
# (engineering judgement).
_PUSH_MM, _JERK_MS, _JERK_BEATS = 11.0, 100.0, 0.3
_JERK_AT_BEATS, _JERK_EVERY_BEATS = 0.3, 0.8


def _on_colour(change: Callable[[DopplerClip, Fault], ColourSetting]) -> Change:
    def apply(clip: DopplerClip, _: ModelFlow, fault: Fault) -> DopplerClip:
        return replace(clip, doppler=replace(clip.doppler, machine=change(clip, fault)))

    return apply


def with_box(colour: ColourSetting, box: ColourBox) -> ColourSetting:
    """Return the setting with another box: line density stays, and the scale falls where the box lies too deep."""
    wide, was = box.right_deg - box.left_deg, colour.box.right_deg - colour.box.left_deg
    lines = int(np.clip(2 * round(colour.n_lines * wide / was / 2), 8, 256))
    most = math.floor(most_scale_m_s(box.far_mm, colour.frequency_mhz) * 100) / 100
    return replace(colour, box=box, n_lines=lines, scale_m_s=min(colour.scale_m_s, most))


def _large(clip: DopplerClip, fault: Fault) -> ColourSetting:
    lines, box = line_geometry(clip.clip.probe, clip.clip.console), clip.doppler.colour.box
    share = fault.amount
    grown = ColourBox(
        left_deg=box.left_deg + share * (lines.left_deg - box.left_deg),
        right_deg=box.right_deg + share * (lines.right_deg - box.right_deg),
        near_mm=box.near_mm + share * (_LEAST_NEAR_MM - box.near_mm),
        far_mm=box.far_mm + share * (lines.depth_mm - box.far_mm),
    )
    return with_box(clip.doppler.colour, grown)


def _misplaced(clip: DopplerClip, fault: Fault) -> ColourSetting:
    """Push the box along the beams or across them, and stop at the rim of the picture."""
    lines, box = line_geometry(clip.clip.probe, clip.clip.console), clip.doppler.colour.box
    step = fault.amount * fault.parameter("sign")
    if fault.parameter("across"):
        wide = box.right_deg - box.left_deg
        by = _room(step * wide, box.left_deg, box.right_deg, lines.left_deg, lines.right_deg)
        return with_box(
            clip.doppler.colour, replace(box, left_deg=box.left_deg + by, right_deg=box.right_deg + by)
        )  # fmt: skip
    long = box.far_mm - box.near_mm
    by = _room(step * long, box.near_mm, box.far_mm, _LEAST_NEAR_MM, lines.depth_mm)
    return with_box(clip.doppler.colour, replace(box, near_mm=box.near_mm + by, far_mm=box.far_mm + by))


def _room(by: float, low: float, high: float, least: float, most: float) -> float:
    """Return the step as far as there is room; where there is little, the other way if that leads further."""
    up, down = most - high, low - least
    there = min(by, up) if by > 0 else max(by, -down)
    back = max(-by, -down) if by > 0 else min(-by, up)
    return there if abs(there) >= 0.5 * abs(by) or abs(there) >= abs(back) else back


def _which_way(rng: np.random.Generator) -> dict[str, float]:
    return {"sign": float(rng.choice((-1.0, 1.0))), "across": float(rng.random() < 0.5)}


def _low_scale(clip: DopplerClip, fault: Fault) -> ColourSetting:
    colour = clip.doppler.colour
    return replace(colour, scale_m_s=max(colour.scale_m_s * fault.amount, _LEAST_SCALE_M_S))


def _high_scale(clip: DopplerClip, fault: Fault) -> ColourSetting:
    """Raise the scale; where pulses do not suffice the machine sends a lower frequency, as machines do."""
    colour = clip.doppler.colour
    most = most_scale_m_s(colour.box.far_mm, _LOWEST_MHZ)
    scale = min(colour.scale_m_s * fault.amount, math.floor(most * 100) / 100)
    reach = most_scale_m_s(colour.box.far_mm, 1.0)  # times 1 / frequency
    frequency = min(colour.frequency_mhz, max(math.floor(reach / scale * 10) / 10, _LOWEST_MHZ))
    return replace(colour, scale_m_s=scale, frequency_mhz=frequency)


def _can_be_higher(clip: DopplerClip) -> bool:
    colour = clip.doppler.colour
    return most_scale_m_s(colour.box.far_mm, _LOWEST_MHZ) > 2.0 * colour.scale_m_s


def _gain(clip: DopplerClip, fault: Fault) -> ColourSetting:
    colour = clip.doppler.colour
    return replace(colour, gain_db=float(np.clip(colour.gain_db + fault.amount, -40.0, 40.0)))


def _flash(clip: DopplerClip, flow: ModelFlow, fault: Fault) -> DopplerClip:
    """Weaken what keeps moving tissue grey, and jerk the probe now and then.

    The wall filter keeps its first order, and colour less priority with it: walls that are coloured at all times are no
    flash.
    """
    colour, missing = clip.doppler.colour, 1.0 - fault.amount
    order, priority = (1, 0.6) if fault.amount <= 0.2 else (colour.wall_filter_order, 0.45 + 0.45 * missing)
    machine = replace(
        colour, suppresses_tissue=False, wall_filter_order=min(order, colour.wall_filter_order),
        priority_fraction=max(colour.priority_fraction, priority),
    )  # fmt: skip
    beat_ms = 60_000.0 / flow.animal.rhythm.rate_bpm
    jerks = Jerks(
        push_mm=_PUSH_MM * missing * body_scale(flow.animal), lasts_ms=min(_JERK_MS, _JERK_BEATS * beat_ms),
        first_ms=_JERK_AT_BEATS * beat_ms, every_ms=_JERK_EVERY_BEATS * beat_ms,
    )  # fmt: skip
    return replace(clip, doppler=replace(clip.doppler, machine=machine, unsteady=jerks))


def _priority(clip: DopplerClip, fault: Fault) -> ColourSetting:
    colour = clip.doppler.colour
    return replace(
        colour, priority_fraction=max(colour.priority_fraction, fault.amount), suppresses_tissue=False,
        smoothing=colour.smoothing + (1 if fault.amount > 0.8 else 0),
    )  # fmt: skip


def _rate(clip: DopplerClip, fault: Fault) -> ColourSetting:
    colour = clip.doppler.colour
    return replace(colour, lines_per_pulse=1, ensemble=int(np.clip(round(colour.ensemble * fault.amount), 4, 32)))


COLOUR_FAULTS = (
    DopplerFaultKind(
        key="colour_box_large", title="colour box too large", group=_GROUP, knob="box", modes=COLOUR, unit="1",
        steps=(0.3, 0.45, 0.6, 0.8, 1.0), change=_on_colour(_large),
        why="share of the way from a steady box to the rim of the picture on all sides: more than 40 % of the sector "
        "(house setting) from grade 2 to 3 on, the whole of it at 5",
    ),
    DopplerFaultKind(
        key="colour_box_misplaced", title="colour box beside the valve", group=_GROUP, knob="box", modes=COLOUR,
        unit="1", steps=(0.25, 0.4, 0.55, 0.75, 1.0), change=_on_colour(_misplaced), draw=_which_way,
        why="of the box's own length or width: the valve lies a third in, so it leaves the box at grade 2 to 4; the "
        "rim of the picture may stop it",
    ),
    DopplerFaultKind(
        key="colour_scale_low", title="colour scale too low", group=_GROUP, knob="colour scale", modes=COLOUR,
        unit="1", steps=(0.68, 0.52, 0.4, 0.3, 0.22), change=_on_colour(_low_scale),
        why="times a steady scale: from grade 2 on normal inflow wraps, at 5 all that flows does",
    ),
    DopplerFaultKind(
        key="colour_scale_high", title="colour scale too high", group=_GROUP, knob="colour scale", modes=COLOUR,
        unit="1", steps=(1.35, 1.7, 2.1, 2.6, 3.2), change=_on_colour(_high_scale), fits_clip=_can_be_higher,
        why="times a steady scale, as far as depth and the lowest frequency allow: slow flow sinks under the filter",
    ),
    DopplerFaultKind(
        key="colour_gain_high", title="colour gain too high", group=_GROUP, knob="colour gain", modes=COLOUR,
        unit="dB", steps=(3.0, 4.5, 6.0, 9.0, 13.0), change=_on_colour(_gain),
        why="the threshold lies 4 dB over the mean power of noise: first specks at grade 1, snow from grade 3 on",
    ),
    DopplerFaultKind(
        key="colour_gain_low", title="colour gain too low", group=_GROUP, knob="colour gain", modes=COLOUR,
        unit="dB", steps=(-3.0, -5.0, -7.0, -9.5, -12.0), change=_on_colour(_gain),
        why="engineering judgement: deep blood lies some 10 to 20 dB over the noise, so it goes first",
    ),
    DopplerFaultKind(
        key="colour_flash", title="moving tissue flashes in colour", group=_GROUP, knob="wall filter", modes=COLOUR,
        unit="1", steps=(0.8, 0.6, 0.45, 0.3, 0.15), change=_flash,
        why="how much is left of what keeps tissue grey: the suppression goes first, the priority of colour rises, and "
        "at grade 5 the wall filter loses its second order; and the probe jerks by up to 9 mm every four fifths "
        "of a beat, 6 mm at grade 3 (10 kg)",
    ),
    DopplerFaultKind(
        key="colour_write_over", title="colour written over tissue", group=_GROUP, knob="priority", modes=COLOUR,
        unit="1", steps=(0.6, 0.7, 0.8, 0.9, 1.0), change=_on_colour(_priority),
        why="grey level up to which colour is painted: walls are some 0.5 to 0.8 bright; from grade 4 on estimates "
        "are averaged more widely too",
    ),
    DopplerFaultKind(
        key="colour_frame_rate_low", title="colour frame rate too low", group=_GROUP, knob="packet", modes=COLOUR,
        unit="1", steps=(1.2, 1.6, 2.1, 2.6, 3.2), change=_on_colour(_rate),
        why="times the pulses of a packet, and one line at a time: two and a half to six times as slow",
    ),
)  # fmt: skip
