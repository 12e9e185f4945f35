"""Points followed through the beat by the speckle around them, with the error that the tracker itself sees.

Each point is followed frame by frame by pyramidal Lucas-Kanade (LUCASKANADE1981), on and back from the frame on which
it was marked, with windows of several sizes; it follows the middle one of their paths. Three signs tell how far it can
be believed:

round trip
    Followed on to a frame and back again, a point must end where it began (KALAL2010).
windows
    Windows of different sizes see different tissue; where they disagree, the picture does not hold the point.
drift
    One beat on, the heart is where it was: what is left over has crept in on the way.

Pure: frames in, frozen values out.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.reference.tracking import TrackSettings
from fanlight.study import Point

METHOD = "lucas-kanade, middle of three windows/1"  # name and version, stored with every result
_LEAST_SIDE_PX = 9  # engineering judgement: a window of fewer pixels holds too little speckle to be found again
_MARGIN_SIDES = 3  # of the largest window, kept round the points when frames are cut: no heart moves further in a beat

Frames = NDArray[np.uint8]  # (frame, row, col)
Paths = NDArray[np.float64]  # (frame, point, row and col)
Alive = Callable[[int], None]  # told how many frames are done


@dataclass(frozen=True, slots=True, kw_only=True)
class FollowedPoint:
    """One point on each frame of a track, with what speaks for and against it."""

    points: tuple[Point, ...]  # (row, col), one a frame
    error_px: tuple[float, ...]  # meant to hold 95 of 100 true errors; 0 on the mark's own frame
    round_trip_px: tuple[float, ...]
    windows_px: tuple[float, ...]
    drift_px: float | None  # left over after one beat; None: no whole beat from the mark's frame


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """Points through the frames around the one on which they were marked."""

    first: int  # frame of the clip that the tuples begin with
    marked: int  # frame of the clip on which the points were marked
    points: tuple[FollowedPoint, ...]

    @property
    def n_frames(self) -> int:
        """How many frames were followed."""
        return len(self.points[0].points)


def follow(
    frames: Frames,
    points: Sequence[Point],
    marked: int,
    settings: TrackSettings,
    *,
    mm_per_px: float | None = None,
    period_frames: float | None = None,
    first: int = 0,
    alive: Alive = lambda _: None,
) -> Track:
    """Follow points from the frame on which they were marked through all the frames given.

    Parameters
    ----------
    frames : ndarray of shape (frame, row, col)
        Grey pictures in a row, none left out.
    points : sequence of (row, col)
        In pixels, as they were marked.
    marked : int
        Index within `frames` of the frame on which they were marked.
    settings : TrackSettings
    mm_per_px : float, optional
        Size of a pixel; without it windows and limits are taken in pixels.
    period_frames : float, optional
        Length of a beat; without it the drift is not known, and errors are taken larger.
    first : int
        Number of the first of these frames within the clip.
    alive : callable, optional
        Called after each frame with the number that are done.

    Raises
    ------
    ValueError
        If a point lies outside the picture, or there is no such frame.

    Notes
    -----
    What leaves the image plane cannot be followed: the speckle that comes instead is. Along a smooth wall a point is
    held less well than across it.
    """
    n, rows, cols = frames.shape
    if not 0 <= marked < n:
        raise ValueError(f"marked must be one of the {n} frames, got {marked}")
    for row, col in points:
        if not (0 <= row <= rows - 1 and 0 <= col <= cols - 1):
            raise ValueError(f"a point must lie on the picture of {rows} × {cols} pixels, got ({row:g}, {col:g})")
    start = np.array(points, np.float64).reshape(-1, 2)
    sides = _sides(settings, mm_per_px)
    cut, corner = _cut_round(frames, start, _MARGIN_SIDES * max(sides))
    done = _Done(alive)
    ways = [_both_ways(cut, start - corner, marked, side, done) for side in sides]
    paths = np.stack([path + corner for path, _ in ways])
    middle: Paths = np.median(paths, axis=0)
    trips = np.mean([trip for _, trip in ways], axis=0)
    spread = np.sqrt(np.mean(np.sum((paths - middle) ** 2, axis=-1), axis=0))
    return Track(
        first=first,
        marked=first + marked,
        points=tuple(
            _followed(middle[:, k], trips[:, k], spread[:, k], marked, mm_per_px, period_frames, settings)
            for k in range(len(start))
        ),
    )


def _sides(settings: TrackSettings, mm_per_px: float | None) -> tuple[int, ...]:
    """Return the windows' sides in pixels: odd, so that a window has a middle."""
    sides = settings.windows_px if mm_per_px is None else [mm / mm_per_px for mm in settings.windows_mm]
    return tuple(max(_LEAST_SIDE_PX, 2 * round(side / 2) + 1) for side in sides)


