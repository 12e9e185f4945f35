"""What is true of the Doppler of one still or clip: rung, valve, place on the screen, settings, and the flow itself."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fanlight.simulate.clip.doppler_setting import wraps
from fanlight.simulate.screen.screen_colour import ColourTruth
from fanlight.simulate.screen.screen_spectral import SpectralScreen
from fanlight.simulate.visit.shot import DopplerShot


@dataclass(frozen=True, slots=True, kw_only=True)
class DopplerTruth:
    """Points are (row, col) in pixels of the stored frames; what does not belong to the mode is None."""

    valve: str
    sought: str  # forward flow, leak or movement of the annulus
    signal_valve: str  # whose flow box, gate or cursor was laid on
    why: str  # the rung belongs to the study
    standard: Any  # the machine's setting without a Doppler fault
    setting: Any  # as it is
    box_corners_px: Any = None  # colour: near left, near right, far right, far left
    box_outline_px: Any = None  # the same with its arcs
    box: Any = None  # upright, round the outline
    bar: Any = None
    zero_row_px: float | None = None
    range_m_s: Any = None  # at the lower and upper end of the bar
    shown_fraction: float | None = None  # of the box that is coloured, mean over the frames
    strip: Any = None  # spectra: box of the strip
    baseline_row_px: int | None = None
    gate_px: Any = None  # None without a guide, or without a gate
    cursor_px: Any = None
    velocity_ticks: Any = None
    has_guide: bool | None = None
    peak: Any = None  # of the flow that is looked for at a steady gate, from the model: along the beam and in space
    heard: Any = None  # the fastest that this gate or line meets in a beat
    wraps: bool | None = None  # what is looked for runs out of the display, at the angle and place of this gate
    steady_wraps: bool | None = None  # it would even at a steady setting: continuous wave is needed


def truth_of_colour(shot: DopplerShot, colour: ColourTruth) -> DopplerTruth:
    """Return the truth of a colour clip."""
    return DopplerTruth(
        valve=shot.setting.valve.value,
        sought=shot.setting.sought.value,
        signal_valve=shot.setting.signal_valve.value,
        why=shot.why.value,
        standard=shot.standard.machine,
        setting=shot.setting.machine,
        box_corners_px=colour.corners_px,
        box_outline_px=colour.outline_px,
        box=colour.box,
        bar=colour.bar,
        zero_row_px=colour.zero_row_px,
        range_m_s=colour.range_m_s,
        shown_fraction=colour.shown_fraction,
    )


def truth_of_spectrum(shot: DopplerShot, screen: SpectralScreen) -> DopplerTruth:
    """Return the truth of a spectrum."""
    spectral, steady = shot.setting.spectral, shot.standard.spectral
    heard, peak = shot.heard, shot.peak
    shown = heard if spectral.is_gated else peak  # other flows on the line of a continuous wave are not looked for
    return DopplerTruth(
        valve=shot.setting.valve.value,
        sought=shot.setting.sought.value,
        signal_valve=shot.setting.signal_valve.value,
        why=shot.why.value,
        standard=steady,
        setting=spectral,
        strip=screen.strip_box,
        baseline_row_px=screen.baseline_row_px,
        gate_px=screen.gate_px if spectral.is_gated else None,
        cursor_px=screen.cursor_px,
        velocity_ticks=screen.ticks,
        has_guide=screen.placed is not None,
        peak=peak,
        heard=heard,
        wraps=None if shown is None else wraps(spectral, shown.along_cm_s),
        steady_wraps=None if peak is None else wraps(steady, peak.along_cm_s),
    )
