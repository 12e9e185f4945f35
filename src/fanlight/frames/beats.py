"""End-diastole and end-systole of each beat, and how even the beats are."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

# Ejection ends at about a third of a slow beat and about half of a very fast one (common practice, no source);
# the extreme is looked for between these shares of the beat, and must not lie on the edge of that stretch.
_SYSTOLE_SHARES = (0.15, 0.65)
_MIN_SWING = 0.5  # of the main motion's whole range: what must lie between end-diastole and end-systole


@dataclass(frozen=True, slots=True, kw_only=True)
class BeatFrames:
    """One frame a complete beat, or nothing, with the reason."""

    end_diastole_frames: tuple[int, ...]
    end_systole_frames: tuple[int, ...]
    reason: str


def place_beats(r_frames: tuple[float, ...], signatures: NDArray[np.float32]) -> BeatFrames:
    """Return end-diastole and end-systole from R waves and the motion between them.

    Parameters
    ----------
    r_frames : tuple of float
        Frames of the R waves, rising.
    signatures : ndarray of shape (frame, cell)
        Grey values of a coarse picture (``frames.motion.Motion.signatures``).

    Notes
    -----
    End-diastole is the frame of the R wave (the onset of QRS lies within a frame or two before it). End-systole is
    where the main motion of the beat (its first principal component) is furthest from end-diastole and turns
    round. Without R waves the two phases cannot be told apart honestly: nothing is returned. Where the motion
    has no clear turn, end-systole is left out.
    """
    if len(r_frames) < 2:
        return BeatFrames(
            end_diastole_frames=(), end_systole_frames=(),
            reason="end-diastole and end-systole need at least one whole beat between two R waves",
        )  # fmt: skip
    diastole = tuple(round(r) for r in r_frames[:-1])
    systole = _end_systoles(r_frames, signatures)
    reason = (
        "end-diastole at the R wave, end-systole where the motion turns"
        if systole
        else "end-diastole at the R wave; the motion shows no clear turn for end-systole"
    )
    return BeatFrames(end_diastole_frames=diastole, end_systole_frames=systole, reason=reason)


def rr_variation_ratio(rr: tuple[float, ...]) -> float | None:
    """Return the coefficient of variation of the intervals between R waves, or None for fewer than two."""
    if len(rr) < 2:
        return None
    values = np.asarray(rr)
    return float(values.std(ddof=1) / values.mean())


def _end_systoles(r_frames: tuple[float, ...], signatures: NDArray[np.float32]) -> tuple[int, ...]:
    """The turning frame of each beat; empty unless every beat but one has one."""
    n = len(signatures)
    shares = np.linspace(0, 1, 65)
    beats = [(a, b) for a, b in pairwise(r_frames) if a >= 0 and b <= n - 0.5]
    if not beats or n < 4:
        return ()
    folded = [_resampled(signatures, a + shares * (b - a)) for a, b in beats]
    mean_beat = np.mean(folded, axis=0)
    mean_beat = mean_beat - mean_beat.mean(axis=0)
    if abs(mean_beat).max() < 0.2:  # grey levels: nothing moves
        return ()
    _, vectors = np.linalg.eigh(mean_beat @ mean_beat.T)  # 65 by 65: cheaper than a decomposition of the cells
    main = vectors[:, -1] @ mean_beat
    main = main / np.linalg.norm(main)

    found: list[int] = []
    for (a, b), cells in zip(beats, folded, strict=True):
        course = (cells - cells.mean(axis=0)) @ main
        course = _smooth(course, max(2, round(len(course) * 1.5 / max(b - a, 2.0))))
        if course[0] < 0:
            course = -course
        low, high = (round(share * 64) for share in _SYSTOLE_SHARES)
        at = low + int(course[low : high + 1].argmin())
        if at in (low, high) or course[0] - course[at] < _MIN_SWING * float(np.ptp(course)):
            continue
        found.append(round(a + shares[at] * (b - a)))
    return tuple(found) if len(found) >= max(len(beats) - 1, 1) else ()


def _resampled(signatures: NDArray[np.float32], at: NDArray[np.float64]) -> NDArray[np.float64]:
    """Signatures between frames, by straight lines."""
    place = np.clip(at, 0, len(signatures) - 1)
    below = np.minimum(place.astype(int), len(signatures) - 2)
    share = (place - below)[:, None]
    return np.asarray(signatures[below] * (1 - share) + signatures[below + 1] * share, np.float64)


def _smooth(values: NDArray[np.float64], width: int) -> NDArray[np.float64]:
    """Moving mean that keeps the ends."""
    if width < 2:
        return values
    padded = np.pad(values, (width // 2, width - 1 - width // 2), mode="edge")
    return np.convolve(padded, np.ones(width) / width, "valid")
