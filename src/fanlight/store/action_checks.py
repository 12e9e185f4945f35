"""What every action must hold to be worth keeping."""

from __future__ import annotations

import math

from fanlight.study import Point


def needs(value: object, **fields: str) -> None:
    """Refuse empty words in fields that must say something."""
    for name, text in fields.items():
        if not text.strip():
            raise ValueError(f"{type(value).__name__}.{name} must not be empty")


def check_place(frame: int, points: tuple[Point, ...]) -> None:
    """Refuse places that no frame has."""
    if frame < 0:
        raise ValueError(f"frame must be 0 or more, got {frame}")
    if not all(math.isfinite(part) for point in points for part in point):
        raise ValueError(f"points must be finite numbers (row, col), got {points}")
