"""Which frames of a clip a letter plays: the cited beat, from R wave to R wave, and how long each frame stands."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from fanlight.reference.letter import ExcerptLimits
from fanlight.study import ClipReading, ClipTime, Evidence, Layout

# Browsers hold a frame that asks for 10 ms or less for 100 ms instead (measured in Chromium: 10 frames a second at
# 10 ms, 91 at 11 ms), and screens show 60 pictures a second: at higher rates frames are passed over, the speed stays
# true.
_SHORTEST_MS = 16.0
_ASSUMED_MS = 1000 / 30  # where the file does not say; the stage of the desk plays at the same speed


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """Some frames of a clip that a letter cites, before they are cut out."""

    clip: str  # Clip.key
    number: int  # of the clip, as the letter counts
    title: str  # what it is cited for, in words
    is_praise: bool
    frame: int  # the cited one, from 0
    frames: tuple[int, ...]  # those shown, in order
    durations_ms: tuple[int, ...]  # how long each stands
    is_beat: bool  # from R wave to R wave
    is_true_speed: bool
    layout: Layout
    evidence: tuple[Evidence, ...]

    @property
    def caption(self) -> str:
        """Clip, frames and length in words."""
        what = "one beat" if self.is_beat else f"{sum(self.durations_ms) / 1000:.1f} s"
        speed = "" if self.is_true_speed else "; true speed not known, shown at 30 frames a second"
        return f"Clip {self.number}, frames {self.frames[0] + 1} to {self.frames[-1] + 1}: {what}{speed}"

    @property
    def still_caption(self) -> str:
        """The cited frame in words."""
        return f"Clip {self.number}, frame {self.frame + 1}"


def passage_of(
    reading: ClipReading, frame: int, evidence: tuple[Evidence, ...], title: str, limits: ExcerptLimits, *,
    is_praise: bool = False,
) -> Passage | None:  # fmt: skip
    """Return the beat that a frame lies in, or None for a still.

    Parameters
    ----------
    reading : ClipReading
        Of the clip.
    frame : int
        The cited one, from 0.
    evidence : tuple of Evidence
        What is drawn on it.
    title : str
        What it is cited for.
    limits : ExcerptLimits
        How long a passage may be.
    is_praise : bool
        It shows what is right; such passages are the first to go when the letter grows too large.
    """
    n = min(reading.frames_read, reading.clip.n_frames)
    if n < 2:
        return None
    frame = min(max(frame, 0), n - 1)
    starts, is_true = _starts_ms(reading, n)
    beat = _beat(reading.time, frame, n)
    first, end = beat or _around(starts, frame, 1000 * limits.seconds_without_beat)
    end = min(end, _until(starts, first, 1000 * limits.seconds_max))
    if not first <= frame < end:  # cut short before the cited frame
        first, end = _around(starts, frame, 1000 * limits.seconds_max)
    frames = _thinned(starts, first, end)
    edges = [round(starts[place]) for place in (*frames, end)]
    return Passage(
        clip=reading.clip.key, number=reading.clip.number, title=title, is_praise=is_praise, frame=frame,
        frames=frames, durations_ms=tuple(after - before for before, after in itertools.pairwise(edges)),
        is_beat=beat == (first, end), is_true_speed=is_true, layout=reading.layout, evidence=evidence,
    )  # fmt: skip


def _starts_ms(reading: ClipReading, n: int) -> tuple[list[float], bool]:
    """Return when each frame begins and when the last one ends (n + 1 values), and whether that is known."""
    for times in (reading.time.times.times_ms, reading.clip.times.times_ms):
        if len(times) >= n and times[n - 1] > times[0]:
            starts = [at - times[0] for at in times[:n]]
            if all(after > before for before, after in itertools.pairwise(starts)):
                return [*starts, 2 * starts[-1] - starts[-2]], True
    return [_ASSUMED_MS * place for place in range(n + 1)], False


def _beat(time: ClipTime, frame: int, n: int) -> tuple[int, int] | None:
    """Return first frame and end (outside) of the whole beat around a frame; None where no beat holds it."""
    waves = [round(wave) for wave in time.r_frames if 0 <= round(wave) <= n]
    for start, end in itertools.pairwise(waves):
        if start <= frame < end:
            return start, end
    period = time.beat_period_frames
    if not period or not 2 <= period <= n:
        return None
    length = round(period)
    if not waves:  # beats told by motion: one period anywhere is a whole beat
        first = min(max(frame - length // 2, 0), n - length)
        return first, first + length
    # Before the first R wave or after the last: the part of the beat that was stored, if it is all there.
    first = waves[0] - length if frame < waves[0] else waves[-1]
    return (first, first + length) if first >= 0 and first + length <= n else None


def _around(starts: list[float], frame: int, length_ms: float) -> tuple[int, int]:
    """Return the frames of a stretch of time with a frame in its middle, moved inwards at the ends of the clip."""
    begin = min(starts[frame] - length_ms / 2, starts[-1] - length_ms)
    first = next((place for place, at in enumerate(starts[:-1]) if at >= begin - 1e-6), 0)
    first = min(first, frame)
    return first, max(_until(starts, first, length_ms), frame + 1)


def _until(starts: list[float], first: int, length_ms: float) -> int:
    """Return the end (outside) of the longest run from a frame that lasts no longer than this; one frame at least."""
    end = first + 1
    while end < len(starts) - 1 and starts[end + 1] - starts[first] <= length_ms + 1e-6:
        end += 1
    return end


def _thinned(starts: list[float], first: int, end: int) -> tuple[int, ...]:
    """Return the frames that are shown: each stands long enough for a screen, evenly spaced."""
    mean_ms = (starts[end] - starts[first]) / (end - first)
    step = max(1, math.ceil(_SHORTEST_MS / mean_ms - 1e-6))
    return tuple(range(first, end, step))
