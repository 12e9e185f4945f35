"""Reader of the settings by which marks are followed through the beat."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fanlight.study import House


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackSettings:
    """How points are followed, and from which error on they are no longer believed. Rows of tracking.toml."""

    windows_mm: tuple[float, ...]  # sides of the square windows; points follow their middle
    windows_px: tuple[float, ...]  # where the picture is not calibrated
    error_factor: float  # times the three signs together: holds 95 of 100 true errors
    unclosed_factor: float  # times the error where no whole beat shows the drift
    least_error_mm: float  # no point is known better than this
    least_error_px: float  # where the picture is not calibrated
    largest_error_mm: float  # of a point: beyond it the track stops
    largest_error_px: float
    largest_error_share: float  # of a length or area: beyond it the track stops
    trace_points: int  # a trace is followed at so many points
    most_frames: int  # on each side of the mark's own, where no beat is known


def read_track_settings(house: House) -> TrackSettings:
    """Return the settings.

    Raises
    ------
    ValueError
        Naming the row that cannot be used.
    """
    rows = house.table("tracking")["settings"]
    given: dict[str, Any] = {key: tuple(value) if isinstance(value, list) else value for key, value in rows.items()}
    settings = TrackSettings(**given)
    for key in TrackSettings.__dataclass_fields__:
        value = getattr(settings, key)
        numbers = value if isinstance(value, tuple) else (value,)
        if not numbers or any(isinstance(v, bool) or not isinstance(v, int | float) or not v > 0 for v in numbers):
            raise ValueError(f"tracking.settings.{key} must be above 0, got {value}")
    if settings.trace_points < 3:
        raise ValueError(f"tracking.settings.trace_points must be at least 3, got {settings.trace_points}")
    return settings
