"""Whether the heart stays in its place and the plane stays the same while a clip runs."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

THUMB = 64  # cells along and across the beams: one cell is 1.6 % of the width, a tenth of the drift that is asked about
_WINDOWS = 6
_MIN_PERIODS = 1.4  # the first and the last whole beat must be different ones for the larger part
_FIT_STEPS = 30
# What wanders leaves behind what stands still, the chest wall: a drift alone lowers the likeness by this share of its
# way (drawn clips that drift by 0.1 to 0.2 of the width: 0.45 to 0.55; a part of it is made up for).
_LOST_BY_DRIFT = 0.35
_EVEN_DRIFT = 10.0  # times its standard error: a wandering picture keeps to a straight line
_EARLY_FRAMES, _MIDDLE_FRAMES, _PAIRS = 6, 14, 8  # how many of the clip are compared; more say the same
_MIN_ALIKE = 0.25  # below this the windows have too little in common for their shift to mean anything


@dataclass(frozen=True, slots=True, kw_only=True)
class Steadiness:
    """Shift of the picture over the whole clip, and how much of it is the same at the end.

    `across_fraction` is of the sector's width (positive: to the right of the screen), `along_fraction` of its
    depth (positive: deeper). `alike_ratio` is how alike beginning and middle, or middle and end, are against two
    neighbouring frames, the more alike of both: 1 for the same plane, 0 for an unrelated picture.
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
    to-and-fro movement (breathing) gives a flat line. Whether the plane is held is asked of single frames: the mean of
    a beat smears what tells one level from the next.
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
    alike_ratio = _held_ratio(stack, period_frames)
    centre = starts - starts.mean()
    held = alike >= _MIN_ALIKE
    if held.sum() < 3:
        # the picture turned into another one; a shift between different pictures means nothing
        return Steadiness(
            across_fraction=None, along_fraction=None, alike_ratio=alike_ratio, spread_fraction=0.0,
            reason="the picture changes too much for a shift to be followed",
        )  # fmt: skip
    design = np.stack([np.ones(int(held.sum())), centre[held]], axis=1)
    fit, *_ = np.linalg.lstsq(design, shifts[held], rcond=None)
    left = shifts[held] - design @ fit
    error = float(np.sqrt((left**2).mean()) / np.sqrt((centre[held] ** 2).sum()) * (n - 1) / THUMB)
    total = fit[1] * (n - 1) / THUMB
    way = float(abs(total).max())
    if way > _EVEN_DRIFT * error:  # from one picture to another the best match jumps
        alike_ratio = min(1.0, alike_ratio + _LOST_BY_DRIFT * way)
    return Steadiness(
        across_fraction=float(total[1]),
        along_fraction=float(total[0]),
        alike_ratio=alike_ratio,
        spread_fraction=error,
    )


def _held_ratio(stack: NDArray[np.float32], period_frames: float) -> float:
    """Return how alike the picture stays, against how alike neighbouring frames are: noise differs there too.

    Each frame of the first part is held against all phases of the beat in the middle, shifted to fit, and the same from
    the middle to the end. A sweep changes both halves; a breath that begins late in the clip leaves the first as it is.
    """
    n = len(stack)
    window = cv2.createHanningWindow((THUMB, THUMB), cv2.CV_32F)
    half, middle = min(period_frames / 2, n / 6), (n - 1) / 2

    def places(start: float, stop: float, count: int) -> list[int]:
        return [int(i) for i in np.unique(np.linspace(max(start, 0), min(stop, n - 1), count).round())]

    @cache
    def looked_at(i: int) -> tuple[NDArray[np.float32], NDArray[np.complex128], float]:
        """Return the detail of a frame, its spectrum and its size; of a long clip most frames are not asked for."""
        detail = _detail(stack[i])
        pattern = _padded(detail * window)
        return detail, np.fft.rfft2(pattern), float(np.linalg.norm(pattern))

    def shift_of(one: int, other: int) -> tuple[float, int, int]:
        (_, spectrum, norm), (_, other_spectrum, other_norm) = looked_at(one), looked_at(other)
        product = np.fft.irfft2(other_spectrum * spectrum.conj(), (2 * THUMB, 2 * THUMB))
        product /= max(norm * other_norm, 1e-9)
        down, right = (int(v) for v in np.unravel_index(int(product.argmax()), product.shape))
        return float(product[down, right]), _signed(down), _signed(right)

    def likeness(one: int, others: list[int]) -> float:
        best, other = max((shift_of(one, j), j) for j in others)
        return _likeness_at(looked_at(one)[0], looked_at(other)[0], *best[1:])

    def between(some: list[int], others: list[int]) -> float:
        return float(np.median([likeness(i, others) for i in some]))

    beat = places(middle - half, middle + half, _MIDDLE_FRAMES)
    halves = (
        between(places(0, half, _EARLY_FRAMES), beat),
        between(places(n - 1 - half, n - 1, _EARLY_FRAMES), beat),
    )
    pairs = [likeness(i, [i - 1, i + 1]) for i in places(1, n - 2, _PAIRS)]
    return float(np.clip(max(halves) / max(float(np.median(pairs)), 1e-3), 0.0, 1.0))


def _signed(shift: int) -> int:
    return shift if shift < THUMB else shift - 2 * THUMB


def _likeness_at(one: NDArray[np.float32], other: NDArray[np.float32], down: int, right: int) -> float:
    """Correlation of two pictures when the second is moved back by about this shift, in cells, and fitted to the first.

    What wanders on a screen shears along the beams, so shear and size are fitted as well.

    References
    ----------
    G. D. Evangelidis, E. Z. Psarakis, Parametric image alignment using enhanced correlation coefficient maximization,
    IEEE Trans. PAMI 30 (2008) 1858-1865.
    """
    warp = np.asarray([[1, 0, right], [0, 1, down]], np.float32)
    stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, _FIT_STEPS, 1e-4)
    try:
        found, _ = cv2.findTransformECC(one, other, warp, cv2.MOTION_AFFINE, stop, None, 1)
    except cv2.error:  # the fit ran away: two pictures with nothing in common
        return 0.0
    return float(found)


def _unknown(reason: str) -> Steadiness:
    return Steadiness(across_fraction=None, along_fraction=None, alike_ratio=None, spread_fraction=0.0, reason=reason)


def _pattern(view: NDArray[np.float32], weight: NDArray[np.float32]) -> NDArray[np.float64]:
    """Structure where the weight lies, padded so that shifts do not wrap."""
    return _padded(_detail(view) * weight)


def _detail(view: NDArray[np.float32]) -> NDArray[np.float32]:
    """Structure without the slow change of brightness with depth."""
    detail = view - cv2.GaussianBlur(view, (0, 0), 8.0)
    return np.asarray(cv2.GaussianBlur(np.asarray(detail, np.float32), (0, 0), 1.0), np.float32)


def _padded(shown: NDArray[np.float32]) -> NDArray[np.float64]:
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
