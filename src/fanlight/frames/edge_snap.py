"""Set the outline of a roughly fitted picture to where brightness steps, to a fraction of a pixel."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

_STEP_PX = 0.5  # spacing of samples across an edge
_ALONG = 72  # samples along each edge
_SMOOTH_ALONG = 5  # neighbouring samples averaged: one speckle must not pull the edge
# A step counts when the inside is brighter than the outside by this share of the typical inside value.
_LEAST_STEP_FRACTION = 0.2
_KEEP_WEIGHT = 0.02  # pull towards the rough fit, so that an edge nowhere seen stays where it was


@dataclass(frozen=True, slots=True)
class Support:
    """Share of each boundary, as far as it lies on the screen, where brightness steps; None: off the screen."""

    left: float | None
    right: float | None
    near: float | None
    far: float | None

    @property
    def seen(self) -> tuple[float, ...]:
        """The values that could be judged."""
        return tuple(v for v in (self.left, self.right, self.near, self.far) if v is not None)


@dataclass(frozen=True, slots=True)
class _Steps:
    points: NDArray[np.float64]  # (n, 2) x, y of the step found along each sample line
    weights: NDArray[np.float64]  # 0: no step
    offsets: NDArray[np.float64]  # px outward of the line that was sampled
    on_screen: NDArray[np.bool_]


def _steps(
    presence: NDArray[np.float32],
    stretch: float,
    points: NDArray[np.float64],
    normals: NDArray[np.float64],
    reach_px: float,
    floor: float,
) -> _Steps:
    """Find, on a line through each point along its outward normal, the largest fall of brightness."""
    rows, cols = presence.shape
    half = 4.0 if reach_px > 5 else 3.0
    offsets = np.arange(-reach_px - half, reach_px + half + _STEP_PX / 2, _STEP_PX)
    x = points[:, :1] + normals[:, :1] * offsets
    y = points[:, 1:] + normals[:, 1:] * offsets
    profile = cv2.remap(
        presence,
        (x / stretch).astype(np.float32),
        y.astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=0.0,
    )
    profile = cv2.blur(profile, (1, _SMOOTH_ALONG), borderType=cv2.BORDER_REPLICATE)
    k = round(half / _STEP_PX)
    sums = np.concatenate([np.zeros((len(points), 1)), np.cumsum(profile, axis=1)], axis=1)
    n = profile.shape[1]
    at = np.arange(k, n - k + 1)
    fall = (sums[:, at] - sums[:, at - k]) / k - (sums[:, at + k] - sums[:, at]) / k
    best = np.argmax(fall, axis=1)
    strength = fall[np.arange(len(points)), best]
    # The step lies between sample at-1 and at.
    shift = offsets[0] + (at[best] - 0.5) * _STEP_PX
    margin = reach_px + 1
    px, py = points[:, 0] / stretch, points[:, 1]
    on_screen = (px > margin) & (py > margin) & (px < cols - 1 - margin) & (py < rows - 1 - margin)
    weights = np.where(on_screen & (strength > floor), strength, 0.0)
    return _Steps(points=points + normals * shift[:, None], weights=weights, offsets=shift, on_screen=on_screen)


def _boundary(numbers: tuple[float, ...], side: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Sample points and outward normals along one side of a sector."""
    apex_x, apex_y, left, right, near, far = numbers
    apex = np.array([apex_x, apex_y])
    depth = far - near
    if side in ("left", "right"):
        angle = left if side == "left" else right
        radius = np.linspace(near + 0.06 * depth, far - 0.03 * depth, _ALONG)
        points = apex + radius[:, None] * np.array([np.sin(angle), np.cos(angle)])
        sign = -1.0 if side == "left" else 1.0
        return points, np.tile(sign * np.array([np.cos(angle), -np.sin(angle)]), (_ALONG, 1))
    inset = 0.03 * (right - left)
    angles = np.linspace(left + inset, right - inset, _ALONG)
    outward = np.stack([np.sin(angles), np.cos(angles)], axis=1)
    if side == "far":
        return apex + far * outward, outward
    return apex + near * outward, -outward


