"""When the left heart truly relaxes: between the aortic valve that shuts and the inflow that begins, by the model.

Isovolumic relaxation is a time of the heart and not of a beam: what a beam hears in between, a leak that runs until the
mitral valve opens or a valve's leaflet, moves no valve. Asked of the clock that moves the heart.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from fanlight.heart.beat_timing import Wave, time_beat
from fanlight.heart.rhythm import beats
from fanlight.simulate.clip.film import STRIP_LEAD_MS
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.screen.ecg_trace import r_wave_times_ms
from measure._criterion_clips import Subject, draw_subject

FOOT_SHARE = 0.03  # of a peak: a wave begins and ends there, as all waves of the table do
STEP_MS = 0.5
SAME_MS = 0.01  # rounding, between the beats of a still and those of its animal


def true_relaxations(seed: int, ring: Ring, r_times_ms: tuple[float, ...]) -> tuple[tuple[float, float], ...]:
    """Return from when to when the left ventricle relaxes in each beat of a still, in the times of its R waves.

    Parameters
    ----------
    seed : int
        Of the animal.
    ring : Ring
        Whose generator drew it.
    r_times_ms : tuple of float
        R waves of all beats that the still knows, from its first frame on.

    Raises
    ------
    RuntimeError
        If the animal's beats are others: the still was drawn by other code.
    """
    subject = _subject(seed, ring)
    rhythm = subject.animal.rhythm
    # The beats of a still, as `simulate.clip.film` asks for them.
    run = beats(rhythm, subject.start_ms + 3 * rhythm.rr_ms, lead_ms=STRIP_LEAD_MS + 2 * rhythm.rr_ms)
    known = np.asarray(r_wave_times_ms(rhythm, run))
    if len(known) != len(r_times_ms) or np.ptp(known - np.asarray(r_times_ms)) > SAME_MS:
        raise RuntimeError(f"animal {seed} of ring {ring} has other beats than its still; draw its stills again")
    start_ms = float(known[0] - r_times_ms[0])
    found = []
    for beat in run:
        timing = time_beat(rhythm, beat)
        at = beat.onset_ms - start_ms
        found.append((at + _feet_ms(timing.aortic)[1], at + _feet_ms(timing.mitral.early)[0]))
    return tuple(found)


@lru_cache(maxsize=2)  # all stills of an animal follow one another
def _subject(seed: int, ring: Ring) -> Subject:
    return draw_subject(seed, ring)


def _feet_ms(wave: Wave) -> tuple[float, float]:
    """Return when a wave passes the least share of its peak that counts, up and down."""
    times = np.arange(wave.start_ms, wave.end_ms, STEP_MS)
    above = times[[wave.height(float(t)) > FOOT_SHARE for t in times]]
    return float(above[0]), float(above[-1])
