"""Heart beats of one clip from all that speaks of them: tags, the ECG on the screen, and the moving picture."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fanlight.frames.beats import place_beats
from fanlight.frames.ecg import EcgReading, EcgTrace, is_line_of_words
from fanlight.frames.layout_of import FirstSeen
from fanlight.frames.motion import Motion, MotionReading
from fanlight.study import BeatSource, Clip, ClipTime, FrameTimes, Layout, PictureChunk, TimeSource

VERSION = 1  # raise it when the beats of the same pixels can come out otherwise: kept results are then made anew

_MIN_ECG_CONFIDENCE = 0.35  # engineering judgement: below this R waves are not used, only mentioned
_HEART_BPM = (35.0, 350.0)  # sleeping large dog to cat in tachycardia; slower repeats are breaths (common practice)
_AGREE = 0.12  # of the period: two witnesses that say the same beat length
_WORDS = "what looked like a trace is a line of words, so no ECG was found on the screen"
_CONFIRM = 0.10  # of the rate: a written heart rate that bears out doubted frame times (it is shown as whole numbers)


@dataclass(frozen=True, slots=True)
class _Beats:
    """Beats as one witness tells them."""

    source: BeatSource
    r_frames: tuple[float, ...] = ()
    period_frames: float | None = None
    confidence: float = 0.0


class ClipTimer:
    """Shown a clip's frames once, in order; `finish` tells where the beats lie.

    What was `seen` in the very frames that are shown first need not be looked for anew.

    Examples
    --------
    >>> from fanlight.study import Clip, Layout
    >>> layout = Layout(rows=1, cols=1, picture=None, picture_confidence=0.0, picture_reason="", scale=None,
    ...                 scale_reason="")
    >>> clip = Clip(key="k", number=1, name="still.png", container="PNG", rows=1, cols=1, n_frames=1, is_colour=False)
    >>> ClipTimer(clip, layout).finish().reasons
    ('a still has no beats',)
    """

    def __init__(self, clip: Clip, layout: Layout, seen: FirstSeen | None = None) -> None:
        self._clip = clip
        self._layout = layout
        self._seen = seen if seen is not None and seen.found[0] == layout.picture else None
        self._ecg = EcgTrace()
        self._motion = Motion()
        self._n_frames = 0

    def add(self, chunk: PictureChunk) -> None:
        """Take in some frames; the arrays are not kept."""
        if self._n_frames == 0 and self._seen is not None:
            self._ecg.follow(self._seen.line, self._layout.picture, *chunk.pixels.shape[1:3])
        elif self._n_frames == 0:
            self._ecg.start(chunk.pixels, self._layout.picture)
        self._n_frames += len(chunk)
        if self._clip.is_still:
            return
        self._ecg.add(chunk)
        self._motion.add(chunk)

    def finish(self) -> ClipTime:
        """Return the beats of the frames that were shown."""
        clip, tags = self._clip, self._clip.tags
        if clip.is_still or self._n_frames < 2:
            return ClipTime(
                times=clip.times, beat_source=BeatSource.NONE, has_ecg=True if tags.r_wave_times_ms else None,
                ecg_reason="an ECG is looked for in clips: a line on a still does not show that it is a trace",
                reasons=("a still has no beats",),
            )  # fmt: skip
        times = _checked_times(clip.times, self._n_frames)
        ecg = self._ecg.finish(times)
        if ecg.box is not None and is_line_of_words(ecg.box, self._layout.texts):
            ecg = replace(ecg, box=None, r_frames=(), rr_frames=(), confidence=0.0, reason=_WORDS)
        has_ecg = ecg.box is not None or bool(tags.r_wave_times_ms)
        motion = _of_a_heart(self._motion.finish(), times)
        reasons: list[str] = []
        beats = _settle(_from_tags(tags.r_wave_times_ms, times, self._n_frames, reasons), ecg, motion, reasons)
        placed = place_beats(beats.r_frames, self._motion.signatures()) if len(beats.r_frames) >= 2 else None
        if placed is not None:
            reasons.append(placed.reason)
        elif beats.source is BeatSource.MOTION:
            reasons.append("without R waves end-diastole and end-systole cannot be told apart")
        period_ms, rate_bpm = self._in_time(beats, times, reasons)
        steps_ms = _rr_ms(beats.r_frames, times) if period_ms is not None else ()
        whole = float(max(len(beats.r_frames) - 1, 0)) if len(beats.r_frames) >= 2 else 0.0
        if beats.period_frames is not None and len(beats.r_frames) < 2:
            whole = self._n_frames / beats.period_frames
        return ClipTime(
            times=times,
            beat_source=beats.source,
            r_frames=beats.r_frames,
            beat_period_frames=beats.period_frames,
            beat_period_ms=period_ms,
            heart_rate_bpm=rate_bpm,
            rr_ms=steps_ms,
            complete_beats=whole,
            end_diastole_frames=placed.end_diastole_frames if placed else (),
            end_systole_frames=placed.end_systole_frames if placed else (),
            confidence=beats.confidence,
            has_ecg=has_ecg,
            ecg_reason="R-wave times are in the file" if tags.r_wave_times_ms and ecg.box is None else ecg.reason,
            frozen_frames=motion.frozen_frames,
            reasons=tuple(reasons),
        )

    def _in_time(self, beats: _Beats, times: FrameTimes, reasons: list[str]) -> tuple[float | None, float | None]:
        """Beat length in milliseconds and heart rate, where the frame times can be believed."""
        rate_hz = times.rate_hz
        if beats.period_frames is None:
            return None, None
        if rate_hz is None:
            reasons.append("the file tells no frame times: the beat is given in frames only")
            return None, None
        period_ms = 1000.0 * beats.period_frames / rate_hz
        bpm = 60000.0 / period_ms
        written = self._written_bpm()
        borne_out = [w for w in written if abs(w - bpm) <= _CONFIRM * w]
        if times.doubts:
            if not borne_out:
                reasons.append(
                    f"the frame times are doubted ({'; '.join(times.doubts)}): the beat is given in frames only"
                )
                return None, None
            reasons.append(f"the doubted frame times are borne out by a written heart rate of {borne_out[0]:g} bpm")
        elif written and not borne_out:
            said = " or ".join(f"{w:g}" for w in written)
            reasons.append(f"the frame times give {bpm:.0f} bpm, but {said} bpm is written: one of them is wrong")
        elif borne_out:
            reasons.append(f"a written heart rate of {borne_out[0]:g} bpm agrees")
        return period_ms, bpm

    def _written_bpm(self) -> list[float]:
        """Heart rates in the tags and on the screen. Witnesses only: they may be seconds old."""
        found = [self._clip.tags.heart_rate_bpm] if self._clip.tags.heart_rate_bpm else []
        found += [q.value for text in self._layout.texts for q in text.quantities if q.unit == "bpm"]
        return [float(value) for value in found if value and 20 <= value <= 400]


def _checked_times(times: FrameTimes, n_frames: int) -> FrameTimes:
    """The frame times of the frames that were shown; doubted where their number or order cannot be right."""
    doubts = list(times.doubts)
    steps = np.diff(times.times_ms)
    if len(steps) and (steps <= 0).any():
        doubts.append("frame times that do not rise")
    if times.times_ms and len(times.times_ms) < n_frames:
        doubts.append(f"{len(times.times_ms)} frame times for {n_frames} frames")
    if times.source is TimeSource.GIF_DELAY and not doubts:
        doubts.append("delays of a GIF file are whole hundredths of a second and often edited")
    if tuple(doubts) == times.doubts and len(times.times_ms) <= n_frames:
        return times
    return FrameTimes(times_ms=times.times_ms[:n_frames], source=times.source, doubts=tuple(doubts))


def _from_tags(r_ms: tuple[float, ...], times: FrameTimes, n_frames: int, reasons: list[str]) -> _Beats:
    """R-wave times of the file (R Wave Time Vector, 0018,6060: milliseconds from the first frame) as frames."""
    if not r_ms:
        return _Beats(BeatSource.NONE)
    if len(times.times_ms) < 2:
        reasons.append("R-wave times are in the file, but no frame times to place them")
        return _Beats(BeatSource.NONE)
    clock = np.asarray(times.times_ms)
    step = (clock[-1] - clock[0]) / (len(clock) - 1)
    inside = [r for r in sorted(r_ms) if clock[0] - step / 2 <= r - 0.0 <= clock[-1] + step / 2]
    if len(inside) < len(r_ms):
        reasons.append(f"{len(r_ms) - len(inside)} of {len(r_ms)} R-wave times lie outside the clip")
    frames = tuple(float(f) for f in np.interp(inside, clock, np.arange(len(clock))) if f <= n_frames - 1)
    if not frames:
        return _Beats(BeatSource.NONE)
    period = _mean_interval(tuple(np.diff(frames))) if len(frames) >= 2 else None
    if period is not None and period < 2:
        reasons.append("the R-wave times of the file would mean less than two frames a beat: not used")
        return _Beats(BeatSource.NONE)
    return _Beats(BeatSource.R_WAVE_TAG, frames, period, 0.9 if period else 0.6)


def _settle(tagged: _Beats, ecg: EcgReading, motion: MotionReading, reasons: list[str]) -> _Beats:
    """Choose the best witness and let the motion of the picture agree or disagree with it."""
    chosen = tagged
    if chosen.source is BeatSource.NONE and ecg.rr_frames and ecg.confidence >= _MIN_ECG_CONFIDENCE:
        chosen = _Beats(BeatSource.ECG_TRACE, ecg.r_frames, _mean_interval(ecg.rr_frames), ecg.confidence)
        reasons.append(ecg.reason)
    elif chosen.source is BeatSource.NONE and ecg.box is not None:
        reasons.append(ecg.reason if not ecg.rr_frames else "the R waves of the trace are not clear enough to be used")
    if chosen.period_frames is None:
        if motion.period_frames is not None:
            reasons.append(motion.reason)
            return _Beats(BeatSource.MOTION, chosen.r_frames, motion.period_frames, motion.confidence)
        if chosen.source is BeatSource.NONE:
            reasons.append(motion.reason)
        return chosen
    if motion.period_frames is None:
        return chosen
    ratio = motion.period_frames / chosen.period_frames
    if abs(ratio - 1) <= _AGREE:
        reasons.append(f"the motion of the picture agrees ({motion.period_frames:.1f} frames a beat)")
        return _Beats(chosen.source, chosen.r_frames, chosen.period_frames, max(chosen.confidence, 0.9))
    if motion.confidence >= 0.6 and min(abs(ratio - k) for k in (0.5, 2.0, 3.0)) > _AGREE:
        reasons.append(
            f"the picture repeats every {motion.period_frames:.1f} frames, the R waves every {chosen.period_frames:.1f}"
        )
        return _Beats(chosen.source, chosen.r_frames, chosen.period_frames, 0.7 * chosen.confidence)
    return chosen


def _of_a_heart(motion: MotionReading, times: FrameTimes) -> MotionReading:
    """The motion, without a period that only breathing or flicker can have."""
    if motion.period_frames is None or times.doubts or times.rate_hz is None:
        return motion
    bpm = 60.0 * times.rate_hz / motion.period_frames
    if _HEART_BPM[0] <= bpm <= _HEART_BPM[1]:
        return motion
    reason = f"the picture repeats {bpm:.0f} times a minute: not taken for heart beats"
    return replace(motion, period_frames=None, confidence=0.0, reason=reason)


def _mean_interval(rr_frames: tuple[float, ...]) -> float:
    """Mean beat; an interval nearly twice the usual one hides a wave that was not read, and is left out."""
    values = np.asarray(rr_frames)
    return float(values[values <= 1.7 * np.median(values)].mean())


def _rr_ms(r_frames: tuple[float, ...], times: FrameTimes) -> tuple[float, ...]:
    """Intervals between R waves in milliseconds."""
    clock = np.asarray(times.times_ms)
    at = np.interp(r_frames, np.arange(len(clock)), clock)
    return tuple(float(step) for step in np.diff(at))
