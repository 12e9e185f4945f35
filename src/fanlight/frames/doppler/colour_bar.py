"""The bar of colours beside a colour Doppler picture: which colour stands for which share of the scale."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.colour_box import CHROMA_LEVEL, chroma, picture_mask
from fanlight.frames.inked_corner import inked_corner
from fanlight.study import Box, Picture

# A bar is a tall patch of steadily changing colours (engineering judgement, from bars seen and drawn).
LEAST_HEIGHT_PX, LEAST_WIDTH_PX, LEAST_TALL = 30, 4, 2.0
MOST_HEIGHT_SHARE = 0.75  # of the screen
LEAST_FILLED = 0.8  # of the box round each half
MOST_GAP_SHARE = 0.35  # of the height: the dark middle of a bar, where colours fade into black
MOST_STEP_LEVELS = (
    60.0  # between neighbouring rows, median of red, green and blue: a bar has no jumps but at its middle
)
# Hues (OpenCV, 0 to 179) of warm and cold colours. The two halves of a velocity bar are one of each; a bar of power
# has warm colours at both ends.
WARM = ((0, 38), (165, 180))
COLD = ((75, 150),)
LEAST_PURE = 0.7  # share of a half's coloured rows that are warm, or cold
# A bar that also shows turbulence (the variance of speeds) does so across its width: on one side green is mixed into
# both halves, or they run towards it (common practice, no source). Of a narrow bar compression leaves no column as it
# was; so many are left out at either rim. Where flow is fast green rises by so many levels, and by so many against the
# mean of red and blue, which the shade of a rim or a highlight does not do; and it rises in the middle of the bar too
# (engineering judgement, from drawn bars of ring A).
LEAST_ACROSS_PX, RIM_PX = 9, 1
FAST_SHARE, LEAST_GREEN_LEVELS, LEAST_GREENER_LEVELS, LEAST_IN_MIDDLE = 0.4, 25.0, 30.0, 0.15
# Sides of a row that differ by less tell nothing of turbulence there: slow speeds have no tint on many maps.
LEAST_ROW_LEVELS = 20.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ColourBar:
    """A velocity bar.

    Attributes
    ----------
    box : Box
        Where it stands.
    zero_row_px : float
        Row between both halves.
    colours : ndarray of shape (n, 3)
        RGB of its points.
    shares : ndarray of shape (n,)
        Of the scale: 1 at the top, -1 at the bottom, 0 between the halves.
    scatter : ndarray of shape (n,) or None
        Of the way across the bar to the side of turbulence; 0 in rows without a tint. None: a bar that shows none.
    """

    box: Box
    zero_row_px: float
    colours: NDArray[np.uint8]
    shares: NDArray[np.float32]
    scatter: NDArray[np.float32] | None = None


def find_colour_bar(frame: NDArray[np.uint8], picture: Picture | None) -> ColourBar | None:
    """Return the velocity bar of a screen, or None.

    Parameters
    ----------
    frame : ndarray of shape (row, col, 3)
        One frame, RGB.
    picture : Sector, Strip or None
        Where the picture lies; a bar stands outside it.
    """
    rows, cols = frame.shape[:2]
    coloured = (chroma(frame) >= CHROMA_LEVEL).astype(np.uint8)
    if picture is not None:
        coloured[cv2.dilate(picture_mask(picture, rows, cols), np.ones((5, 5), np.uint8)) > 0] = 0
    best: ColourBar | None = None
    for upper, lower in _pairs(_patches(coloured, rows)):
        bar = _bar(frame, upper, lower)
        if bar is not None and (best is None or bar.box.height_px > best.box.height_px):
            best = bar
    return best


def _patches(coloured: NDArray[np.uint8], rows: int) -> list[Box]:
    """Return upright patches that may be one half of a bar, or both."""
    solid = cv2.morphologyEx(coloured, cv2.MORPH_OPEN, np.ones((5, 3), np.uint8))
    inked, row0, col0 = inked_corner(np.asarray(solid, np.uint8))
    if inked.size == 0:
        return []
    count, _, stats, _ = cv2.connectedComponentsWithStats(inked, connectivity=8)
    found = []
    for left, top, width, height, area in stats[1:count]:
        if height < LEAST_HEIGHT_PX / 2 or width < LEAST_WIDTH_PX or height > MOST_HEIGHT_SHARE * rows:
            continue
        if area >= LEAST_FILLED * width * height:
            top, left = row0 + int(top), col0 + int(left)
            found.append(Box(row0=top, col0=left, row1=top + int(height), col1=left + int(width)))
    return found


def _pairs(patches: list[Box]) -> list[tuple[Box, Box]]:
    """Return patches that stand one above the other with a dark gap, as upper and lower half."""
    out = []
    for upper in patches:
        for lower in patches:
            same = abs(upper.col0 - lower.col0) <= 4 and abs(upper.col1 - lower.col1) <= 4
            height = lower.row1 - upper.row0
            gap = lower.row0 - upper.row1
            if same and height >= LEAST_HEIGHT_PX and 0 <= gap <= MOST_GAP_SHARE * height:
                out.append((upper, lower))
        if upper.height_px >= LEAST_HEIGHT_PX:  # both halves in one: no dark middle
            middle = upper.row0 + upper.height_px // 2
            out.append(
                (
                    Box(row0=upper.row0, col0=upper.col0, row1=middle, col1=upper.col1),
                    Box(row0=middle, col0=upper.col0, row1=upper.row1, col1=upper.col1),
                )
            )
    return out


def _bar(frame: NDArray[np.uint8], upper: Box, lower: Box) -> ColourBar | None:
    box = Box(row0=upper.row0, col0=max(upper.col0, lower.col0), row1=lower.row1, col1=min(upper.col1, lower.col1))
    if box.width_px < LEAST_WIDTH_PX or box.height_px < LEAST_TALL * box.width_px:
        return None
    patch = frame[box.row0 : box.row1, box.col0 + 1 : box.col1 - 1]
    third = max(patch.shape[1] // 3, 1)
    # A strong tint of turbulence leaves hues warm and cold on the other side alone.
    parts = (patch, patch[:, :third], patch[:, -third:])
    zero = next((row for part in parts if (row := _zero_of(part)) is not None), None)
    if zero is None:
        return None
    scatter = _scatter(patch, _row_shares(len(patch), zero))
    if scatter is not None:  # the tint moves the hue: where the halves meet, the plain side tells
        plain = _zero_of(parts[1] if scatter[:, 0].max() < scatter[:, -1].max() else parts[2])
        zero = zero if plain is None else plain
    shares = _row_shares(len(patch), zero)
    step = np.abs(np.diff(np.median(patch, axis=1), axis=0)).max(axis=1)
    inside = np.abs(np.arange(1, len(patch)) + 0.5 - zero) > 3
    if np.median(step[inside]) > MOST_STEP_LEVELS or not (shares > 0).any() or not (shares <= 0).any():
        return None
    return ColourBar(
        box=box,
        zero_row_px=box.row0 + zero,
        colours=patch.reshape(-1, 3),
        shares=np.repeat(shares, patch.shape[1]),
        scatter=None if scatter is None else scatter.ravel(),
    )


def _row_shares(n_rows: int, zero: float) -> NDArray[np.float32]:
    """Return the share of the scale in each row, from 1 at the top to -1 at the foot."""
    rows = np.arange(n_rows) + 0.5
    return np.where(rows < zero, (zero - rows) / zero, -(rows - zero) / (n_rows - zero)).astype(np.float32)


def _zero_of(patch: NDArray[np.uint8]) -> float | None:
    """Return the row in which a warm half meets a cold one, or None where there are no such halves."""
    hue = cv2.cvtColor(np.ascontiguousarray(patch), cv2.COLOR_RGB2HSV)[..., 0]
    is_coloured = chroma(np.ascontiguousarray(patch)) >= CHROMA_LEVEL
    warm, cold = _share(hue, is_coloured, WARM), _share(hue, is_coloured, COLD)
    zero = _zero_row(warm, cold)
    if zero is None:
        return None
    top, bottom = np.nanmedian(warm[: int(zero)]), np.nanmedian(warm[int(zero) :])
    return zero if (top > 0.5) ^ (bottom > 0.5) else None


def _scatter(patch: NDArray[np.uint8], shares: NDArray[np.float32]) -> NDArray[np.float32] | None:
    """Return how far across the bar each of its pixels lies, from plain to turbulent, (row, col); None: it shows none.

    Rows without a tint count as plain.
    """
    width = patch.shape[1]
    inner = patch[:, RIM_PX : width - RIM_PX].astype(np.float64)
    if width < LEAST_ACROSS_PX:
        return None
    quarters = [part.mean(axis=1) for part in np.array_split(inner, 4, axis=1)]
    green = [part[:, 1] for part in quarters]
    greener = [part[:, 1] - 0.5 * (part[:, 0] + part[:, 2]) for part in quarters]
    halves = (shares > FAST_SHARE, shares < -FAST_SHARE)
    if not all(half.any() for half in halves):
        return None
    rises = [[float(np.median((kind[3] - kind[0])[half])) for half in halves] for kind in (green, greener)]
    sign = np.sign(rises[1][0])
    in_middle = [float(np.median((greener[2] - greener[1])[half])) for half in halves]
    for up, more, middle, half in zip(*rises, in_middle, halves, strict=True):
        is_green = float(np.median(greener[3 if sign > 0 else 0][half])) > 0
        if sign * up < LEAST_GREEN_LEVELS or sign * more < LEAST_GREENER_LEVELS or not is_green:
            return None
        if sign * middle < LEAST_IN_MIDDLE * sign * more:
            return None
    gone = (np.arange(width, dtype=np.float32) + 0.5) / width
    tinted = np.linalg.norm(quarters[3] - quarters[0], axis=1) >= LEAST_ROW_LEVELS
    return np.where(tinted[:, None], gone if sign > 0 else 1 - gone, np.float32(0)).astype(np.float32)


def _share(
    hue: NDArray[np.uint8], coloured: NDArray[np.bool_], ranges: tuple[tuple[int, int], ...]
) -> NDArray[np.float64]:
    """Return for each row which share of its coloured pixels has a hue in these ranges; NaN where none is coloured."""
    fits = np.zeros(hue.shape, np.bool_)
    for low, high in ranges:
        fits |= (hue >= low) & (hue < high)
    counts = coloured.sum(axis=1)
    return np.where(counts >= 2, (fits & coloured).sum(axis=1) / np.maximum(counts, 1), np.nan)


def _zero_row(warm: NDArray[np.float64], cold: NDArray[np.float64]) -> float | None:
    """Return the row where warm colours meet cold ones, the middle of the dark rows between them."""
    is_warm, is_cold = warm > LEAST_PURE, cold > LEAST_PURE
    if is_warm.sum() < 4 or is_cold.sum() < 4:
        return None
    warm_rows, cold_rows = np.flatnonzero(is_warm), np.flatnonzero(is_cold)
    first, second = (warm_rows, cold_rows) if np.median(warm_rows) < np.median(cold_rows) else (cold_rows, warm_rows)
    end, start = float(np.quantile(first, 0.98)), float(np.quantile(second, 0.02))
    if end >= start + 2:
        return None
    return 0.5 * (end + start) + 0.5
