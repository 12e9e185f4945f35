"""From a Doppler signal to the grey levels of a strip: filter, short-time Fourier transform, decibels, grey map."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.fft import fft
from scipy.signal import butter, sosfilt, sosfilt_zi
from scipy.sparse import csr_array

from fanlight.simulate.machine.receive import curve, quantise
from fanlight.simulate.spectral.spectral_body import BLOOD_DB
from fanlight.simulate.spectral.spectral_setting import SpectralSetting, doppler_hz

Floats = NDArray[np.floating[Any]]
Signal = NDArray[np.complexfloating[Any, Any]]

FILTER_ORDER = 6  # Butterworth: 3 dB down at the cut-off, 36 dB an octave below it
# Length of the piece that makes one column: 12 ms at 100 mm/s, between 10 and 25 ms (engineering judgement; long pieces
# tell velocities apart, short ones moments).
WINDOW_MS_MM_S, SHORTEST_WINDOW_MS, LONGEST_WINDOW_MS = 1200.0, 10.0, 25.0
TISSUE_LONGER = 1.6  # times that for tissue Doppler: its velocities are small (engineering judgement)
# Blood whose power spreads over so wide a band at power 1 lies this far below white at gain 0 (engineering judgement).
REFERENCE_CM_S, WHITE_DB = 30.0, 10.0
TISSUE_DB = -8.0  # and further: all of a wall has one velocity, its power lies in a narrow band
# Noise of a sample: 43 dB under blood at the face; a continuous wave's as dense as that of 10 000 pulses a second. The
# machine's depth gain lifts it (engineering judgement: 30 dB between blood and noise at the depth of a heart).
NOISE_DB, NOISE_HZ = -43.0, 10_000.0
LEAK_DB = -50.0  # of one channel of the demodulator into the mirrored frequency (engineering judgement)
_COLUMNS_AT_ONCE = 40  # whose transforms stay in the cache of a processor (numerical)
_LEAST_ROWS_A_BIN = 2  # padding: the transform is at least twice as fine as the rows (numerical)


def window_ms(setting: SpectralSetting) -> float:
    """Return the length of the piece of signal that makes a column."""
    longer = TISSUE_LONGER if setting.has_low_pass else 1.0
    return min(max(longer * WINDOW_MS_MM_S / setting.sweep_mm_s, SHORTEST_WINDOW_MS), LONGEST_WINDOW_MS)


def resolution_cm_s(setting: SpectralSetting) -> float:
    """Return how far a single steady velocity spreads to either side, -6 dB: one over the window (Hann; identity)."""
    return 1000 / window_ms(setting) / doppler_hz(1.0, setting.frequency_mhz)


def noise_power(setting: SpectralSetting, depth_gain_db: float) -> float:
    """Return the power of the receiver's noise in a sample; blood in the gate has about 1."""
    dense = 1.0 if setting.is_gated else setting.sample_hz / NOISE_HZ
    return float(10 ** ((NOISE_DB + depth_gain_db) / 10) * dense)


def filtered(signal: Signal, setting: SpectralSetting, sample_hz: float) -> Signal:
    """Return the signal without slow tissue, or, for tissue Doppler, without fast blood."""
    if setting.has_low_pass:
        if setting.pulses_kept_one_of == 1:
            return signal  # no pulses to spare: what is fast wraps
        sections = butter(FILTER_ORDER, 0.9 * setting.sample_hz / 2, "lowpass", fs=sample_hz, output="sos")
    else:
        cut = doppler_hz(setting.wall_filter_cm_s, setting.frequency_mhz)
        sections = butter(FILTER_ORDER, cut, "highpass", fs=sample_hz, output="sos")
    settled = sosfilt_zi(sections) * signal[0]  # as if the first sample had stood for ever
    return np.asarray(sosfilt(sections, signal, zi=settled)[0])


