"""What a person set or the network found on the frames of one clip: points, lines and traces with their errors."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from fanlight.measure.shapes import SQUARE, Pixel
from fanlight.study import Point

Points = tuple[Point, ...]

# A border lies anywhere within its pixel: the standard deviation of an even distribution one pixel wide.
PIXEL_PX = 1 / math.sqrt(12)
_STEP_PX = 0.25  # for derivatives: small against a hand's error


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """One shape on one frame.

    Attributes
    ----------
    what : str
        Name of a Landmark for a point, key of a quantity for a line or a trace.
    points : tuple of (row, col)
        In pixels of the stored frame.
    sd_px : tuple of float
        How well each point is placed: one standard deviation in each direction, pixels.
    said : str
        The words beside it, as they were written.
    """

    what: str
    frame: int  # counted from 0
    points: Points
    sd_px: tuple[float, ...]
    said: str = ""

    def __post_init__(self) -> None:
        if len(self.points) != len(self.sd_px):
            raise ValueError(f"{self.what}: {len(self.points)} points and {len(self.sd_px)} errors; give one each")


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """All that one giver placed on one clip; numbers of two givers are never mixed.

    Attributes
    ----------
    given_by : str
        "marked by hand" or "engine".
    how : str
        The same in the words of a method: "marked by hand", "found by the network".
    is_found : bool
        Found by the network, not set by a person.
    """

    given_by: str
    how: str
    is_found: bool = False
    landmarks: tuple[Placed, ...] = ()
    lines: tuple[Placed, ...] = ()
    traces: tuple[Placed, ...] = ()

    def landmark(self, name: str, frame: int) -> Placed | None:
        """Return a landmark on a frame; of several the last that was set."""
        found = [item for item in self.landmarks if item.what == name and item.frame == frame]
        return found[-1] if found else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Size of a pixel where the shapes lie.

    Attributes
    ----------
    pixel : Pixel
        In mm; where `has_mm` is False in rows, so that ratios and angles hold all the same.
    mm_share : float
        One standard deviation of the scale, as a share of it.
    """

    pixel: Pixel = SQUARE
    has_mm: bool = False
    mm_share: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class OnFrame:
    """One value on one frame, and what the placement of its points adds to its error: one standard deviation."""

    frame: int
    value: float
    placement: float


def carried(
    value: Callable[[Points], float], points: Sequence[Point], sd_px: Sequence[float], *, common_px: float = 0.0
) -> float:
    """Return one standard deviation of a value, from how well its points are placed.

    Parameters
    ----------
    value : callable
        Of the points, each (row, col).
    points : sequence of (row, col)
    sd_px : sequence of float
        One standard deviation in each direction, a point. Half a pixel to each side is added to it.
    common_px : float, optional
        By how much a closed outline may lie too far out or in as a whole, one standard deviation.

    Notes
    -----
    u²(y) = Σ (∂y/∂x)² u²(x), of inputs that err independently (JCGM 100:2008, GUM, 5.1.2 equation 10).
    """
    at = tuple(points)
    variance = 0.0
    for k, sd in enumerate(sd_px):
        slopes = [_slope(lambda step, k=k, way=way: value(_moved(at, k, step, way))) for way in (0, 1)]  # type: ignore[misc]
        variance += (slopes[0] ** 2 + slopes[1] ** 2) * (sd**2 + PIXEL_PX**2)
    if common_px:
        variance += (_slope(lambda step: value(moved_out(at, step))) * common_px) ** 2
    return math.sqrt(variance)


def _slope(of: Callable[[float], float]) -> float:
    return (of(_STEP_PX) - of(-_STEP_PX)) / (2 * _STEP_PX)


def _moved(points: Points, k: int, step: float, way: int) -> Points:
    row, col = points[k]
    there = (row + step, col) if way == 0 else (row, col + step)
    return (*points[:k], there, *points[k + 1 :])


def moved_out(points: Points, step_px: float) -> Points:
    """Return a closed outline moved out by so many pixels at right angles to itself; below 0 it is moved in."""
    n = len(points)
    twice = sum(a[1] * b[0] - b[1] * a[0] for a, b in zip(points, (*points[1:], points[0]), strict=True))
    sign = 1.0 if twice > 0 else -1.0
    found = []
    for k, (row, col) in enumerate(points):
        before, behind = points[k - 1], points[(k + 1) % n]
        down, across = behind[0] - before[0], behind[1] - before[1]
        length = math.hypot(down, across) or 1.0
        found.append((row - sign * step_px * across / length, col + sign * step_px * down / length))
    return tuple(found)
