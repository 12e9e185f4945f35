"""Where a Doppler beam listens: places drawn over the gate, or over the whole line, with what each counts.

A place stands for the scatterers that pass it. How long they stay heard, the transit time, follows from the width of
the beam and the length of the gate, and with it how far a single velocity spreads in the spectrum.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from fanlight.simulate.machine.console import Console
from fanlight.simulate.machine.point_spread import slice_thickness_mm
from fanlight.simulate.machine.probe import Probe, wavelength_mm
from fanlight.simulate.spectral.spectral_setting import SpectralSetting

Floats = NDArray[np.floating[Any]]

GATE_PLACES, STRAY_PLACES, LINE_PLACES = 160, 64, 640
BEYOND_MM = 8.0  # below the gate: what will be in it next is asked for too
EVEN_SHARE = 0.3  # of the places on a line lie evenly, against those where its beams cross (engineering judgement)
_FINE_LAYERS = 512  # numerical
WAY_POINTS = 96  # on the cursor, at which the tissue on the way is asked for
PULSE_CYCLES = 5.0  # of a Doppler pulse: longer than that of a picture (engineering judgement)
GATE_REFERENCE_MM = 2.0  # a gate of this length, full of blood, has power 1
LINE_REFERENCE_MM = 10.0  # blood over so much of a continuous beam, at its focus, has power 1
# What the beam hears beside itself: the pedestal of the picture's point spread (-40 dB over 12 beam widths, both ways)
# gathers over its whole area some -18 dB of what the main lobe does.
STRAY_DB, STRAY_WIDTHS = -18.0, 6.0
_DEVIATION = 1 / (4 * math.sqrt(math.log(2)))  # of a Gaussian's power, for the -6 dB width of its amplitude (identity)
# A scatterer is heard through a raised cosine; its power has the standard deviation of the sensitivity if it is this
# many deviations long: the deviation of cos⁴ over a unit length is 0.1414 (identity).
TRANSIT_LENGTHS = 7.07
# A sheet that comes into the beam is heard through what of the beam it has passed: the integral of a Gaussian
# amplitude, √2 deviations of power wide, goes from a tenth to nine tenths within 3.62 of them; a curve 3x² - 2x³ does
# so within 0.608 of its length (identity).
EDGE_LENGTHS = 3.62 / 0.608


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BeamPlaces:
    """Places in the probe's frame (mm) and what each counts."""

    points_mm: Floats  # (place, 3)
    power: Floats  # (place,) of the echo if blood lay there
    transit_mm: Floats  # (place, 3): how far a scatterer is heard across the beam, through the slice, along the beam
    edge_mm: Floats  # (place, 3), the same directions: over which what comes into the beam grows from silent to loud
    axes: Floats  # (3, 3); rows: across the beam in the image plane, through the slice, along the beam
    way_mm: Floats  # (way, 3), points on the cursor from the face down
    way_step_mm: float
    way_row: NDArray[np.intp]  # (place,) point of the way at the depth of the place


def beam_axes(cursor_deg: float) -> Floats:
    """Return unit vectors of the probe's frame: across the beam, through the slice, along it."""
    angle = math.radians(cursor_deg)
    return np.array([[math.cos(angle), 0, -math.sin(angle)], [0, 1, 0], [math.sin(angle), 0, math.cos(angle)]])


def on_cursor_mm(probe: Probe, cursor_deg: float, depth_mm: Floats) -> Floats:
    """Return points (..., 3) of the probe's frame at depths along the cursor."""
    radius, angle = np.asarray(depth_mm) + probe.radius_mm, math.radians(cursor_deg)
    return np.stack([radius * math.sin(angle), 0 * radius, radius * math.cos(angle) - probe.radius_mm], axis=-1)


def places_of(probe: Probe, console: Console, setting: SpectralSetting, rng: np.random.Generator) -> BeamPlaces:
    """Return where this spectrum listens."""
    return _gate(probe, console, setting, rng) if setting.is_gated else _line(probe, console, setting, rng)


def beam_widths_mm(probe: Probe, console: Console, setting: SpectralSetting, depth_mm: Floats) -> tuple[Floats, Floats]:
    """Return the two-way -6 dB widths across the beam and through the slice at depths.

    In the image plane, diffraction of the aperture, λ·z / D, and its spread off the focus; a pulsed beam listens
    focused at every depth, a continuous one shares its array between sending and listening: half an aperture each.
    """
    wave, focus = wavelength_mm(setting.frequency_mhz), setting.gate_depth_mm
    aperture = probe.aperture_mm * (1.0 if setting.is_gated else 0.5)
    across = np.hypot(wave * depth_mm / aperture, aperture * np.abs(depth_mm - focus) / focus)
    own = replace(console, frequency_mhz=setting.frequency_mhz, is_harmonic=False)
    return across, slice_thickness_mm(probe, own, depth_mm)


def _spread(n: int, dims: int, rng: np.random.Generator) -> Floats:
    """Return n points (n, dims) that fill the unit cube evenly: steps of the generalised golden ratio, shifted."""
    ratio = 2.0
    for _ in range(40):
        ratio = (1 + ratio) ** (1 / (dims + 1))
    step = ratio ** -np.arange(1.0, dims + 1)
    return np.clip((rng.random(dims) + np.arange(1, n + 1)[:, None] * step) % 1.0, 1e-6, 1 - 1e-6)


