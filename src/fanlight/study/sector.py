"""Where the ultrasound picture lies on the screen: a sector from an apex, or the strip of a linear array."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fanlight.study.geometry import Box, Point


@dataclass(frozen=True, slots=True, kw_only=True)
class Sector:
    """A fan of beams from one (possibly virtual) apex.

    Angles are measured at the apex from straight down, positive to the right of the screen, so
    ``left_deg < right_deg``. Radii are distances from the apex in pixels of the row axis; ``col_stretch``
    is the width of a pixel divided by its height (1 for square pixels). A curved array has ``near_px > 0``.
    """

    apex_row_px: float
    apex_col_px: float
    left_deg: float
    right_deg: float
    near_px: float
    far_px: float
    col_stretch: float = 1.0

    def __post_init__(self) -> None:
        if not self.left_deg < self.right_deg:
            raise ValueError(
                f"left edge must lie left of the right one, got {self.left_deg} and {self.right_deg} degrees"
            )
        if not 0 <= self.near_px < self.far_px:
            raise ValueError(
                f"near radius must lie above 0 and below the far one, got {self.near_px} and {self.far_px} px"
            )

    @property
    def width_deg(self) -> float:
        """Opening angle."""
        return self.right_deg - self.left_deg

    @property
    def depth_px(self) -> float:
        """Rows along the central beam between face and deepest echo."""
        return self.far_px - self.near_px

    def point(self, depth_fraction: float, beam_fraction: float) -> Point:
        """Pixel at this share of the depth (0 face, 1 deepest) and of the width (0 left, 1 right)."""
        radius = self.near_px + depth_fraction * self.depth_px
        angle = math.radians(self.left_deg + beam_fraction * self.width_deg)
        return (
            self.apex_row_px + radius * math.cos(angle),
            self.apex_col_px + radius * math.sin(angle) / self.col_stretch,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """The upright rectangle that a linear array paints (parallel beams)."""

    box: Box

    @property
    def depth_px(self) -> float:
        """Rows between face and deepest echo."""
        return float(self.box.height_px - 1)

    def point(self, depth_fraction: float, beam_fraction: float) -> Point:
        """Pixel at this share of the depth and of the width."""
        return (
            self.box.row0 + depth_fraction * (self.box.height_px - 1),
            self.box.col0 + beam_fraction * (self.box.width_px - 1),
        )


Picture = Sector | Strip
