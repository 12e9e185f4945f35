"""Shapes in pixel coordinates: what a finding points at, drawn alike by every page.

A point is ``(row, col)``, in pixels of the stored frame, row 0 at the top. Pixel centres lie at whole numbers.
"""

from __future__ import annotations

from dataclasses import dataclass

Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """An upright rectangle; the last row and column are outside (half-open, as in slicing)."""

    row0: int
    col0: int
    row1: int
    col1: int

    def __post_init__(self) -> None:
        if self.row1 <= self.row0 or self.col1 <= self.col0:
            raise ValueError(
                f"a box must hold at least one pixel, got rows {self.row0}-{self.row1}, cols {self.col0}-{self.col1}"
            )

    @property
    def height_px(self) -> int:
        """Rows inside."""
        return self.row1 - self.row0

    @property
    def width_px(self) -> int:
        """Columns inside."""
        return self.col1 - self.col0

    @property
    def area_px(self) -> int:
        """Pixels inside."""
        return self.height_px * self.width_px

    def overlap_px(self, other: Box) -> int:
        """Pixels that both boxes hold."""
        rows = min(self.row1, other.row1) - max(self.row0, other.row0)
        cols = min(self.col1, other.col1) - max(self.col0, other.col0)
        return max(rows, 0) * max(cols, 0)

    def clipped_to(self, rows: int, cols: int) -> Box | None:
        """The part of the box that lies on a picture of this size, or None."""
        row0, col0 = max(self.row0, 0), max(self.col0, 0)
        row1, col1 = min(self.row1, rows), min(self.col1, cols)
        if row1 <= row0 or col1 <= col0:
            return None
        return Box(row0=row0, col0=col0, row1=row1, col1=col1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Polyline:
    """Points joined in order."""

    points: tuple[Point, ...]
    closed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Mask:
    """A region by run length: each run is ``(row, first col, length)``."""

    runs: tuple[tuple[int, int, int], ...]


Shape = Box | Polyline | Mask


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """One shape and the words that stand beside it."""

    shape: Shape
    label: str = ""
    frame: int | None = None  # counted from 0; None: holds for the whole clip