def _gate(probe: Probe, console: Console, setting: SpectralSetting, rng: np.random.Generator) -> BeamPlaces:
    across, thick = (float(w[0]) for w in beam_widths_mm(probe, console, setting, np.asarray([setting.gate_depth_mm])))
    pulse = PULSE_CYCLES * wavelength_mm(setting.frequency_mhz) / 2
    deviation = np.array([across, thick, pulse]) * _DEVIATION
    along = math.hypot(setting.gate_mm / math.sqrt(12), deviation[2])
    parts = []
    for n, widths in ((GATE_PLACES, 1.0), (STRAY_PLACES, STRAY_WIDTHS)):
        even = _spread(n, 4, rng)
        parts.append(
            np.stack(
                [
                    ndtri(even[:, 0]) * deviation[0] * widths,
                    ndtri(even[:, 1]) * deviation[1] * widths,
                    (even[:, 2] - 0.5) * setting.gate_mm + ndtri(even[:, 3]) * deviation[2],
                ],
                axis=-1,
            )
        )
    share = setting.gate_mm / GATE_REFERENCE_MM
    power = np.concatenate(
        [
            np.full(GATE_PLACES, share / GATE_PLACES),
            np.full(STRAY_PLACES, share * 10 ** (STRAY_DB / 10) / STRAY_PLACES),
        ]
    )
    own = np.concatenate(parts)
    axes = beam_axes(setting.cursor_deg)
    middle = on_cursor_mm(probe, setting.cursor_deg, np.asarray(setting.gate_depth_mm))
    transit = np.broadcast_to([deviation[0], deviation[1], along], own.shape) * TRANSIT_LENGTHS
    edge = np.broadcast_to(deviation, own.shape) * EDGE_LENGTHS
    depth = setting.gate_depth_mm + own[:, 2]
    deepest = setting.deepest_mm + BEYOND_MM
    return _with_way(probe, setting, middle + own @ axes, power, (transit, edge), axes, depth, deepest)


def _line(probe: Probe, console: Console, setting: SpectralSetting, rng: np.random.Generator) -> BeamPlaces:
    """Places along the whole cursor: one in each of many layers, thinner where the beams cross."""
    n, focus = LINE_PLACES, setting.gate_depth_mm
    depth, step = _layers(probe, console, setting, rng)
    across, thick = beam_widths_mm(probe, console, setting, depth)
    at_focus = [float(w[0]) for w in beam_widths_mm(probe, console, setting, np.asarray([focus]))]
    # speckle of a layer has the power (area) · (1 / area)², sent and heard
    common = _common(probe, depth, focus, across)
    power = at_focus[0] * at_focus[1] / (across * thick) * common * step / LINE_REFERENCE_MM
    deviation = np.stack([across * _DEVIATION, thick * _DEVIATION], axis=-1)
    even = _spread(n, 2, rng)
    rng.shuffle(even)  # neighbours in depth must not be neighbours aside
    own = np.stack([ndtri(even[:, 0]) * deviation[:, 0], ndtri(even[:, 1]) * deviation[:, 1], 0 * depth], axis=-1)
    axes = beam_axes(setting.cursor_deg)
    points = on_cursor_mm(probe, setting.cursor_deg, depth) + own @ axes
    heard = np.concatenate([deviation, np.full((n, 1), console.depth_mm)], axis=1)
    lengths = heard * TRANSIT_LENGTHS, heard * EDGE_LENGTHS
    return _with_way(probe, setting, points, power, lengths, axes, depth, console.depth_mm)


def _common(probe: Probe, depth: Floats, focus_mm: float, across: Floats) -> Floats:
    """Return the share of two half beams that cross at the focus which both have in common at depths.

    Their axes are D/2 · |1 - z/F| apart; the product of two Gaussians falls as a Gaussian of that.
    """
    apart = probe.aperture_mm / 2 * np.abs(1 - depth / focus_mm)
    return np.asarray(np.exp(-((apart / across) ** 2) * 2 * math.log(2)))


def _layers(
    probe: Probe, console: Console, setting: SpectralSetting, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Return a depth in each of many layers and how thick they are."""
    fine = (np.arange(_FINE_LAYERS) + 0.5) / _FINE_LAYERS * console.depth_mm
    across, _ = beam_widths_mm(probe, console, setting, fine)
    density = EVEN_SHARE + _common(probe, fine, setting.gate_depth_mm, across)
    upto = np.concatenate([[0.0], np.cumsum(density) / density.sum()])
    borders = np.interp(np.linspace(0, 1, LINE_PLACES + 1), upto, np.linspace(0, console.depth_mm, _FINE_LAYERS + 1))
    step = np.diff(borders)
    return borders[:-1] + step * rng.random(LINE_PLACES), step


def _with_way(
    probe: Probe, setting: SpectralSetting, points: Floats, power: Floats, lengths: tuple[Floats, Floats],
    axes: Floats, depth: Floats, deepest_mm: float,
) -> BeamPlaces:  # fmt: skip
    step = deepest_mm / WAY_POINTS
    way = on_cursor_mm(probe, setting.cursor_deg, (np.arange(WAY_POINTS) + 0.5) * step)
    return BeamPlaces(
        points_mm=points, power=power, transit_mm=lengths[0], edge_mm=lengths[1], axes=axes, way_mm=way,
        way_step_mm=step, way_row=np.clip((depth / step).astype(np.intp), 0, WAY_POINTS - 1),
    )  # fmt: skip