def _typical_inside(presence: NDArray[np.float32], numbers: tuple[float, ...], stretch: float) -> float:
    apex_x, apex_y, left, right, near, far = numbers
    angles = np.linspace(left, right, 24)[1:-1]
    radii = np.linspace(near, far, 26)[1:-1]
    x = (apex_x + radii[:, None] * np.sin(angles)) / stretch
    y = apex_y + radii[:, None] * np.cos(angles)
    values = cv2.remap(presence, x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR)
    return max(float(np.mean(values)), 1e-3)


def _first_painted(presence: NDArray[np.float32], numbers: tuple[float, ...], stretch: float) -> float:
    """Radius at which the beams of a pointed fan begin to be painted: a face too short to be fitted as an arc."""
    apex_x, apex_y, left, right, _, far = numbers
    angles = np.linspace(left, right, 34)[2:-2]
    radii = np.arange(0.0, 0.08 * far, 0.5)
    x = (apex_x + radii[:, None] * np.sin(angles)) / stretch
    y = apex_y + radii[:, None] * np.cos(angles)
    values = cv2.remap(presence, x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR)
    there = values > 0.3 * _typical_inside(presence, numbers, stretch)
    # First of two samples in a row, so that one pixel of noise or of a label does not count.
    solid = there[:-1] & there[1:]
    first = np.where(solid.any(axis=0), radii[np.argmax(solid, axis=0)], np.nan)
    return 0.0 if np.isnan(first).mean() > 0.5 else float(np.nanmedian(first))


_SIDES = ("left", "right", "near", "far")


def _measured(
    presence: NDArray[np.float32], stretch: float, numbers: tuple[float, ...], reach_px: float
) -> dict[str, _Steps]:
    floor = _LEAST_STEP_FRACTION * _typical_inside(presence, numbers, stretch)
    sides = _SIDES if numbers[4] > 2.0 else ("left", "right", "far")
    return {side: _steps(presence, stretch, *_boundary(numbers, side), reach_px, floor) for side in sides}


def snap_sector(
    presence: NDArray[np.float32],
    numbers: tuple[float, ...],
    stretch: float,
    reach_px: float,
    *,
    is_even: bool = False,
) -> tuple[tuple[float, ...], Support]:
    """Return the sector with apex, angles and radii set to the steps of brightness, and how much of it was seen.

    Parameters
    ----------
    presence : ndarray of shape (row, col)
        Brightness or change, compressed, 0 on the empty screen.
    numbers : six floats
        Apex x and y, left and right angle (rad), near and far radius, in pixels of the row axis.
    stretch : float
        Width of a pixel divided by its height.
    reach_px : float
        How far off the rough fit may be.
    is_even : bool
        Keep both edges at the same angle from straight down, so that one in the dark follows the other.
    """
    if numbers[4] > 0 and numbers[4] < 0.25 * numbers[5]:
        numbers = (*numbers[:4], max(numbers[4], 2.5), numbers[5])
    for reach in (reach_px, 0.5 * reach_px + 2.0, 4.0, 3.0):
        numbers = _solved(numbers, _measured(presence, stretch, numbers, reach), is_even=is_even)
    if numbers[4] <= 2.0:
        numbers = (*numbers[:4], _first_painted(presence, numbers, stretch), numbers[5])
    final = _measured(presence, stretch, numbers, 3.0)
    shares = {
        side: float(np.mean(steps.weights[steps.on_screen] > 0)) if steps.on_screen.mean() > 0.15 else None
        for side, steps in final.items()
    }
    return numbers, Support(**{side: shares.get(side) for side in _SIDES})


def _evened(numbers: NDArray[np.float64]) -> NDArray[np.float64]:
    half = 0.5 * (numbers[3] - numbers[2])
    return np.concatenate([numbers[:2], [-half, half], numbers[4:]])