def leaked(signal: Signal) -> Signal:
    """Return the signal with the leak between the channels of the demodulator: a faint mirror image about 0."""
    return np.asarray(signal + 10 ** (LEAK_DB / 20) * np.conj(signal))


def power_columns(signal: Signal, sample_hz: float, middles: NDArray[np.intp], n_window: int, n_bins: int) -> Floats:
    """Return the power density (bin, column), 1/Hz, of pieces about some samples, in the order of the transform."""
    taper = np.hanning(n_window + 2)[1:-1]
    heard = signal.astype(np.complex64, copy=False)  # 32 bits hold 140 dB, twice what is shown
    heard = np.concatenate([np.full(n_window, heard[0]), heard, np.full(n_window, heard[-1])])
    pieces = np.lib.stride_tricks.sliding_window_view(heard, n_window)
    first = np.clip(middles - n_window // 2, -n_window, len(signal) - 1) + n_window
    weight, whole = taper.astype(np.float32), np.float32((taper**2).sum() * sample_hz)
    out = np.empty((n_bins, len(middles)), np.float32)
    for k in range(0, len(middles), _COLUMNS_AT_ONCE):
        transform = np.asarray(fft(pieces[first[k : k + _COLUMNS_AT_ONCE]] * weight, n_bins, axis=1, overwrite_x=True))
        squares = transform.view(np.float32).reshape(len(transform), n_bins, 2)
        np.square(squares, out=squares)
        out[:, k : k + _COLUMNS_AT_ONCE] = ((squares[..., 0] + squares[..., 1]) / whole).T
    return out


def row_velocities_cm_s(setting: SpectralSetting, rows: int) -> Floats:
    """Return the velocity towards the probe of each row's middle, as sampled: before any correction for an angle."""
    step = 2 * setting.scale_cm_s / rows
    up = (baseline_row(setting, rows) - np.arange(rows)) * step
    return np.asarray(-up if setting.is_inverted else up)


def baseline_row(setting: SpectralSetting, rows: int) -> int:
    """Return the row of velocity 0: a row may hold the whole height above it, or none."""
    return min(round(setting.baseline_fraction * rows), rows - 1)


def to_rows(density: Floats, setting: SpectralSetting, sample_hz: float, rows: int) -> Floats:
    """Return the density (row, column) of a strip: bins that a row spans are averaged, what lies beyond wraps round."""
    n = len(density)
    place = doppler_hz(1.0, setting.frequency_mhz) * row_velocities_cm_s(setting, rows) / sample_hz * n
    reach = max(1.0, n / rows * setting.sample_hz / sample_hz)
    apart = np.abs((np.arange(n)[None, :] - place[:, None] + n / 2) % n - n / 2)
    weight = np.clip(1 - apart / reach, 0, None)
    mean = csr_array(weight / weight.sum(axis=1, keepdims=True))  # a row spans few bins
    return np.asarray(mean @ density.astype(np.float64))


def bins_for(n_window: int, rows: int) -> int:
    """Return the length of the transform."""
    return int(2 ** math.ceil(math.log2(max(n_window, _LEAST_ROWS_A_BIN * rows))))


def shown_db(density: Floats, setting: SpectralSetting) -> Floats:
    """Return the level of a density, dB below white, at the gain that is set."""
    reference = 1 / doppler_hz(REFERENCE_CM_S, setting.frequency_mhz)
    tissue = BLOOD_DB + TISSUE_DB if setting.has_low_pass else 0.0  # tissue Doppler is turned down to tissue
    return np.asarray(10 * np.log10(density / reference + 1e-12) + tissue + setting.gain_db - WHITE_DB)


def grey_levels(density: Floats, setting: SpectralSetting) -> NDArray[np.uint8]:
    """Return the strip's grey levels."""
    grey = np.clip(1 + shown_db(density, setting) / setting.dynamic_range_db, 0, 1)
    grey = np.where(grey < setting.reject_fraction, 0.0, grey)
    return np.asarray(quantise(np, curve(np, setting.grey_map, grey)))
