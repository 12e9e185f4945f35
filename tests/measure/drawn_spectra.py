"""Spectra drawn with a known truth: waves whose formula is known, as a machine that sums up pieces of time shows them.

Power lies in a bell about the velocity of the blood, is averaged over a piece of time, speckled (exponential power, as
many scatterers give), laid over noise and shown in decibels.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.doppler.spectrum import SpectralAxes
from fanlight.measure.doppler.case import Signal, SpectrumCase
from fanlight.study import Box, Mode, Valve

Floats = NDArray[np.float64]
Waves = Callable[[Floats], Floats]  # velocity towards the probe in cm/s at times in ms

MS_PER_PX = 2.5
WINDOW_MS = 12.0
BAND_SHARE = 0.045  # standard deviation of the band, of its velocity
NOISE_DB = -32.0  # below the dense signal
RANGE_DB = 40.0
PEAK_LEVEL_DB = -6.0  # of the dense signal below white, at gain 0
MARGIN_PX = 12  # of the screen about the strip


@dataclass(frozen=True, kw_only=True)
class Drawing:
    """How a spectrum is drawn."""

    waves: Sequence[Waves]
    span_ms: float = 2000.0
    scale_cm_s: float = 200.0  # half of what the strip spans
    above_share: float = 0.5
    rows: int = 300
    gain_db: float = 0.0
    is_filled: bool = False  # power from the baseline to the velocity, as continuous wave has it
    wraps: bool = False
    clicks_ms: Sequence[float] = ()
    fades_above_cm_s: float | None = None  # faster than this, nothing is heard
    least_band_cm_s: float = 2.0  # a piece of 12 ms tells no closer
    seed: int = 1


def half_sines(peak_cm_s: float, length_ms: float, onsets_ms: Sequence[float]) -> Waves:
    """Return waves that are half a sine."""

    def at(times: Floats) -> Floats:
        out = np.zeros_like(times)
        for onset in onsets_ms:
            part = (times - onset) / length_ms
            out += np.where((part > 0) & (part < 1), peak_cm_s * np.sin(np.pi * np.clip(part, 0, 1)), 0.0)
        return out

    return at


def triangles(peak_cm_s: float, rise_ms: float, fall_ms: float, onsets_ms: Sequence[float]) -> Waves:
    """Return waves that rise and fall in straight lines."""

    def at(times: Floats) -> Floats:
        out = np.zeros_like(times)
        for onset in onsets_ms:
            up = (times - onset) / rise_ms
            down = (onset + rise_ms + fall_ms - times) / fall_ms
            out += peak_cm_s * np.clip(np.minimum(up, down), 0.0, 1.0)
        return out

    return at


def draw(drawing: Drawing) -> tuple[NDArray[np.uint8], SpectralAxes]:
    """Return a screen with the strip and its axes."""
    rng = np.random.default_rng(drawing.seed)
    cols = round(drawing.span_ms / MS_PER_PX)
    cm_s_per_px = 2 * drawing.scale_cm_s / drawing.rows
    zero = round(drawing.above_share * drawing.rows)
    row_cm_s = (zero - np.arange(drawing.rows)) * cm_s_per_px
    fine_ms = np.arange(0.0, drawing.span_ms, MS_PER_PX / 5) + MS_PER_PX / 10
    power = np.zeros((drawing.rows, len(fine_ms)))
    span = 2 * drawing.scale_cm_s
    for wave in drawing.waves:
        velocity = wave(np.asarray(fine_ms, np.float64))
        for turn in (-1, 0, 1) if drawing.wraps else (0,):
            power += _bands(np.asarray(row_cm_s + turn * span, np.float64), velocity, drawing)
    n = round(WINDOW_MS / (MS_PER_PX / 5)) | 1
    window = np.hanning(n + 2)[1:-1]
    power = cv2.filter2D(power, -1, (window / window.sum())[None], borderType=cv2.BORDER_REPLICATE)
    power = power.reshape(drawing.rows, cols, -1).mean(axis=2) + 10 ** (NOISE_DB / 10)
    for click in drawing.clicks_ms:
        power[:, round(click / MS_PER_PX) : round(click / MS_PER_PX) + 3] += 1.0
    speckle = cv2.GaussianBlur(rng.exponential(size=power.shape), (0, 0), sigmaX=1.2, sigmaY=0.8)
    shown_db = 10 * np.log10(power * np.maximum(speckle, 1e-3)) + drawing.gain_db + PEAK_LEVEL_DB
    grey = np.clip(255 * (1 + shown_db / RANGE_DB), 0, 255).astype(np.uint8)
    screen = cv2.copyMakeBorder(grey, *[MARGIN_PX] * 4, cv2.BORDER_CONSTANT)
    box = Box(row0=MARGIN_PX, col0=MARGIN_PX, row1=MARGIN_PX + drawing.rows, col1=MARGIN_PX + cols)
    axes = SpectralAxes(
        box=box, baseline_row_px=float(MARGIN_PX + zero), cm_s_per_px=cm_s_per_px, is_inverted=False,
        ms_per_px=MS_PER_PX,
    )  # fmt: skip
    return np.asarray(screen, np.uint8), axes


def case_of(
    drawing: Drawing, valve: Valve, signal: Signal, mode: Mode = Mode.PULSED_WAVE,
    r_times_ms: Sequence[float] | None = None,
) -> SpectrumCase:  # fmt: skip
    """Return a drawn spectrum with what is told of it."""
    grey, axes = draw(drawing)
    return SpectrumCase(grey=grey, axes=axes, mode=mode, valve=valve, signal=signal, r_times_ms=r_times_ms)


def _bands(row_cm_s: Floats, velocity_cm_s: Floats, drawing: Drawing) -> Floats:
    """Return power by row and time of one stream."""
    speed = np.abs(velocity_cm_s)
    deviation = np.maximum(BAND_SHARE * speed, drawing.least_band_cm_s)
    off = (row_cm_s[:, None] - velocity_cm_s[None]) / deviation[None]
    band = np.exp(-0.5 * off**2)
    if drawing.is_filled:
        same = np.sign(velocity_cm_s)[None] * row_cm_s[:, None]
        inside = (same > 0) & (same < speed[None])
        band = np.maximum(band, np.where(inside, 1.0, 0.0))
    heard = speed > 0
    if drawing.fades_above_cm_s is not None:
        heard &= speed < drawing.fades_above_cm_s
    return np.asarray(band * heard[None])