def _solved(numbers: tuple[float, ...], steps: dict[str, _Steps], *, is_even: bool) -> tuple[float, ...]:
    """Least squares through the steps, robust to those that belong to something else."""
    far_px = numbers[5]
    unit = np.array([1.0, 1.0, 1.0 / far_px, 1.0 / far_px, 1.0, 1.0])  # so that all six move in pixels
    start = np.asarray(numbers, float)
    roots = {side: np.sqrt(s.weights / max(float(s.weights.max()), 1e-6)) for side, s in steps.items()}
    total = sum(float((w > 0).sum()) for w in roots.values())
    if total < 12:
        return numbers

    def residuals(move: NDArray[np.float64]) -> NDArray[np.float64]:
        moved = start + unit * move
        apex_x, apex_y, left, right, near, far = _evened(moved) if is_even else moved
        parts = []
        for side, found in steps.items():
            dx, dy = found.points[:, 0] - apex_x, found.points[:, 1] - apex_y
            if side in ("left", "right"):
                angle = left if side == "left" else right
                error = dx * np.cos(angle) - dy * np.sin(angle)
            else:
                error = np.hypot(dx, dy) - (far if side == "far" else near)
            parts.append(roots[side] * error)
        parts.append(_KEEP_WEIGHT * np.sqrt(total) * move)
        return np.concatenate(parts)

    solved = least_squares(residuals, np.zeros(6), loss="soft_l1", f_scale=1.0, max_nfev=25)
    apex_x, apex_y, left, right, near, far = _evened(start + unit * solved.x) if is_even else start + unit * solved.x
    if not (left + 0.05 < right and far >= 0 and max(near, 0.0) + 5 < far):
        return numbers
    return (float(apex_x), float(apex_y), float(left), float(right), max(float(near), 0.0), float(far))


def snap_strip(
    presence: NDArray[np.float32], numbers: tuple[float, ...], reach_px: float
) -> tuple[tuple[float, float, float, float], Support]:
    """Return the strip (x0, y0, x1, y1; last pixels inside) with its four sides set to the steps of brightness."""
    rows, cols = presence.shape
    x0, y0, x1, y1 = (round(v) for v in numbers)
    x0, x1, y0, y1 = max(x0, 0), min(x1, cols - 1), max(y0, 0), min(y1, rows - 1)
    inside = max(float(presence[y0 : y1 + 1, x0 : x1 + 1].mean()), 1e-3)
    reach = round(reach_px) + 2

    def side(lines: NDArray[np.float64], at: int, outward: int) -> tuple[float, float | None]:
        """`lines` is the mean brightness of each row (or column); returns the last one inside and its support."""
        half = 3
        best, step = at, 0.0
        for k in range(at - reach, at + reach + 1):
            inner = lines[max(k - half + 1, 0) : k + 1] if outward > 0 else lines[max(k, 0) : k + half]
            outer = lines[k + 1 : k + 1 + half] if outward > 0 else lines[max(k - half, 0) : max(k, 0)]
            if len(inner) == 0 or len(outer) == 0:
                continue
            fall = float(inner.mean() - outer.mean())
            if fall > step:
                best, step = k, fall
        if (at <= 2 and outward < 0) or (at >= len(lines) - 3 and outward > 0):
            return float(at if step < _LEAST_STEP_FRACTION * inside else best), None
        return float(best), min(step / inside, 1.0)

    for _ in range(2):
        across = presence[y0 : y1 + 1].mean(axis=0, dtype=np.float64)
        down = presence[:, x0 : x1 + 1].mean(axis=1, dtype=np.float64)
        left, left_seen = side(across, x0, -1)
        right, right_seen = side(across, x1, 1)
        top, top_seen = side(down, y0, -1)
        bottom, bottom_seen = side(down, y1, 1)
        if right > left + 4 and bottom > top + 4:
            x0, x1, y0, y1 = int(left), int(right), int(top), int(bottom)
        reach = 5
    return (float(x0), float(y0), float(x1), float(y1)), Support(
        left=left_seen, right=right_seen, near=top_seen, far=bottom_seen
    )
