"""Heart beats within a clip."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from fanlight.study.clip import FrameTimes


class BeatSource(StrEnum):
    """What told the beats apart."""

    R_WAVE_TAG = "R-wave times in the file"
    ECG_TRACE = "ECG trace on the screen"
    MOTION = "repeating motion of the picture"
    NONE = "not found"


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipTime:
    """When the frames were taken and where the beats lie.

    `r_frames` are fractional frame indices. `end_diastole_frames` and `end_systole_frames` hold one
    frame index a complete beat, or are empty. Without a witness for time (`times` empty or doubted and
    nothing to confirm it) periods are given in frames only and every `_ms` and `_bpm` is None.
    """

    times: FrameTimes
    beat_source: BeatSource
    r_frames: tuple[float, ...] = ()
    beat_period_frames: float | None = None
    beat_period_ms: float | None = None
    heart_rate_bpm: float | None = None
    rr_ms: tuple[float, ...] = ()
    complete_beats: float = 0.0  # clip length divided by the period; whole intervals for R waves
    end_diastole_frames: tuple[int, ...] = ()
    end_systole_frames: tuple[int, ...] = ()
    confidence: float = 0.0  # 0 to 1, of the beats
    has_ecg: bool | None = None  # None: could not be judged
    ecg_reason: str = ""
    frozen_frames: tuple[int, ...] = ()  # frames equal to the one before
    reasons: tuple[str, ...] = ()
