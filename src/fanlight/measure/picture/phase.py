"""At which moment of the beat a frame lies, as far as the beats of its clip were found."""

from __future__ import annotations

import math
from enum import StrEnum

from fanlight.study import ClipTime

# A frame this share of a beat from a moment still counts as that moment, and one frame always does (engineering
# judgement: the moment itself is found to about a frame, and the sizes stand nearly still there).
_NEAR_SHARE = 0.1
# Of the way from the named end of the beat to the other: walls that move as half a cosine have then done a quarter of
# theirs (calculus), and a diameter that shortens by 35 % reads 9 % off (engineering judgement).
_FAR_SHARE = 1 / 3
_FILLING_SHARE = 0.2  # of a beat, from end-systole on: early diastole, in which atrium and aorta are compared


class Phase(StrEnum):
    """Moments at which the trade measures; the words are those of `methods.toml`."""

    END_DIASTOLE = "end-diastole"
    END_SYSTOLE = "end-systole"
    EARLY_DIASTOLE = "early diastole"
    NOT_KNOWN = ""


def has_beats(time: ClipTime) -> bool:
    """Return whether both ends of a beat were found."""
    return bool(time.end_diastole_frames and time.end_systole_frames)


def frames_from(frame: int, moment: Phase, time: ClipTime) -> float:
    """Return how many frames a frame lies behind the nearest moment of this kind; below 0 before it.

    Beats that an end of the clip cuts are taken as long as the others.

    Raises
    ------
    ValueError
        If the beats were not found, or the moment has no frame of its own.
    """
    at = {Phase.END_DIASTOLE: time.end_diastole_frames, Phase.END_SYSTOLE: time.end_systole_frames}.get(moment)
    if not at:
        raise ValueError(f"no frame of {moment.value!r} was found in this clip")
    period = time.beat_period_frames
    offsets = [float(frame - each) for each in at]
    if period:
        offsets = [offset - period * round(offset / period) for offset in offsets]
    return float(min(offsets, key=abs))


def near_frames(time: ClipTime) -> float:
    """Return how many frames off a moment still counts as it."""
    return max(1.0, _NEAR_SHARE * (time.beat_period_frames or 0.0))


def phase_of(frame: int, time: ClipTime) -> Phase:
    """Return whether a frame lies at an end of the beat; `NOT_KNOWN` between them or without beats."""
    if not has_beats(time):
        return Phase.NOT_KNOWN
    off = {moment: abs(frames_from(frame, moment, time)) for moment in (Phase.END_DIASTOLE, Phase.END_SYSTOLE)}
    nearest = min(off, key=off.__getitem__)
    return nearest if off[nearest] <= near_frames(time) else Phase.NOT_KNOWN


def base_phase_of(frame: int, time: ClipTime) -> Phase:
    """Return the phase in which atrium and aorta are compared: early diastole, end-diastole, or neither."""
    if not has_beats(time):
        return Phase.NOT_KNOWN
    behind = frames_from(frame, Phase.END_SYSTOLE, time)
    if -1.0 <= behind <= max(2.0, _FILLING_SHARE * (time.beat_period_frames or 0.0)):
        return Phase.EARLY_DIASTOLE
    return Phase.END_DIASTOLE if phase_of(frame, time) is Phase.END_DIASTOLE else Phase.NOT_KNOWN


def timing_fault(frame: int, wanted: Phase, time: ClipTime) -> str:
    """Return why a frame is not the moment that its mark names, "" where it may be; a reason to give no number.

    A third of the way to the other end of the beat is a fault; what lies nearer is told, not judged.
    """
    if not has_beats(time):
        return ""
    other = Phase.END_SYSTOLE if wanted is Phase.END_DIASTOLE else Phase.END_DIASTOLE
    here, there = frames_from(frame, wanted, time), frames_from(frame, other, time)
    way = abs(here) + abs(there)
    if abs(here) <= near_frames(time) or abs(here) < _FAR_SHARE * way:
        return ""
    where = f"nearer to the {other.value} that was found"
    if abs(there) >= abs(here):
        n = math.floor(abs(here) + 0.5)
        where = f"{n} frames {'after' if here > 0 else 'before'} it, between it and the {other.value} that was found"
    return f"it is named {wanted.value}, and frame {frame + 1} lies {where}; set it on the right frame"


def timing_words(frame: int, wanted: Phase, time: ClipTime) -> str:
    """Return how a frame stands to the moment wanted, in words; "" where nothing need be said."""
    if not has_beats(time):
        return f"{wanted.value} as named, no beats were found"
    off = frames_from(frame, wanted, time)
    if abs(off) <= near_frames(time):
        return wanted.value
    side = "after" if off > 0 else "before"
    return f"frame {frame + 1} lies {math.floor(abs(off) + 0.5)} frames {side} {wanted.value}"
