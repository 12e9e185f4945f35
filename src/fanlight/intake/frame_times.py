"""When each frame was taken, as the file says, and what speaks against it."""

from __future__ import annotations

from itertools import accumulate, pairwise

from pydicom.dataset import Dataset
from pydicom.multival import MultiValue

from fanlight.intake.dicom_header import number_of, numbers_of, value_of
from fanlight.study import FrameTimes, TimeSource

# Two statements of the same rate that differ by more contradict each other. Engineering judgement: rates are written
# rounded to whole frames a second, which at 15 Hz and above stays below 4 %.
_CONTRADICTION_FRACTION = 0.05
# Outside these no machine stores a moving picture of a heart. Engineering judgement: 2-D and colour run at 5 to 400 Hz.
_SLOWEST_HZ, _FASTEST_HZ = 2.0, 1000.0
# Rates at which recorders and screen grabbers write whatever they are shown (television and screen standards).
_RECORDER_RATES_HZ = (23.976, 24.0, 25.0, 29.97, 30.0, 50.0, 59.94, 60.0)
_RECORDER_TOLERANCE_HZ = 0.02
_FRAME_TIME_TAG, _VECTOR_TAG = 0x00181063, 0x00181065


def _differ(one: float, other: float) -> bool:
    return abs(one - other) > _CONTRADICTION_FRACTION * max(abs(one), abs(other))


def _rate_doubts(rate_hz: float) -> tuple[str, ...]:
    if not _SLOWEST_HZ <= rate_hz <= _FASTEST_HZ:
        return (f"{rate_hz:g} frames a second is not a rate at which a heart is scanned",)
    return ()


def _even(step_ms: float, n_frames: int) -> tuple[float, ...]:
    return tuple(index * step_ms for index in range(n_frames))


def _pointed_at(data: Dataset) -> set[int]:
    """Tags that the Frame Increment Pointer (0028,0009) names."""
    value = value_of(data, "FrameIncrementPointer")
    values = value if isinstance(value, MultiValue | list) else [value]
    try:
        return {int(item) for item in values if item is not None}
    except (TypeError, ValueError):
        return set()


def _by_vector(data: Dataset, n_frames: int, doubts: list[str]) -> FrameTimes | None:
    """Frame Time Vector: increments to the frame before, the first counts for nothing (PS3.3 C.7.6.5.1.2)."""
    steps = numbers_of(data, "FrameTimeVector")
    if not steps:
        return None
    if len(steps) != n_frames:
        doubts.append(f"Frame Time Vector has {len(steps)} entries for {n_frames} frames; it was not used")
        return None
    if min(steps[1:]) <= 0:
        doubts.append("Frame Time Vector holds steps of zero or less; it was not used")
        return None
    times = tuple(accumulate((0.0, *steps[1:])))
    rate_hz = 1000.0 * (n_frames - 1) / times[-1]
    own = list(_rate_doubts(rate_hz))
    frame_time, cine_rate = number_of(data, "FrameTime"), number_of(data, "CineRate")
    if frame_time and frame_time > 0 and _differ(1000.0 / frame_time, rate_hz):
        own.append(f"Frame Time Vector says {rate_hz:.1f} frames a second, Frame Time {1000.0 / frame_time:.1f}")
    if cine_rate and cine_rate > 0 and _differ(cine_rate, rate_hz):
        own.append(f"Frame Time Vector says {rate_hz:.1f} frames a second, Cine Rate {cine_rate:g}")
    return FrameTimes(times_ms=times, source=TimeSource.FRAME_TIME_VECTOR, doubts=tuple(doubts + own))


def _by_frame_time(data: Dataset, n_frames: int, doubts: list[str]) -> FrameTimes | None:
    """Frame Time: the nominal step (PS3.3 C.7.6.5.1.1)."""
    step_ms = number_of(data, "FrameTime")
    if step_ms is None:
        return None
    if step_ms <= 0:
        doubts.append(f"Frame Time is {step_ms:g} ms; it was not used")
        return None
    rate_hz = 1000.0 / step_ms
    own = list(_rate_doubts(rate_hz))
    cine_rate = number_of(data, "CineRate")
    if cine_rate and cine_rate > 0 and _differ(cine_rate, rate_hz):
        own.append(f"Frame Time says {rate_hz:.1f} frames a second, Cine Rate {cine_rate:g}")
    duration_s = number_of(data, "EffectiveDuration")
    # Effective Duration (0018,0072) may or may not count the last frame's own step: either agrees.
    if duration_s and duration_s > 0:
        stated_ms = duration_s * 1000.0
        if _differ(stated_ms, step_ms * n_frames) and _differ(stated_ms, step_ms * (n_frames - 1)):
            own.append(
                f"Frame Time makes {step_ms * n_frames / 1000.0:.2f} s, Effective Duration says {duration_s:g} s"
            )
    return FrameTimes(times_ms=_even(step_ms, n_frames), source=TimeSource.FRAME_TIME, doubts=tuple(doubts + own))


