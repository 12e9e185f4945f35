"""A strip whose columns are moments: whether one stands on the screen, its layers or baseline, and how it runs."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.study import Box, Picture, Strip

PAINTED = 10  # grey levels above the empty screen
_SIDE = 256  # working size of a strip


@dataclass(frozen=True, slots=True)
class StripLook:
    """Each 0 to 1."""

    layered: float
    baseline: float
    empty: float
    filled: float
    sweeps: float


def time_strip(others: list[Box], picture: Picture | None, cols: int) -> Box | None:
    """The strip that could have a time axis: the picture itself where it is one, else a wide area outside it."""
    wide = [box for box in others if box.width_px >= 0.4 * cols and box.width_px >= 1.3 * box.height_px]
    if wide:
        return wide[0]
    if isinstance(picture, Strip):
        return picture.box
    return None


def look_at_strip(grey: NDArray[np.uint8], box: Box) -> StripLook:
    """Look at a strip as if columns were moments."""
    patch = grey[:, box.row0 : box.row1, box.col0 : box.col1]
    last = cv2.resize(patch[-1], (_SIDE, _SIDE), interpolation=cv2.INTER_AREA).astype(np.float32)
    painted = last > PAINTED
    empty = 1.0 - float(painted.mean())
    logs = np.log1p(last)
    logs = logs - logs.mean()
    power = float((logs**2).mean()) + 1e-6
    # Twelve of 256 columns apart, speckle has long lost its memory; layers along time have not.
    layered = float((logs[:, 12:] * logs[:, :-12]).mean()) / power
    by_row = logs.mean(axis=1)
    flat = float((by_row**2).mean()) / power  # all of it: layers that never move are bands, not motion
    rows_painted = painted.mean(axis=1)
    row = int(np.argmax(cv2.blur(rows_painted.astype(np.float32)[:, None], (1, 5))[:, 0]))
    baseline, filled = _spectrum_look(last, painted, row)
    return StripLook(
        layered=float(np.clip(layered - flat, 0.0, 1.0)),
        baseline=baseline,
        empty=empty,
        filled=filled,
        sweeps=_sweep(patch),
    )


def _spectrum_look(last: NDArray[np.float32], painted: NDArray[np.bool_], row: int) -> tuple[float, float]:
    """Share of the paint that hangs together from the baseline outward; evenness of brightness along it."""
    up, down = painted[: row + 1][::-1], painted[row:]
    hanging = 0
    evens: list[float] = []
    for side, values in ((up, last[: row + 1][::-1]), (down, last[row:])):
        if side.shape[0] < 8:
            continue
        # Gaps of up to six of 256 rows are bridged: the wall filter leaves one beside the baseline.
        solid = cv2.morphologyEx(side.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((13, 1), np.uint8))
        reach = np.where(solid.all(axis=0), solid.shape[0], np.argmin(solid, axis=0))
        within = np.arange(side.shape[0])[:, None] < reach[None, :]
        hanging += int((side & within).sum())
        for col in np.flatnonzero(reach >= 20)[::4]:
            column = values[: reach[col], col]
            third = max(len(column) // 3, 1)
            inner, outer = float(column[third : 2 * third].mean()), float(column[-third:].mean())
            evens.append(min(inner / max(outer, 1.0), 1.5) / 1.5)
    ragged = 1.0 - float(painted.mean())
    share = hanging / max(int(painted.sum()), 1)
    return float(share * min(1.0, ragged / 0.3)), float(np.median(evens)) if evens else 0.0


def _sweep(patch: NDArray[np.uint8]) -> float:
    """How far change keeps to a few columns that run one way (a sweep), or the strip slides along (a scroll)."""
    if len(patch) < 4:
        return 0.0
    small = np.stack([cv2.resize(frame, (_SIDE, 64), interpolation=cv2.INTER_AREA) for frame in patch]).astype(
        np.float32
    )
    change = np.abs(np.diff(small, axis=0)).mean(axis=1)  # (step, col)
    total = change.sum(axis=1)
    if float(total.max()) < 2.0:
        return 0.0
    moving = total > 0.2 * float(np.median(total[total > 0]))
    ordered = np.sort(change, axis=1)[:, ::-1]
    # Half of the columns carry nearly all change while the rest stands still.
    narrow = (
        float(np.mean(ordered[moving, : _SIDE // 2].sum(axis=1) / np.maximum(total[moving], 1e-6)))
        if moving.any()
        else 0.0
    )
    centres = np.argmax(cv2.blur(change.astype(np.float32), (9, 1)), axis=1)[moving]
    steps = np.diff(centres)
    onward = float(np.mean((steps > 0) & (steps < _SIDE // 2))) if len(steps) >= 2 else 0.0
    swept = float(np.clip((narrow - 0.8) / 0.18, 0.0, 1.0)) * float(np.clip((onward - 0.4) / 0.4, 0.0, 1.0))
    return max(swept, _scroll(small))


def _scroll(small: NDArray[np.float32]) -> float:
    """How much better each frame matches the one before when slid along by a common number of columns."""
    first, second = small[:-1], small[1:]
    still = np.abs(second - first).mean() + 1e-3
    best = min(float(np.abs(second[:, :, :-shift] - first[:, :, shift:]).mean()) for shift in range(1, _SIDE // 4))
    return float(np.clip((1.0 - best / still - 0.3) / 0.4, 0.0, 1.0))
