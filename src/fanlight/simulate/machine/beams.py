"""What the machine hands on: grey levels by frame, depth and line, and how the lines lie."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from fanlight.simulate.machine.console import Console
from fanlight.simulate.machine.probe import Probe
from fanlight.study import Sector

Array = Any  # an array of the array API standard


@dataclass(frozen=True, slots=True, kw_only=True)
class LineGeometry:
    """How the lines of a picture lie, in the probe's frame (mm, degrees from the central beam, positive to the marker).

    Line j is the middle of its share of the width: left_deg + (j + 0.5) / n_lines · width. Sample i likewise along the
    depth. The lines meet `apex_mm` behind the face.
    """

    apex_mm: float
    depth_mm: float
    left_deg: float
    right_deg: float
    n_samples: int
    n_lines: int

    @property
    def line_rad(self) -> float:
        """Angle between neighbouring lines."""
        return math.radians(self.right_deg - self.left_deg) / self.n_lines

    @property
    def sample_mm(self) -> float:
        """Distance of neighbouring samples."""
        return self.depth_mm / self.n_samples

    def on_screen(
        self, *, apex_row_px: float, apex_col_px: float, mm_per_px: float, col_stretch: float = 1.0
    ) -> Sector:
        """Return where this picture lies on a screen, for regions and rulers."""
        return Sector(
            apex_row_px=apex_row_px,
            apex_col_px=apex_col_px,
            left_deg=self.left_deg,
            right_deg=self.right_deg,
            near_px=self.apex_mm / mm_per_px,
            far_px=(self.apex_mm + self.depth_mm) / mm_per_px,
            col_stretch=col_stretch,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Beams:
    """A clip as the machine forms it, before it is painted on a screen."""

    levels: Array  # uint8 (frame, depth, line)
    geometry: LineGeometry
    times_ms: tuple[float, ...]  # of each frame
    frame_rate_hz: float


def line_geometry(probe: Probe, console: Console) -> LineGeometry:
    """Return how the lines of these settings lie."""
    half = min(console.width_deg, probe.widest_deg) / 2
    steer = 0.0 if probe.radius_mm else console.steer_deg
    return LineGeometry(
        apex_mm=probe.radius_mm,
        depth_mm=console.depth_mm,
        left_deg=steer - half,
        right_deg=steer + half,
        n_samples=console.n_samples,
        n_lines=console.n_lines,
    )
