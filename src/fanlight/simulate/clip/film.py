"""From the setting of a clip to its moments: when each frame is taken, where the heart and the probe are then."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from fanlight.heart.animal import Animal
from fanlight.heart.cycle import state_at
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.movements import moved
from fanlight.heart.pose import Pose
from fanlight.heart.rhythm import Beat, beats
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.machine.console import Console
from fanlight.study import Mode

# A console stores pictures no faster than it needs: twice the 12 a beat below which end-systole is missed, and at least
# 40 a second. What the beams would allow beyond that is not stored (engineering judgement; many consoles thin out).
STORED_PER_BEAT = 24
STORED_AT_LEAST_HZ = 40.0
LEAD_MS = 4000.0  # of beats before a clip: the ECG runs already when it begins
STRIP_LEAD_MS = 16_000.0  # before an M-mode: its strip is full when it is stored, also at the slowest sweep


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Film:
    """The moments of one still or clip."""

    states: tuple[CycleState, ...]  # one a frame; their times count from the first frame
    beats: tuple[Beat, ...]  # onsets count from the start of the animal's rhythm, as `start_ms` does
    start_ms: float  # of the first frame
    rate_hz: float
    times_ms: tuple[float, ...]  # from the first frame
    pose_at: Callable[[float], Pose]  # of the time in ms from the first frame
    moves: bool  # whether the pose changes while the clip runs
    state_at: Callable[[float], CycleState]  # of the time in ms from the first frame, from `lead_ms` before it
    lead_ms: float

    @property
    def onsets_ms(self) -> tuple[float, ...]:
        """Onsets of the beats that begin within the clip, from the first frame."""
        times = (beat.onset_ms - self.start_ms for beat in self.beats)
        return tuple(t for t in times if 0 <= t <= self.times_ms[-1])

    @property
    def rr_ms(self) -> float:
        """Mean interval of the beats that touch the clip."""
        end = self.start_ms + self.times_ms[-1]
        here = [
            beat.rr_ms for beat in self.beats if beat.onset_ms <= end and beat.onset_ms + beat.rr_ms > self.start_ms
        ]
        return sum(here) / len(here)


def stored_rate_hz(console: Console, heart_rate_bpm: float) -> float:
    """Return the pictures a second that the console stores."""
    enough = max(STORED_AT_LEAST_HZ, STORED_PER_BEAT * heart_rate_bpm / 60)
    return min(console.frame_rate_hz, enough)


def shoot_times(animal: Animal, setting: ClipSetting, *, start_ms: float, rate_hz: float | None = None) -> Film:
    """Return the moments at which the frames of this setting are taken.

    Parameters
    ----------
    animal : Animal
        Its rhythm gives the beats.
    setting : ClipSetting
        Length, frame rate and drift.
    start_ms : float
        When in the animal's rhythm the first frame is taken, 0 or later.
    rate_hz : float, optional
        Frames a second; by default what the console stores.

    Returns
    -------
    Film
        At least one frame; a still is the end of diastole next to `start_ms`.
    """
    rate = rate_hz or stored_rate_hz(setting.console, animal.rhythm.rate_bpm)
    rr_ms = 60_000.0 / animal.rhythm.rate_bpm
    length_ms = 0.0 if setting.recording.is_still else setting.recording.beats * rr_ms
    lead_ms = STRIP_LEAD_MS if setting.mode is Mode.M_MODE else LEAD_MS
    run = beats(animal.rhythm, start_ms + length_ms + 3 * rr_ms, lead_ms=lead_ms + 2 * rr_ms)
    if setting.recording.is_still:
        start_ms = next(beat.onset_ms for beat in run if beat.onset_ms >= start_ms)
    n = max(1, math.ceil(length_ms / 1000 * rate))
    times = tuple(1000.0 * i / rate for i in range(n))

    def state(time_ms: float) -> CycleState:
        return replace(state_at(animal.rhythm, run, start_ms + time_ms), time_ms=time_ms)

    return Film(
        states=tuple(state(t) for t in times),
        beats=run,
        start_ms=start_ms,
        rate_hz=rate,
        times_ms=times,
        pose_at=_path(animal, setting, times[-1]),
        moves=bool(setting.drifts),
        state_at=state,
        lead_ms=lead_ms,
    )


def _path(animal: Animal, setting: ClipSetting, last_ms: float) -> Callable[[float], Pose]:
    def at(time_ms: float) -> Pose:
        pose = setting.pose
        share = (time_ms / last_ms if last_ms > 0 else 0.5) - 0.5
        for drift in setting.drifts:
            pose = moved(animal, pose, drift.movement, float(np.clip(share, -0.5, 0.5)) * drift.amount)
        return pose

    return at
