"""Whether the heart stays in its place and the plane stays the same while a clip runs."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

THUMB = 64  # cells along and across the beams: one cell is 1.6 % of the width, a tenth of the drift that is asked about
_WINDOWS = 6
_MIN_PERIODS = 1.4  # the first and the last whole beat must be different ones for the larger part
_MIN_ALIKE = 0.25  # below this the windows have too little in common for their shift to mean anything


@dataclass(frozen=True, slots=True, kw_only=True)
class Steadiness:
    """Shift of the picture over the whole clip, and how much of it is the same at the end.

    `across_fraction` is of the sector's width (positive: to the right of the screen), `along_fraction` of its
    depth (positive: deeper). `alike_ratio` is 1 for the same picture, 0 for an unrelated one.
    """

    across_fraction: float | None
    along_fraction: float | None
    alike_ratio: float | None
    spread_fraction: float  # standard error of the shift
    reason: str = ""


def measure_steadiness(thumbs: NDArray[np.uint8], period_frames: float | None) -> Steadiness:
    """Return how the picture moves and changes between windows of one beat each.

    Parameters
    ----------
    thumbs : ndarray of shape (frame, 64, 64)
        Beams, coarse: depth along rows, face in row 0.
    period_frames : float or None
        Length of a beat. Each window is the mean of one whole beat, so that the beat itself cancels.

    Notes
    -----
    Only cells that change over time take part: a haze or an overlay that stands still would hide a drift. The
    shift is the place of the best match of each window with the first one, and a straight line through the shifts;
    to-and-fro movement (breathing) gives a flat line.
    """
    n = len(thumbs)
    if period_frames is None:
        return _unknown("without a beat length the beat cannot be told from a movement of the probe")
    if n < _MIN_PERIODS * period_frames:
        return _unknown("less than one and a half beats: too short to see a drift")
    length = max(round(period_frames), 2)
    starts = np.unique(np.linspace(0, n - length, _WINDOWS).round().astype(int))
    stack = thumbs.astype(np.float32)
    moving = stack.std(axis=0)
    if float(np.percentile(moving, 90)) < 1.0:  # grey levels
        return _unknown("the picture does not move")
    usual = float(np.percentile(moving, 60))
    weight = np.clip(moving / max(usual, 1e-3), 0, 1) ** 2 * cv2.createHanningWindow((THUMB, THUMB), cv2.CV_32F)
    views = [_pattern(stack[s : s + length].mean(axis=0), weight) for s in starts]
    shifts = np.zeros((len(views), 2))
    alike = np.ones(len(views))
    for index in range(1, len(views)):
        shifts[index], alike[index] = _match(views[0], views[index])
    halves = [_pattern(stack[s:length:2].mean(axis=0), weight) for s in (0, 1)]
    if _match(*halves)[1] < _MIN_ALIKE:
        return _unknown("every other frame has too little in common with those between: noise outweighs the picture")
    centre = starts - starts.mean()
    held = alike >= _MIN_ALIKE
    if held.sum() < 3:
        # the picture turned into another one; a shift between different pictures means nothing
        return Steadiness(
            across_fraction=None, along_fraction=None, alike_ratio=max(float(alike[-1]), 0.0), spread_fraction=0.0,
            reason="the picture changes too much for a shift to be followed",
        )  # fmt: skip
    design = np.stack([np.ones(int(held.sum())), centre[held]], axis=1)
    fit, *_ = np.linalg.lstsq(design, shifts[held], rcond=None)
    left = shifts[held] - design @ fit
    error = float(np.sqrt((left**2).mean()) / np.sqrt((centre[held] ** 2).sum()) * (n - 1) / THUMB)
    total = fit[1] * (n - 1) / THUMB
    return Steadiness(
        across_fraction=float(total[1]),
        along_fraction=float(total[0]),
        alike_ratio=float(np.clip(alike[-1], 0, 1)),
        spread_fraction=error,
    )


def _unknown(reason: str) -> Steadiness:
    return Steadiness(across_fraction=None, along_fraction=None, alike_ratio=None, spread_fraction=0.0, reason=reason)


def _pattern(view: NDArray[np.float32], weight: NDArray[np.float32]) -> NDArray[np.float64]:
    """Structure without the slow change of brightness with depth, padded so that shifts do not wrap."""
    detail = view - cv2.GaussianBlur(view, (0, 0), 8.0)
    smooth = cv2.GaussianBlur(np.asarray(detail, np.float32), (0, 0), 1.0)
    shown = smooth * weight
    return np.pad(np.asarray(shown, np.float64), THUMB // 2)


def _match(first: NDArray[np.float64], second: NDArray[np.float64]) -> tuple[NDArray[np.float64], float]:
    """Shift (rows, cols in cells) that takes the first pattern to the second, and their likeness there."""
    product = np.fft.irfft2(np.fft.rfft2(second) * np.fft.rfft2(first).conj(), first.shape)
    product /= max(float(np.linalg.norm(first) * np.linalg.norm(second)), 1e-9)
    reach = THUMB // 2
    near = np.roll(product, (reach, reach), axis=(0, 1))[: 2 * reach + 1, : 2 * reach + 1]
    row, col = (int(v) for v in np.unravel_index(int(near.argmax()), near.shape))
    place = np.asarray([row, col], np.float64)
    for axis, line, at in ((0, near[:, col], row), (1, near[row], col)):
        if 0 < at < 2 * reach:
            a, b, c = line[at - 1 : at + 2]
            curve = a - 2 * b + c
            place[axis] += 0.5 * (a - c) / curve if curve < 0 else 0.0
    return place - reach, float(near[row, col])
