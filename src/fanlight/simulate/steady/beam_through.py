"""The beam that runs through a point."""

from __future__ import annotations

import math

from fanlight.heart.pose import Pose, Vector


def beam_through_deg(pose: Pose, apex_mm: float, point_mm: Vector) -> float:
    """Return the beam, at the apex of the picture, that runs through the projection of a point onto its plane."""
    across, _, depth = pose.to_probe(point_mm)
    return math.degrees(math.atan2(float(across), float(depth) + apex_mm))
