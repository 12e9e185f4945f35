"""How fast what a Doppler beam hears truly runs, moment by moment, beside the strip of its spectrum.

Asked of the model where the beam listens: along the beam, so field times cosine, as no display can show more. Blood for
a spectrum of blood; walls for tissue Doppler.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import Akima1DInterpolator

from fanlight.heart.cycle import state_at
from fanlight.heart.tissue import BLOOD
from fanlight.simulate.clip.doppler_setting import DopplerClip
from fanlight.simulate.clip.spectral_clip import BeforeFilm
from fanlight.simulate.machine.animal_scene import scene_of
from fanlight.simulate.spectral.spectral_beam import beam_axes, beam_widths_mm, on_cursor_mm

Floats = NDArray[np.float64]

ASKED_MS, STEP_MS = 8.0, 4.0  # waves rise over 30 ms and more: a smooth line through every second moment keeps them
GATE_POINTS = 5  # along a gate of some millimetres
# Of the width of the beam, both ways. A gate hears within its half level, -6 dB; a line is wide off its focus and
# drowns what lies at its rim.
ACROSS_GATE, ACROSS_LINE = 0.4, 0.2
LINE_STEP_MM = 1.0  # along a continuous wave: the core of a jet is some millimetres wide
LINE_FROM_MM, LINE_SPARE_MM = 6.0, 2.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TrueFlow:
    """The fastest that a beam hears within its half level, both ways; all arrays have the shape (moment,)."""

    times_ms: Floats  # from the first frame, with which the strip ends: below 0
    towards_cm_s: Floats  # 0 or above
    away_cm_s: Floats  # 0 or above


def true_flow(clip: DopplerClip, motion: BeforeFilm, span_ms: float) -> TrueFlow:
    """Return what is true of the last `span_ms` before the first frame.

    Parameters
    ----------
    clip : DopplerClip
        Pose, beam and gate.
    motion : BeforeFilm
        Of the animal in the times of the strip.
    span_ms : float
        Length of the strip.
    """
    setting, spectral = clip.clip, clip.doppler.spectral
    if spectral.is_gated:
        depths = spectral.gate_depth_mm + spectral.gate_mm * np.linspace(-0.5, 0.5, GATE_POINTS)
    else:
        depths = np.arange(LINE_FROM_MM, setting.console.depth_mm - LINE_SPARE_MM, LINE_STEP_MM)
    points, beam = _heard_mm(clip, depths), _beam(clip)
    x, y, z = (np.ascontiguousarray(v) for v in setting.pose.to_patient(points).astype(np.float32).T)
    asked = np.arange(-span_ms, 0.0, ASKED_MS) + STEP_MS / 2
    both = np.asarray([_fastest(motion, float(t), (x, y, z), beam, spectral.has_low_pass) for t in asked])
    times = np.arange(asked[0], asked[-1] + STEP_MS / 2, STEP_MS)
    smooth = np.maximum(Akima1DInterpolator(asked, both, axis=0)(times), 0.0)
    return TrueFlow(times_ms=times, towards_cm_s=smooth[:, 0], away_cm_s=smooth[:, 1])


def _heard_mm(clip: DopplerClip, depths_mm: Floats) -> Floats:
    """Return points (point, 3) of the probe's frame that the beam hears at these depths."""
    setting, spectral = clip.clip, clip.doppler.spectral
    axis = on_cursor_mm(setting.probe, spectral.cursor_deg, depths_mm)
    widths = beam_widths_mm(setting.probe, setting.console, spectral, depths_mm)
    axes = beam_axes(spectral.cursor_deg)
    reach = ACROSS_GATE if spectral.is_gated else ACROSS_LINE
    across = (-reach, 0.0, reach)
    parts = [axis + a * widths[0][:, None] * axes[0] + b * widths[1][:, None] * axes[1] for a in across for b in across]
    return np.concatenate(parts)


def _beam(clip: DopplerClip) -> Floats:
    """Return the direction of the beam away from the probe, patient frame."""
    angle = np.radians(clip.doppler.spectral.cursor_deg)
    return np.asarray(clip.clip.pose.axes @ [np.sin(angle), 0.0, np.cos(angle)])


def _fastest(
    motion: BeforeFilm, time_ms: float, points: tuple[Any, Any, Any], beam: Floats, is_tissue: bool
) -> tuple[float, float]:
    """Return the fastest towards the probe and away from it at a moment."""
    body = motion.body
    at = body.start_ms + motion.lead_ms + time_ms
    tissue = np.asarray(scene_of(body.animal).moving(state_at(body.animal.rhythm, body.beats, at), *points).tissue)
    velocity = np.stack(motion(time_ms, *points, tissue).velocity_mm_s, axis=-1).astype(np.float64)
    towards = -(velocity @ beam) / 10.0
    in_blood = np.isin(tissue, [int(t) for t in BLOOD])
    counts = ~in_blood if is_tissue else in_blood
    if not counts.any():
        return 0.0, 0.0
    return max(float(towards[counts].max()), 0.0), max(-float(towards[counts].min()), 0.0)
