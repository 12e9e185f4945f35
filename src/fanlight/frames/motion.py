"""Repeating motion of the picture: the length of a beat in frames without any ECG, and frames that repeat."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.study import PictureChunk

_LEVELS = 16
SIGNATURE = 32  # cells along and across the beams: fine enough for a wall that moves, coarse enough to forget speckle
_MIN_PERIOD_FRAMES = 4.0  # fewer frames a beat than this cannot show a beat (Nyquist with a margin of two)
_MIN_PERIODS = 1.3  # engineering judgement: less than this of the second beat cannot prove a repeat
_MIN_RISE = 0.15  # of the variance: how far likeness must rise again at the period above its low before
_MIN_NEIGHBOURS = 0.4  # likeness of neighbouring frames below which noise outweighs the motion
_MIN_COME_BACK = 0.5  # likeness one period apart ÷ likeness of neighbours: a wandering picture rarely returns so far
_MIN_COME_BACK_SHORT = 0.75  # the same where less than two beats were seen: one chance return must not pass
_MIN_PERIODS_BY_SHARES = 2.2  # grey shares are few numbers, and few numbers come back by chance
_STILL_LEVELS = 0.2  # grey levels of a cell: less than this is rounding, no motion
_STILL_SHARE = 0.005  # of the picture: a chamber that beats changes more, noise and resampling less
_FROZEN_LEVELS = 0.25  # grey levels: two frames of a live picture differ by their noise, several levels
_FROZEN_SHARE = 0.05  # of the clip's usual difference: a copied frame after lossy coding


@dataclass(frozen=True, slots=True, kw_only=True)
class MotionReading:
    """What repeats in the picture. `period_frames` is None where nothing does; `reason` says why."""

    period_frames: float | None
    confidence: float  # 0 to 1
    frozen_frames: tuple[int, ...]
    reason: str


class Motion:
    """Keeps a small signature of every frame (32 × 32 cells) and looks for what repeats."""

    def __init__(self) -> None:
        self._cells: list[NDArray[np.float32]] = []
        self._levels: list[NDArray[np.float32]] = []
        self._changes: list[float] = []
        self._last: NDArray[np.uint8] | None = None

    def add(self, chunk: PictureChunk) -> None:
        """Take in some frames: the beams where a picture was found, else the whole screen."""
        shown = chunk.grey if chunk.beams is None else chunk.beams
        for frame in shown:
            small = np.asarray(
                cv2.resize(frame, (4 * SIGNATURE, 4 * SIGNATURE), interpolation=cv2.INTER_AREA), np.uint8
            )
            if self._last is not None:
                self._changes.append(float(cv2.norm(small, self._last, cv2.NORM_L1)) / small.size)
            self._last = small
            cell = cv2.resize(small, (SIGNATURE, SIGNATURE), interpolation=cv2.INTER_AREA)
            self._cells.append(np.asarray(cell, np.float32).ravel())
            counts = cv2.calcHist([small], [0], None, [_LEVELS], [0, 256])
            self._levels.append(np.asarray(counts, np.float32).ravel())

    def signatures(self) -> NDArray[np.float32]:
        """Cells of all frames so far, shape (frame, 1024), grey levels."""
        if not self._cells:
            return np.empty((0, SIGNATURE * SIGNATURE), np.float32)
        return np.stack(self._cells)

    def frozen_frames(self) -> tuple[int, ...]:
        """Frames that repeat the one before."""
        if not self._changes:
            return ()
        changes = np.asarray(self._changes)
        limit = max(_FROZEN_SHARE * float(np.percentile(changes, 75)), 1e-9)
        return tuple(int(i) + 1 for i in np.flatnonzero(changes <= min(limit, _FROZEN_LEVELS)))

    def finish(self) -> MotionReading:
        """Return the period of the motion."""
        frozen = self.frozen_frames()
        period, confidence, reason = find_period(self.signatures())
        if period is None and self._levels:
            # a picture that drifts never comes back to its place, but the size of its dark chambers still does
            counts = np.stack(self._levels)
            shares = counts / counts.sum(axis=1, keepdims=True)
            found, surety, words = find_period(shares * np.float32(_STILL_LEVELS / _STILL_SHARE))
            if found is not None and len(shares) / found >= _MIN_PERIODS_BY_SHARES:
                period, confidence = found, round(0.7 * surety, 3)
                reason = f"{words} (by its dark and bright shares)"
        return MotionReading(period_frames=period, confidence=confidence, frozen_frames=frozen, reason=reason)


def find_period(signatures: NDArray[np.float32]) -> tuple[float | None, float, str]:
    """Return the period in frames (or None), how sure it is (0 to 1), and the reason.

    Parameters
    ----------
    signatures : ndarray of shape (frame, cell)
        Grey values of a coarse picture.

    Notes
    -----
    The likeness of frames that lie `lag` apart is their autocorrelation over all cells that move; a steady drift
    of the probe is taken away as a straight line in each cell, slow breathing as the moving mean over one
    beat. The period is the shortest lag at which the likeness comes back nearly as far as it ever does. It is
    refused when less than 1.3 periods were seen, or when the likeness hardly comes back.
    """
    n = len(signatures)
    if n < 2 * _MIN_PERIOD_FRAMES:
        return None, 0.0, f"{n} frames are too few to show a repeat"
    moving = _moving_part(signatures)
    if moving.shape[1] == 0:
        return None, 0.0, "the picture does not move"
    first = _first_return(_likeness(moving), n)
    if first is None:
        return None, 0.0, "nothing in the picture repeats often enough within the clip"
    period, rise, come_back = _steady(moving, first, n)
    enough = _MIN_COME_BACK if n / period >= 2.0 else _MIN_COME_BACK_SHORT
    if n / period < 2.0 and not _repeats_a_motion(moving, round(period)):
        come_back = 0.0
    if rise < _MIN_RISE or come_back < enough or n / period < _MIN_PERIODS:
        return None, 0.0, "the picture moves, but does not come back to where it was within the clip"
    seen = min(max((n / period - 1.0) / 1.5, 0.3), 1.0)  # two and a half beats leave little doubt
    confidence = round(min(rise / 0.6, 1.0) * min(come_back / 0.8, 1.0) * seen, 3)
    return period, confidence, f"the picture repeats every {period:.1f} frames"


def _moving_part(signatures: NDArray[np.float32]) -> NDArray[np.float64]:
    """The half of the cells that move most, without level, straight drift and changes of overall brightness."""
    cells = signatures.astype(np.float64)
    if len(cells) > 4000:  # a period shows long before; keeps the cost of a very long clip down
        cells = cells[:4000]
    time = np.linspace(-1, 1, len(cells))
    cells = cells - cells.mean(axis=0)
    cells -= time[:, None] * ((time @ cells) / (time @ time))[None, :]
    spread = cells.std(axis=0)
    if spread.max() < _STILL_LEVELS:
        return np.empty((len(cells), 0))
    cells = cells[:, spread >= max(np.median(spread), 0.15 * spread.max())]
    return np.asarray(cells / np.maximum(np.percentile(spread, 95), 1e-6))


def _likeness(moving: NDArray[np.float64]) -> NDArray[np.float64]:
    """1 - mean squared difference at each lag ÷ twice the variance: 1 alike, 0 unrelated, below 0 opposite."""
    n = len(moving)
    size = 1 << int(np.ceil(np.log2(2 * n)))
    spectrum = np.fft.rfft(moving, size, axis=0)
    product = np.fft.irfft((abs(spectrum) ** 2).sum(axis=1), size)[:n]
    energy = np.concatenate([[0.0], np.cumsum((moving**2).sum(axis=1))])
    lags = np.arange(n)
    both = (energy[n - lags] - energy[0]) + (energy[n] - energy[lags])
    overlap = n - lags
    difference = (both - 2 * product) / overlap
    return np.asarray(1.0 - difference / (2 * energy[n] / n))


def _first_return(likeness: NDArray[np.float64], n: int) -> float | None:
    """Shortest lag whose rise above the low before it reaches 0.7 of the greatest rise."""
    last = int(n / _MIN_PERIODS)
    rises: list[tuple[int, float]] = []
    low = likeness[0]
    for lag in range(1, min(last + 1, n - 1)):
        low = min(low, likeness[lag])
        neighbours = likeness[max(lag - 2, 0) : lag + 3]
        if lag >= _MIN_PERIOD_FRAMES and likeness[lag] >= neighbours.max():
            rises.append((lag, float(likeness[lag] - low)))
    if not rises:
        return None
    greatest = max(rise for _, rise in rises)
    if greatest < _MIN_RISE:
        return None
    return float(next(lag for lag, rise in rises if rise >= 0.7 * greatest))


def _repeats_a_motion(moving: NDArray[np.float64], lag: int) -> bool:
    """Whether what repeats after `lag` is itself a motion: two rests on either side of one beat also look alike."""
    early, late = moving[:-lag], moving[lag:]
    early, late = early - early.mean(axis=0), late - late.mean(axis=0)
    own = np.sqrt(float((early**2).sum()) * float((late**2).sum()))
    usual = float(((moving - moving.mean(axis=0)) ** 2).sum()) * len(early) / len(moving)
    return bool(own >= 0.3 * usual and float((early * late).sum()) >= _MIN_COME_BACK * own)


def _steady(moving: NDArray[np.float64], period: float, n: int) -> tuple[float, float, float]:
    """Take slow movement away with the mean over one beat; period again, finer, its rise, and how far it comes back."""
    length = round(period)
    if n >= 2 * length:
        kernel = np.ones(length) / length
        padded = np.pad(moving, ((length // 2, length - 1 - length // 2), (0, 0)), mode="edge")
        total = np.cumsum(np.vstack([np.zeros(padded.shape[1]), padded]), axis=0)
        moving = moving - (total[length:] - total[:-length]) * kernel[0]
    likeness = _likeness(moving)
    low = float(likeness[: max(round(period), 2)].min())
    refined, rise, come_back, times = period, 0.0, 0.0, 1
    while times * refined < 0.75 * n or times == 1:  # a multiple of the period divides the error of its place
        near = times * refined
        reach = max(2, round(0.12 * period))
        a, b = max(round(near) - reach, 1), min(round(near) + reach + 1, n - 1)
        if b - a < 3:
            break
        at = a + int(likeness[a:b].argmax())
        if at in (a, b - 1) and times > 1:
            break
        place = float(at)
        if 0 < at < n - 1:
            left, middle, right = likeness[at - 1 : at + 2]
            curve = left - 2 * middle + right
            place += 0.5 * (left - right) / curve if curve < 0 else 0.0
        if times == 1:
            rise = float(likeness[at] - low)
            come_back = float(likeness[at] / likeness[1]) if likeness[1] >= _MIN_NEIGHBOURS else 0.0
        elif likeness[at] - low < 0.5 * rise:
            if times == 2 and n - 2 * refined >= 0.3 * refined:
                come_back = 0.0  # the beat after the next is in the clip, and does not look like this one
            break
        refined = place / times
        times += 1
    return float(refined), float(rise), come_back
