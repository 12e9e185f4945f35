"""The ECG of the simulated animal: lead II, as the clip electrodes of an ultrasound machine would record it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.rhythm import Beat, Rhythm, breath_at, qt_at_ms
from fanlight.simulate.screen.ecg_strip import EcgStrip

Times = NDArray[np.float64]

# Where the waves of a complex lie, as shares of its duration (start, end): engineering judgement; the durations and
# heights themselves are the rhythm's and published.
_Q = (0.00, 0.30)
_R = (0.14, 0.76)
_S = (0.62, 1.00)
_ECTOPIC_MAIN = (0.00, 0.72)  # slurred and wide, then a smaller swing back
_ECTOPIC_BACK = (0.50, 1.00)
_ECTOPIC_BACK_SHARE = -0.30
_ECTOPIC_T_SHARE = -0.35  # of the main deflection: opposite to it (common practice, no source)
_T_LENGTH_FRACTION = 0.42  # of QT; the T wave ends where QT ends
_BREATH_STEP_MS = 20.0  # the breath moves so slowly that straight lines between these times are exact enough


@dataclass(frozen=True, slots=True, kw_only=True)
class EcgNoise:
    """What disturbs a trace, as sums of sine waves: the same at the same time however often it is drawn."""

    wander_mv: float  # of the baseline at a full breath
    hz: tuple[float, ...]
    mv: tuple[float, ...]
    phase_rad: tuple[float, ...]

    def at(self, rhythm: Rhythm, times_ms: Times) -> Times:
        """Return the disturbance at these times, shape (N,), mV."""
        coarse = np.arange(times_ms.min(), times_ms.max() + 2 * _BREATH_STEP_MS, _BREATH_STEP_MS)
        breath = np.asarray([breath_at(rhythm, float(t)) for t in coarse])
        total = self.wander_mv * np.interp(times_ms, coarse, breath)
        for hz, mv, phase in zip(self.hz, self.mv, self.phase_rad, strict=True):
            total = total + mv * np.sin(2 * np.pi * hz * times_ms / 1000.0 + phase)
        return np.asarray(total, np.float64)


def draw_noise(
    rng: np.random.Generator, *, mains_mv: float = 0.0, mains_hz: float = 50.0, muscle_mv: float = 0.0,
    wander_mv: float = 0.05,
) -> EcgNoise:  # fmt: skip
    """Return one recording's disturbance.

    Parameters
    ----------
    rng : numpy.random.Generator
        Phases and the muscle's frequencies come from it.
    mains_mv, mains_hz : float
        Height and frequency of the hum of the mains.
    muscle_mv : float
        Standard deviation of muscle tremor, a band from 25 to 90 Hz (engineering judgement).
    wander_mv : float
        How far the baseline rises with a full breath in.
    """
    n = 14  # sine waves that make tremor: enough to look irregular
    hz = (mains_hz, *(float(v) for v in rng.uniform(25.0, 90.0, size=n)))
    mv = (mains_mv, *(n * [muscle_mv * float(np.sqrt(2.0 / n))]))
    phase = tuple(float(v) for v in rng.uniform(0.0, 2 * np.pi, size=n + 1))
    keep = [i for i, height in enumerate(mv) if height > 0.0]
    return EcgNoise(
        wander_mv=wander_mv,
        hz=tuple(hz[i] for i in keep),
        mv=tuple(mv[i] for i in keep),
        phase_rad=tuple(phase[i] for i in keep),
    )


def ecg_mv(rhythm: Rhythm, beats: Sequence[Beat], times_ms: Times, noise: EcgNoise | None = None) -> Times:
    """Return the ECG, R waves up, in millivolt.

    Parameters
    ----------
    rhythm : Rhythm
        Intervals and heights of the waves.
    beats : sequence of Beat
        QRS complexes begin at their onsets; the P wave comes `pr_ms` before, unless the beat is premature.
    times_ms : ndarray of shape (N,)
        From the start of the recording; NaN is returned before the first and after the last beat.
    noise : EcgNoise, optional
        Added to the clean trace.

    Returns
    -------
    ndarray of shape (N,)
        mV.
    """
    times = np.asarray(times_ms, np.float64)
    total = np.zeros_like(times)
    if len(times):
        low, high = float(times.min()), float(times.max())
        for beat in beats:
            if beat.onset_ms - rhythm.pr_ms < high and beat.end_ms + 400.0 > low:  # a late T may outlast its beat
                total = total + _complex(rhythm, beat, times - beat.onset_ms)
        last = beats[-1]
        final = last.end_ms  # of the beat after the last only the P wave is known
        if not last.cut_short and high > final - rhythm.pr_ms:
            total = total + rhythm.p_mv * _wave(times - final, -rhythm.pr_ms, rhythm.p_ms - rhythm.pr_ms)
        if noise is not None:
            total = total + noise.at(rhythm, times)
    outside = (times < beats[0].onset_ms - rhythm.pr_ms) | (times > beats[-1].end_ms)
    return np.where(outside, np.nan, total)


def r_wave_times_ms(rhythm: Rhythm, beats: Sequence[Beat]) -> tuple[float, ...]:
    """Return when the main deflection of each beat's QRS complex peaks, ms from the start of the recording."""
    return tuple(
        beat.onset_ms + (sum(_ECTOPIC_MAIN) / 2 * rhythm.ectopic_qrs_ms if beat.early else sum(_R) / 2 * rhythm.qrs_ms)
        for beat in beats
    )


