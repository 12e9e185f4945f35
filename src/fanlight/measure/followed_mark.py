"""A mark followed through the beat: its shape, length, area or angle on each frame, with an error. Pure."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from fanlight.measure.shapes import SQUARE, Pixel, angle_deg, area, distance, path_length, resampled
from fanlight.measure.tracking import METHOD, Alive, Frames, Track, follow
from fanlight.reference.tracking import TrackSettings
from fanlight.study import Point

# Of an error that is the same in all directions, the share that lies along one line: 95 of 100 within 1.96 standard
# deviations along a line, within 2.45 in the plane (normal distribution, chi with one and two degrees of freedom).
_ALONG = 1.96 / 2.448
_STEP_PX = 0.5  # for derivatives
Points = tuple[Point, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """One value of the mark on each frame that it could be followed to."""

    name: str  # "length", "area", "angle"
    unit: str  # "mm", "mm²", "°"; "px", "px²" where the picture is not calibrated
    values: tuple[float, ...]
    errors: tuple[float, ...]  # ±, meant to hold 95 of 100 true errors; 0 on the mark's own frame
    smallest_frame: int  # of the clip
    largest_frame: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FollowedMark:
    """The mark on the frames from `first` on, as far as it can be believed."""

    method: str
    marked: int  # frame of the clip on which the mentor drew it
    first: int  # frame of the clip
    points: tuple[Points, ...]  # one tuple a frame; a trace as the points at which it was followed
    errors: tuple[float, ...]  # of the worst point on each frame, in `unit`
    unit: str  # "mm" or "px"
    drift: float | None  # left over after one beat, of the worst point; None: no whole beat in the clip
    curves: tuple[Curve, ...]
    stopped: tuple[str, ...]  # why it ends before the frames asked for, in words


def wanted_frames(n_frames: int, marked: int, period_frames: float | None, settings: TrackSettings) -> tuple[int, int]:
    """Return first and last frame to be followed: one beat on and one back, so that a beat closes."""
    reach = (
        settings.most_frames if period_frames is None else min(math.ceil(period_frames) + 1, 4 * settings.most_frames)
    )
    return max(0, marked - reach), min(n_frames - 1, marked + reach)


def follow_mark(
    frames: Frames,
    kind: str,
    points: Points,
    marked: int,
    settings: TrackSettings,
    *,
    pixel: Pixel | None = None,
    period_frames: float | None = None,
    first: int = 0,
    alive: Alive = lambda _: None,
) -> FollowedMark:
    """Follow a mark through the frames given.

    Parameters
    ----------
    frames : ndarray of shape (frame, row, col)
        Grey pictures in a row, none left out.
    kind : str
        "point", "line", "angle" or "trace".
    points : tuple of (row, col)
        As they were marked, in pixels.
    marked : int
        Index within `frames` of the mark's frame.
    settings : TrackSettings
    pixel : Pixel, optional
        Size of a pixel in mm; None: not calibrated.
    period_frames : float, optional
        Length of a beat.
    first : int
        Number of the first of these frames within the clip.
    alive : callable, optional
        Told now and then that work goes on.

    Raises
    ------
    ValueError
        As `tracking.follow`.
    """
    is_closed = kind == "trace" and len(points) > 2
    at = resampled(points, settings.trace_points) if is_closed else points
    mean_mm = None if pixel is None else math.sqrt(pixel.down * pixel.across)
    track = follow(
        frames, at, marked, settings, mm_per_px=mean_mm, period_frames=period_frames, first=first, alive=alive
    )
    shapes = _shapes(track)
    unit_px = 1.0 if mean_mm is None else mean_mm
    errors = [[point.error_px[k] for point in track.points] for k in range(track.n_frames)]
    measured = [
        (name, unit, *_values(of, shapes, errors, _patches(at, settings, mean_mm) if is_closed else 1.0))
        for name, unit, of in _measures(kind, pixel)
    ]
    limit = (settings.largest_error_px if pixel is None else settings.largest_error_mm) / unit_px
    low, high, stopped = _believed(errors, measured, marked, limit, settings, first)
    drifts = [point.drift_px for point in track.points if point.drift_px is not None]
    return FollowedMark(
        method=METHOD,
        marked=first + marked,
        first=first + low,
        points=tuple(shapes[low : high + 1]),
        errors=tuple(max(row) * unit_px for row in errors[low : high + 1]),
        unit="px" if pixel is None else "mm",
        drift=max(drifts) * unit_px if drifts else None,
        curves=tuple(
            _curve(name, unit, values[low : high + 1], spread[low : high + 1], first + low)
            for name, unit, values, spread in measured
        ),
        stopped=stopped,
    )


def _shapes(track: Track) -> list[Points]:
    return [tuple(point.points[k] for point in track.points) for k in range(track.n_frames)]


def _measures(kind: str, pixel: Pixel | None) -> list[tuple[str, str, Callable[[Points], float]]]:
    """Return name, unit and rule of what is read from a mark of this kind."""
    size, unit = (SQUARE, "px") if pixel is None else (pixel, "mm")
    if kind == "line":
        return [("length", unit, lambda p: distance(p[0], p[1], size))]
    if kind == "angle":
        return [("angle", "°", lambda p: angle_deg(p, size))]
    if kind == "trace":
        return [("length", unit, lambda p: path_length(p, size)), ("area", f"{unit}²", lambda p: area(p, size))]
    return []


def _patches(at: Points, settings: TrackSettings, mm_per_px: float | None) -> float:
    """Return how many neighbours of a trace look at the same speckle, and so err alike."""
    windows = settings.windows_px if mm_per_px is None else [mm / mm_per_px for mm in settings.windows_mm]
    step = path_length(at, SQUARE) / (len(at) - 1)
    return min(max(sorted(windows)[len(windows) // 2] / max(step, 1e-6), 1.0), float(len(at)))


def _values(
    of: Callable[[Points], float], shapes: Sequence[Points], errors: Sequence[Sequence[float]], alike: float
) -> tuple[list[float], list[float]]:
    """Return a value and its error on each frame: errors of points carried on by the derivatives."""
    values, spread = [], []
    for shape, error in zip(shapes, errors, strict=True):
        values.append(of(shape))
        total = sum((e * _slope(of, shape, k)) ** 2 for k, e in enumerate(error) if e > 0)
        spread.append(_ALONG * math.sqrt(total * alike))
    return values, spread


def _slope(of: Callable[[Points], float], shape: Points, k: int) -> float:
    """Return by how much a value changes for each pixel that one point moves, in the worst direction."""

    def moved(down: float, across: float) -> float:
        row, col = shape[k]
        return of((*shape[:k], (row + down, col + across), *shape[k + 1 :]))

    by_row = (moved(_STEP_PX, 0) - moved(-_STEP_PX, 0)) / (2 * _STEP_PX)
    by_col = (moved(0, _STEP_PX) - moved(0, -_STEP_PX)) / (2 * _STEP_PX)
    return math.hypot(by_row, by_col)


def _believed(
    errors: Sequence[Sequence[float]],
    measured: Sequence[tuple[str, str, list[float], list[float]]],
    marked: int,
    limit_px: float,
    settings: TrackSettings,
    first: int,
) -> tuple[int, int, tuple[str, ...]]:
    """Return the first and last frame up to which the errors stay within their limits, and why it ends there."""

    def fault(k: int) -> str:
        if max(errors[k]) > limit_px:
            return "a point is lost"
        for name, _, values, spread in measured:
            if name != "angle" and spread[k] > settings.largest_error_share * values[k]:
                return f"the error is more than {settings.largest_error_share:.0%} of the {name}"
        return ""

    ends, words = [], []
    for ways, way in ((range(marked - 1, -1, -1), "back"), (range(marked + 1, len(errors)), "on")):
        end = marked
        for k in ways:
            if why := fault(k):
                words.append(f"not followed {way} beyond frame {first + end + 1}: {why}")
                break
            end = k
        ends.append(end)
    return ends[0], ends[1], tuple(words)


def _curve(name: str, unit: str, values: list[float], errors: list[float], first: int) -> Curve:
    order = range(len(values))
    return Curve(
        name=name,
        unit=unit,
        values=tuple(values),
        errors=tuple(errors),
        smallest_frame=first + min(order, key=values.__getitem__),
        largest_frame=first + max(order, key=values.__getitem__),
    )