def _by_rate(data: Dataset, n_frames: int, doubts: list[str]) -> FrameTimes | None:
    rate_hz = number_of(data, "CineRate")
    if rate_hz and rate_hz > 0:
        return FrameTimes(
            times_ms=_even(1000.0 / rate_hz, n_frames),
            source=TimeSource.CINE_RATE,
            doubts=(*doubts, *_rate_doubts(rate_hz)),
        )
    rate_hz = number_of(data, "RecommendedDisplayFrameRate")
    if rate_hz and rate_hz > 0:
        display = "only the rate for display is stated (0008,2144); the heart may have been scanned at another"
        return FrameTimes(
            times_ms=_even(1000.0 / rate_hz, n_frames),
            source=TimeSource.RECOMMENDED_RATE,
            doubts=(*doubts, display, *_rate_doubts(rate_hz)),
        )
    return None


def times_of_dicom(data: Dataset, n_frames: int) -> FrameTimes:
    """Return the frame times of a DICOM clip.

    The attribute that the Frame Increment Pointer names comes first, then Frame Time Vector, Frame Time, Cine Rate,
    and the recommended display rate. What contradicts the choice is in its doubts.

    Parameters
    ----------
    data : Dataset
        Header of the file.
    n_frames : int
        Number of frames; one: a still, which has no times.

    References
    ----------
    DICOM PS3.3 C.7.6.5 (Cine module) and C.7.6.6 (Multi-frame module).
    """
    if n_frames < 2:
        return FrameTimes()
    doubts: list[str] = []
    readers = [_by_vector, _by_frame_time]
    pointed = _pointed_at(data)
    if _FRAME_TIME_TAG in pointed and _VECTOR_TAG not in pointed:
        readers.reverse()
    for reader in (*readers, _by_rate):
        times = reader(data, n_frames, doubts)
        if times is not None:
            return times
    return FrameTimes(doubts=tuple(doubts))


def times_of_video(times_ms: tuple[float, ...], nominal_hz: float | None, n_frames: int) -> FrameTimes:
    """Return the frame times of a video file, with a doubt when they look like a recorder's clock.

    A recorder writes its own rate, whatever the scanner's was: frames are then repeated or dropped.
    """
    if n_frames < 2:
        return FrameTimes()
    doubts: list[str] = []
    if len(times_ms) != n_frames:
        if not nominal_hz or nominal_hz <= 0:
            return FrameTimes(doubts=("the video file gives no times",))
        times_ms = _even(1000.0 / nominal_hz, n_frames)
        doubts.append("the video file gives a rate but no time for each frame")
    times = FrameTimes(times_ms=times_ms, source=TimeSource.CONTAINER)
    rate_hz = times.rate_hz
    if rate_hz is None:
        return FrameTimes(doubts=("the video file gives no times",))
    steps = [after - before for before, after in pairwise(times_ms)]
    # Containers count in ticks of about a millisecond: steps of an even clock differ by at most two of them.
    is_even = max(steps) - min(steps) <= 2.1
    if is_even and any(abs(rate_hz - rate) <= _RECORDER_TOLERANCE_HZ for rate in _RECORDER_RATES_HZ):
        doubts.append(
            f"an even {rate_hz:.4g} frames a second is what recorders write; "
            "the scanner's own rate may have been another"
        )
    doubts += _rate_doubts(rate_hz)
    return FrameTimes(times_ms=times_ms, source=TimeSource.CONTAINER, doubts=tuple(doubts))


def times_of_gif(delays_ms: tuple[float, ...]) -> FrameTimes:
    """Return the frame times of an animated GIF: always doubted, since delays come in whole hundredths of a second."""
    if len(delays_ms) < 2:
        return FrameTimes()
    doubts = ["GIF delays are whole hundredths of a second, and programs change them to set the speed of play"]
    if min(delays_ms[:-1]) <= 0:
        doubts.append("some GIF delays are zero, so they tell no time")
        return FrameTimes(source=TimeSource.GIF_DELAY, doubts=tuple(doubts))
    return FrameTimes(
        times_ms=tuple(accumulate((0.0, *delays_ms[:-1]))), source=TimeSource.GIF_DELAY, doubts=tuple(doubts)
    )
