"""How the machine blurs a point: across the lines by diffraction, along them by the length of the pulse.

The lateral profile is a sum over the aperture (Huygens' principle, in the image plane): the transmitted pulse is
focused once, the echo at every depth anew. It gives main lobe, side lobes and the spread away from the focus without a
fitted width; near the focus its -6 dB width is close to wavelength · depth / aperture.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanlight.simulate.machine.beams import LineGeometry
from fanlight.simulate.machine.console import Console
from fanlight.simulate.machine.probe import Probe, wavelength_mm

Floats = NDArray[np.floating[Any]]

SAMPLES_A_ZONE = 8  # the lateral blur is held over so many samples; between zones it changes by a few per cent
# Points that stand for the aperture, per wavelength: closer than grating lobes need over the whole sector (numerical).
_POINTS_A_WAVE, _LEAST_POINTS = 1.8, 48
# standard deviation of a Gaussian pulse's amplitude spectrum times its -6 dB length: 4 ln 2 / pi / 2.355 (identity)
_BANDWIDTH = 0.375
_FREQUENCIES = 5  # that stand for the pulse's spectrum
_NEAREST_F_NUMBER = 1.0  # smallest depth / receive aperture: elements see no further aside (element directivity)
_SOFT_TISSUE_DB = 0.5  # dB/cm/MHz, one way, by which the spectrum sinks
_LOWEST_SHARE = 0.7  # of the nominal frequency that the echo sinks to: the lower edge of the receive filter
_HARMONIC_CYCLES = 1.3  # harmonic pulses are longer, to keep the bands apart (engineering judgement)
# Wave-front errors of the body wall put a broad pedestal under the main lobe (engineering judgement: -40 dB over about
# 12 beam widths; the harmonic arises below the wall and has less).
_PEDESTAL_DB, _PEDESTAL_HARMONIC_DB, _PEDESTAL_WIDTHS = -40.0, -48.0, 12.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PointSpread:
    """Widths (-6 dB of the amplitude, mm) by sample, and matrices that blur by them."""

    axial_mm: Floats  # (sample,)
    lateral_mm: Floats  # (sample,)
    slice_mm: Floats  # (sample,) thickness across the image plane
    scatter_axial_mm: float  # part of the axial width that the scatterer field already has
    scatter_lateral_mm: Floats  # (sample,) likewise across the lines
    focal_gain_db: Floats  # (sample,) of speckle against its highest, before it is levelled
    lateral: NDArray[np.float32]  # (zone, line, line): echoes @ lateral[zone]; keeps the mean power of speckle
    flat_gain: Floats  # (sample,) amplitude of an even, coherent reflector after that matrix
    axial: NDArray[np.float32]  # (sample, sample): axial @ echoes; keeps the mean power of speckle

    def layer_gain(self, thick: int) -> Floats:
        """Return the highest amplitude (sample,) of a coherent layer, `thick` samples of 1, after the axial matrix."""
        total = np.concatenate([np.zeros((len(self.axial), 1)), np.cumsum(self.axial, axis=1)], axis=1)
        return np.asarray((total[:, thick:] - total[:, :-thick]).max(axis=1))


def echo_mhz(console: Console) -> float:
    """Return the frequency of the echoes that make the picture: twice what is sent where harmonics are received."""
    return console.frequency_mhz * (2.0 if console.is_harmonic else 1.0)


def pulse_mm(probe: Probe, console: Console) -> float:
    """Return the axial resolution at the face: cycles · wavelength / 2."""
    cycles = probe.pulse_cycles * (_HARMONIC_CYCLES if console.is_harmonic else 1.0)
    return cycles * wavelength_mm(echo_mhz(console)) / 2


def sunk_share(probe: Probe, console: Console, depth_mm: Floats) -> Floats:
    """Return the centre frequency of the echo at each depth, as a share of the nominal one.

    A Gaussian spectrum of standard deviation s that loses a = 2·alpha·depth (neper/MHz) sinks by a·s² (physics).
    """
    frequency = echo_mhz(console)
    spread = _BANDWIDTH * frequency / probe.pulse_cycles
    neper_per_mhz = 2 * _SOFT_TISSUE_DB / 8.686 * depth_mm / 10
    return np.maximum(1 - neper_per_mhz * spread**2 / frequency, _LOWEST_SHARE)


def receive_weight(place_fraction: Floats) -> Floats:
    """Return the weight of an element at -0.5 to 0.5 of the aperture: a raised cosine on a pedestal.

    Between a box, which is sharp but has high side lobes, and a full taper (engineering judgement).
    """
    return np.asarray(0.54 + 0.46 * np.cos(2 * np.pi * place_fraction))


def aperture_profile(
    offset_mm: Floats,
    depth_mm: float,
    *,
    aperture_mm: float,
    focus_mm: float,
    frequency_mhz: float,
    cycles: float,
    is_harmonic: bool = False,
) -> Floats:
    """Return the two-way amplitude at distances aside of the beam, 1 on a focused axis.

    Parameters
    ----------
    offset_mm : ndarray of shape (n,)
        Distances from the axis.
    depth_mm : float
        Depth of the point, and of the receive focus.
    focus_mm : float
        Depth of the transmit focus.
    frequency_mhz : float
        Of the echo; with `is_harmonic` the pulse was sent at half of it and its square makes the echo.
    """
    n = max(_LEAST_POINTS, math.ceil(_POINTS_A_WAVE * aperture_mm / wavelength_mm(frequency_mhz)))
    place = (np.arange(n) + 0.5) / n - 0.5
    weight = receive_weight(place)
    share = np.linspace(-1.0, 1.0, _FREQUENCIES) if _FREQUENCIES > 1 else np.zeros(1)
    spread = _BANDWIDTH / cycles
    bell = np.exp(-0.5 * (share * 1.5) ** 2)
    bell /= bell.sum()
    power = np.zeros_like(offset_mm)
    send = place * aperture_mm
    listen = place * min(aperture_mm, depth_mm / _NEAREST_F_NUMBER)
    # distances to the point, less what the focus takes off
    to = np.hypot(offset_mm[:, None] - send, depth_mm) - np.hypot(send, focus_mm)
    back = np.hypot(offset_mm[:, None] - listen, depth_mm) - np.hypot(listen, depth_mm)
    for part, strength in zip(1 + 1.5 * spread * share, bell, strict=True):
        wave = 2 * np.pi / wavelength_mm(frequency_mhz * part)
        sent = _summed_power(to * (wave / 2 if is_harmonic else wave), np.full(n, 1 / n))
        heard = _summed_power(back * wave, weight / weight.sum())
        power += strength * (sent**2 if is_harmonic else sent) * heard
    return np.asarray(np.sqrt(power))


def _summed_power(phase_rad: Floats, weight: Floats) -> Floats:
    """Return the power of waves (point, element) added with these weights."""
    phase, weight = phase_rad.astype(np.float32), weight.astype(np.float32)  # single precision: four times as fast
    return np.asarray((np.cos(phase) @ weight) ** 2 + (np.sin(phase) @ weight) ** 2, np.float64)


def _half_width(offset_mm: Floats, profile: Floats) -> float:
    """Return the full width at half of the highest amplitude of a profile given from the axis outwards."""
    half = profile[0] / 2
    below = np.nonzero(profile < half)[0]
    if not len(below):
        return float(2 * offset_mm[-1])
    last = int(below[0])
    rise = (profile[last - 1] - half) / (profile[last - 1] - profile[last])
    return float(2 * (offset_mm[last - 1] + rise * (offset_mm[last] - offset_mm[last - 1])))


def _foci_mm(console: Console) -> list[float]:
    """Return the depths of the transmit foci, spread evenly about the one that is set."""
    if console.n_foci == 1:
        return [console.focus_mm]
    return [console.focus_mm * (0.5 + (k + 0.5) / console.n_foci) for k in range(console.n_foci)]


def _cell_bell(distance: Floats, width: Floats | float) -> Floats:
    """Return a Gaussian amplitude whose full width at half height is `width`."""
    return np.asarray(np.exp(-4 * math.log(2) * (distance / width) ** 2))


def two_way_profile(probe: Probe, console: Console, depth_mm: float, offset_mm: Floats) -> Floats:
    """Return the lateral profile at a depth, of the transmit focus that is nearest to it."""
    focus = min(_foci_mm(console), key=lambda f: abs(f - depth_mm))
    sunk = float(sunk_share(probe, console, np.asarray([depth_mm]))[0])
    return aperture_profile(
        offset_mm, depth_mm, aperture_mm=probe.aperture_mm, focus_mm=focus, cycles=probe.pulse_cycles,
        frequency_mhz=echo_mhz(console) * sunk, is_harmonic=console.is_harmonic,
    )  # fmt: skip


def slice_thickness_mm(probe: Probe, console: Console, depth_mm: Floats) -> Floats:
    """Return the thickness of the slice at each depth: diffraction and spread of the fixed lens, √(a² + b²).

    Both ways go through the lens, so the one-way spread is narrowed by √2 (Gaussian beams; physics).
    """
    wave = wavelength_mm(echo_mhz(console))
    focused = wave * depth_mm / probe.elevation_mm
    spread = probe.elevation_mm * np.abs(depth_mm - probe.elevation_focus_mm) / probe.elevation_focus_mm
    return np.asarray(np.hypot(focused, spread / math.sqrt(2)))


def point_spread(probe: Probe, console: Console, lines: LineGeometry) -> PointSpread:
    """Return the blur of these settings for these lines, once for a clip; gain and display do not count."""
    return _point_spread(probe, _for_blur(console), lines)


def _for_blur(console: Console) -> Console:
    """Return a console that is the same for all settings that blur alike."""
    return Console(
        depth_mm=console.depth_mm, width_deg=console.width_deg, steer_deg=console.steer_deg,
        frequency_mhz=console.frequency_mhz, is_harmonic=console.is_harmonic, focus_mm=console.focus_mm,
        n_foci=console.n_foci, n_lines=console.n_lines, n_samples=console.n_samples,
    )  # fmt: skip


@lru_cache(maxsize=8)
def _point_spread(probe: Probe, console: Console, lines: LineGeometry) -> PointSpread:
    n_samples, n_lines = lines.n_samples, lines.n_lines
    depth = (np.arange(n_samples) + 0.5) * lines.sample_mm
    axial = pulse_mm(probe, console) / sunk_share(probe, console, depth)
    angle = np.radians(lines.left_deg) + (np.arange(n_lines) + 0.5) * lines.line_rad
    # across the lines: a steered beam sees a foreshortened aperture, so distance counts in the sine of the angle
    place = np.sin(angle) if probe.radius_mm == 0 else angle
    apart = np.abs(place[:, None] - place[None, :])
    chord, between = np.abs(angle[:, None] - angle[None, :]), (angle[:, None] + angle[None, :]) / 2
    scatter_axial = min(1.1 * lines.sample_mm, 0.75 * float(axial[0]))
    zones = -(-n_samples // SAMPLES_A_ZONE)
    middle = np.minimum((np.arange(zones) + 0.5) * SAMPLES_A_ZONE, n_samples - 0.5) * lines.sample_mm
    widths, gains, flats = np.empty(zones), np.empty(zones), np.empty(zones)
    given = np.empty(zones)
    lateral = np.empty((zones, n_lines, n_lines), np.float32)
    pedestal = 10 ** ((_PEDESTAL_HARMONIC_DB if console.is_harmonic else _PEDESTAL_DB) / 20)
    for zone, near in enumerate(middle):
        radius = near + lines.apex_mm
        reach = radius * float(apart.max())
        # fine steps on the main lobe, coarse ones on the far side lobes
        guess = wavelength_mm(echo_mhz(console)) * near / probe.aperture_mm + 0.05
        offset = np.unique(np.concatenate([np.linspace(0, min(6 * guess, reach), 61), np.linspace(0, reach, 61)]))
        profile = two_way_profile(probe, console, float(near), offset)
        widths[zone] = _half_width(offset, profile)
        spacing = radius * lines.line_rad
        given[zone] = min(1.15 * spacing, 0.75 * widths[zone])
        # What the scatterer field has already is taken off the main lobe, not off the side lobes.
        squeeze = 1 / math.sqrt(1 - (given[zone] / widths[zone]) ** 2)
        gains[zone] = float(np.trapezoid(profile**2, offset))
        profile = profile / profile[0]
        profile = profile + pedestal * _cell_bell(offset, _PEDESTAL_WIDTHS * widths[zone])
        at = radius * apart
        at = at * (1 + (squeeze - 1) * np.exp(-((at / (1.5 * widths[zone])) ** 2)))
        kernel = np.interp(at, offset, profile)
        # neighbours of the scatterer field are alike already: speckle keeps its power with that taken into account
        alike = _cell_bell(radius * chord * np.cos(between), math.sqrt(2) * given[zone])
        alike *= _cell_bell(radius * chord * np.sin(between), math.sqrt(2) * scatter_axial)
        kernel /= np.sqrt((kernel * (alike @ kernel)).sum(axis=0, keepdims=True))
        flats[zone] = float(kernel.sum(axis=0).mean())
        lateral[zone] = kernel
    by_sample = np.minimum(np.arange(n_samples) // SAMPLES_A_ZONE, zones - 1)
    along = np.sqrt(axial**2 - scatter_axial**2)
    band = _cell_bell(depth[:, None] - depth[None, :], np.maximum(along, 0.7 * lines.sample_mm)[:, None])
    step, tilt = depth[:, None] - depth[None, :], float(np.sqrt(np.mean(np.sin(angle) ** 2)))
    alike = _cell_bell(step * math.sqrt(1 - tilt**2), math.sqrt(2) * scatter_axial)
    alike *= _cell_bell(step * tilt, math.sqrt(2) * given[by_sample])
    band /= np.sqrt((band * (band @ alike)).sum(axis=1, keepdims=True))
    gain_db = 10 * np.log10(gains / gains.max())
    return PointSpread(
        axial_mm=axial,
        lateral_mm=np.interp(depth, middle, widths),
        slice_mm=slice_thickness_mm(probe, console, depth),
        scatter_axial_mm=scatter_axial,
        scatter_lateral_mm=given[by_sample],
        focal_gain_db=np.interp(depth, middle, gain_db),
        lateral=lateral,
        flat_gain=flats[by_sample],
        axial=band.astype(np.float32),
    )