def _cut_round(frames: Frames, points: NDArray[np.float64], margin: int) -> tuple[Frames, NDArray[np.float64]]:
    """Return the frames cut to the surroundings of the points, and the corner that was cut to."""
    low = np.maximum(np.floor(points.min(axis=0)).astype(int) - margin, 0)
    high = np.minimum(np.ceil(points.max(axis=0)).astype(int) + margin + 1, frames.shape[1:])
    cut = np.ascontiguousarray(frames[:, low[0] : high[0], low[1] : high[1]])
    return cut, low.astype(np.float64)


class _Done:
    """Counts frames that are done."""

    def __init__(self, alive: Alive) -> None:
        self._alive = alive
        self._n = 0

    def __call__(self) -> None:
        self._n += 1
        self._alive(self._n)


def _both_ways(
    frames: Frames, start: NDArray[np.float64], marked: int, side: int, done: _Done
) -> tuple[Paths, NDArray[np.float64]]:
    """Return the path on every frame, and how far its round trip ends from the mark."""
    on, on_trip = _one_way(frames[marked:], start, side, done)
    back, back_trip = _one_way(frames[marked::-1], start, side, done)
    return np.concatenate([back[:0:-1], on]), np.concatenate([back_trip[:0:-1], on_trip])


def _one_way(frames: Frames, start: NDArray[np.float64], side: int, done: _Done) -> tuple[Paths, NDArray[np.float64]]:
    """Follow points through frames in their order, then every path from each of its frames back to the first."""
    # The smallest picture of the pyramid must still hold the window.
    levels = int(np.clip(np.log2(max(min(frames.shape[1:]) / (1.5 * side), 1.0)), 0, 4))
    path = [start]
    for before, after in itertools.pairwise(frames):
        path.append(_moved(before, after, path[-1], side, levels))
        done()
    homeward = np.empty((0, *start.shape))  # one row for each frame from which a path is on its way back
    for k in range(len(frames) - 1, 0, -1):
        homeward = np.concatenate([path[k][None], homeward])
        flat = _moved(frames[k], frames[k - 1], homeward.reshape(-1, 2), side, levels)
        homeward = flat.reshape(homeward.shape)
        done()
    trips = np.linalg.norm(homeward - start[None], axis=-1)
    return np.stack(path), np.concatenate([np.zeros((1, len(start))), trips])


def _moved(
    before: NDArray[np.uint8], after: NDArray[np.uint8], points: NDArray[np.float64], side: int, levels: int
) -> NDArray[np.float64]:
    """Return where points of one frame lie on the next; a point that is lost stays where it was."""
    # OpenCV counts (x, y), pixel centres at whole numbers, as here.
    held = np.ascontiguousarray(points[:, ::-1], np.float32).reshape(-1, 1, 2)
    found, is_found, _ = cv2.calcOpticalFlowPyrLK(
        before, after, held, held.copy(), winSize=(side, side), maxLevel=levels,
        criteria=(cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 30, 0.01), flags=cv2.OPTFLOW_USE_INITIAL_FLOW,
        minEigThreshold=1e-5,
    )  # fmt: skip
    moved = np.where(np.asarray(is_found).reshape(-1, 1) == 1, np.asarray(found).reshape(-1, 2), held.reshape(-1, 2))
    return np.asarray(moved[:, ::-1], np.float64)


def _drift(path: NDArray[np.float64], marked: int, period_frames: float | None) -> float | None:
    """Return how far from the mark a point lies one beat on or back, the larger of both."""
    if period_frames is None or period_frames < 2:
        return None
    left: list[float] = []
    for place in (marked + period_frames, marked - period_frames):
        low = int(np.floor(place))
        if low >= 0 and low + 1 <= len(path) - 1:
            at = path[low] + (place - low) * (path[low + 1] - path[low])
            left.append(float(np.linalg.norm(at - path[marked])))
    return max(left, default=None)


def _followed(
    path: NDArray[np.float64],
    trip: NDArray[np.float64],
    spread: NDArray[np.float64],
    marked: int,
    mm_per_px: float | None,
    period_frames: float | None,
    settings: TrackSettings,
) -> FollowedPoint:
    least = settings.least_error_px if mm_per_px is None else settings.least_error_mm / mm_per_px
    drift = _drift(path, marked, period_frames)
    factor, crept = settings.error_factor, np.zeros(len(path))
    if drift is None or period_frames is None:
        factor *= settings.unclosed_factor
    else:
        # What creeps in by chance grows with the root of the way.
        crept = drift * np.sqrt(np.minimum(np.abs(np.arange(len(path)) - marked) / period_frames, 1.0))
    error = factor * np.sqrt(trip**2 + spread**2 + crept**2 + least**2)
    error[marked] = 0.0  # the mentor's own point
    return FollowedPoint(
        points=tuple((float(row), float(col)) for row, col in path),
        error_px=tuple(float(v) for v in error),
        round_trip_px=tuple(float(v) for v in trip),
        windows_px=tuple(float(v) for v in spread),
        drift_px=drift,
    )