def _complex(rhythm: Rhythm, beat: Beat, t: Times) -> Times:
    """One beat's waves at times from the onset of QRS."""
    if beat.early:
        qrs, main = rhythm.ectopic_qrs_ms, rhythm.ectopic_mv
        qt = qt_at_ms(rhythm, beat.before_ms) + qrs - rhythm.qrs_ms
        waves = main * _wave(t, *(share * qrs for share in _ECTOPIC_MAIN))
        waves = waves + _ECTOPIC_BACK_SHARE * main * _wave(t, *(share * qrs for share in _ECTOPIC_BACK))
        return np.asarray(waves + _ECTOPIC_T_SHARE * main * _wave(t, 0.45 * qt, qt))
    qrs, qt = rhythm.qrs_ms, qt_at_ms(rhythm, beat.before_ms)
    waves = rhythm.p_mv * _wave(t, -rhythm.pr_ms, rhythm.p_ms - rhythm.pr_ms)
    for height, (start, end) in ((rhythm.q_mv, _Q), (rhythm.r_mv, _R), (rhythm.s_mv, _S)):
        waves = waves + height * _wave(t, start * qrs, end * qrs)
    return np.asarray(waves + rhythm.t_mv * _wave(t, (1.0 - _T_LENGTH_FRACTION) * qt, qt))


def _wave(t: Times, start: float, end: float) -> Times:
    """A smooth hump of height 1 that is exactly 0 outside (start, end)."""
    x = (t - start) / (end - start)
    return np.where((x > 0.0) & (x < 1.0), np.sin(np.pi * x) ** 2, 0.0)


def record_ecg(
    rhythm: Rhythm,
    beats: Sequence[Beat],
    duration_ms: float,
    *,
    lead_ms: float = 0.0,
    step_ms: float = 1.0,
    noise: EcgNoise | None = None,
) -> EcgStrip:
    """Return the ECG of a recording as samples, for a screen to draw.

    Parameters
    ----------
    rhythm, beats, noise
        As for `ecg_mv`.
    duration_ms : float
        Length of the recording.
    lead_ms : float, optional
        So much before its first frame is recorded too. The beats must cover it (``beats(..., lead_ms=lead_ms)``).
    step_ms : float, optional
        Between samples; 1 ms keeps the height of the narrowest R wave.

    Returns
    -------
    EcgStrip
        With the times of the R waves that lie inside.

    Raises
    ------
    ValueError
        If the beats do not cover the whole time.
    """
    times = np.arange(-lead_ms, duration_ms + step_ms, step_ms)
    mv = ecg_mv(rhythm, beats, np.minimum(times, duration_ms), noise)
    if np.isnan(mv).any():
        raise ValueError(
            f"the beats cover {beats[0].onset_ms:.0f} to {beats[-1].end_ms:.0f} ms, the ECG was to be recorded from "
            f"{-lead_ms:.0f} to {duration_ms:.0f} ms; make the beats with the same duration_ms and lead_ms"
        )
    inside = tuple(t for t in r_wave_times_ms(rhythm, beats) if -lead_ms <= t <= duration_ms)
    return EcgStrip(mv=mv.astype(np.float32), first_ms=-lead_ms, step_ms=step_ms, r_times_ms=inside)
