"""Where a steady hand puts the colour box: round a valve, a third of it before the valve and two behind.

The rule is common practice, no source. Upstream and downstream are those of the flow that is looked for: for a leak the
receiving chamber is the atrium.
"""

from __future__ import annotations

import math

from fanlight.heart.pose import Pose, Vector
from fanlight.simulate.colour.colour_setting import ColourBox
from fanlight.simulate.machine.beams import LineGeometry

UPSTREAM_SHARE = 1 / 3  # of the box's length
_LEAST_NEAR_MM = 2.0  # colour begins below the ring-down of the face (engineering judgement)


def place_in_picture(lines: LineGeometry, pose: Pose, point_mm: Vector) -> tuple[float, float]:
    """Return depth below the face, mm, and angle, degrees, of a point of the patient, seen across the image plane."""
    x, _, z = (float(v) for v in pose.to_probe(point_mm))
    return math.hypot(x, z + lines.apex_mm) - lines.apex_mm, math.degrees(math.atan2(x, z + lines.apex_mm))


def box_at(
    lines: LineGeometry,
    pose: Pose,
    valve_mm: Vector,
    flow: Vector,
    *,
    length_mm: float,
    width_mm: float,
    upstream_share: float = UPSTREAM_SHARE,
) -> ColourBox:
    """Return the box round a valve, as far as the picture reaches.

    Parameters
    ----------
    lines : LineGeometry
        Of the grey picture.
    pose : Pose
        Where the probe stands.
    valve_mm, flow : ndarray of shape (3,)
        Middle of the valve and direction of the flow that is looked for, patient frame.
    length_mm, width_mm : float
        Along the flow and across it. A box has edges along beams and arcs: its length lies along the beam where the
        flow does so rather than across it, else across the beams.
    upstream_share : float
        Of the length that lies before the valve.

    Raises
    ------
    ValueError
        If the valve does not lie in the picture.
    """
    depth, angle = place_in_picture(lines, pose, valve_mm)
    if not (0 <= depth <= lines.depth_mm and lines.left_deg <= angle <= lines.right_deg):
        raise ValueError(
            f"colour box: the valve lies at {depth:.0f} mm and {angle:.0f} degrees, outside the picture of "
            f"{lines.depth_mm:.0f} mm and {lines.left_deg:.0f} to {lines.right_deg:.0f} degrees"
        )
    turn, radius = math.radians(angle), depth + lines.apex_mm
    towards_right, _, down = (float(v) for v in pose.axes.T @ flow)
    along = towards_right * math.sin(turn) + down * math.cos(turn)
    across = towards_right * math.cos(turn) - down * math.sin(turn)
    before, behind = upstream_share * length_mm, (1 - upstream_share) * length_mm
    if abs(along) >= abs(across):
        up, below = (before, behind) if along > 0 else (behind, before)
        left = right = width_mm / 2
    else:
        left, right = (before, behind) if across > 0 else (behind, before)
        up = below = width_mm / 2
    return ColourBox(
        left_deg=max(angle - math.degrees(left / radius), lines.left_deg),
        right_deg=min(angle + math.degrees(right / radius), lines.right_deg),
        near_mm=max(depth - up, _LEAST_NEAR_MM),
        far_mm=min(depth + below, lines.depth_mm),
    )
