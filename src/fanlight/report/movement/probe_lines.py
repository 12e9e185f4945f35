"""The probe on the sketch: its body seen from the side of the chest, its marker, and the cable."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.heart.pose import Pose
from fanlight.report.movement.side_view import SideView
from fanlight.report.movement.sketch import Part, Stroke

Floats = NDArray[np.float64]

# An ordinary small phased array in mm at 10 kg, somewhat stout so that it reads at a few centimetres. Engineering
# judgement.
HALF_FACE_MM, HALF_THICK_MM, HEAD_MM = 15.0, 8.0, 28.0
HANDLE_FROM_MM, HANDLE_MM, HANDLE_RADIUS_MM = 24.0, 78.0, 7.5
MARKER_BEHIND_MM, MARKER_RADIUS = 9.0, 4.0
CABLE_MM, CABLE_DROP = 9.0, 10.0
_ROUND = np.linspace(0.0, 2 * np.pi, 24, endpoint=False)


def cable_end_mm(pose: Pose, view: SideView) -> Floats:
    """Return the end (3,) of the handle at which the cable leaves, in the patient frame."""
    return np.asarray(pose.origin_mm - HANDLE_MM * view.scale_ratio * pose.z)


def probe_strokes(pose: Pose, view: SideView, part: Part) -> list[Stroke]:
    """Return the probe at a pose: whole, with cable and marker, or as a ghost (body and marker)."""
    marker = Stroke(part=Part.MARKER if part is Part.PROBE else part, path=_circle(marker_at(pose, view)))
    head = Stroke(part=part, path=_outline(_head(pose, view)))
    if part is Part.GHOST_OVER:  # on its place the handle only turns in itself
        return [head, marker]
    cable = [Stroke(part=Part.CABLE, path=_cable(pose, view))] if part is Part.PROBE else []
    return [*cable, Stroke(part=part, path=_outline(_handle(pose, view))), head, marker]


def marker_at(pose: Pose, view: SideView) -> Floats:
    """Return where the marker lies on the sketch (2,)."""
    beside = np.array([HALF_FACE_MM, 0.0, -MARKER_BEHIND_MM]) * view.scale_ratio
    return view.at(pose.to_patient(beside))


def _head(pose: Pose, view: SideView) -> Floats:
    x, y = HALF_FACE_MM * np.cos(_ROUND), HALF_THICK_MM * np.sin(_ROUND)
    # Superellipse: a face with rounded corners.
    x, y = (np.sign(v) * full * (np.abs(v) / full) ** 0.6 for v, full in ((x, HALF_FACE_MM), (y, HALF_THICK_MM)))
    near = np.stack([x, y, np.zeros_like(x)], axis=-1)
    far = np.stack([0.75 * x, 0.9 * y, np.full_like(x, -HEAD_MM)], axis=-1)
    return view.at(pose.to_patient(np.vstack([near, far]) * view.scale_ratio))


def _handle(pose: Pose, view: SideView) -> Floats:
    ring = np.stack([np.cos(_ROUND), np.sin(_ROUND), np.zeros_like(_ROUND)], axis=-1)
    ends = [ring * radius - [0.0, 0.0, depth] for radius, depth in
            ((HANDLE_RADIUS_MM, HANDLE_FROM_MM), (0.8 * HANDLE_RADIUS_MM, HANDLE_MM))]  # fmt: skip
    return view.at(pose.to_patient(np.vstack(ends) * view.scale_ratio))


def _cable(pose: Pose, view: SideView) -> str:
    end = view.at(cable_end_mm(pose, view))
    out = view.at(pose.to_patient(np.array([0.0, 0.0, -HANDLE_MM - CABLE_MM]) * view.scale_ratio))
    down = out + (out - end) * 0.6 + [0.0, CABLE_DROP]  # it hangs
    return f"M{end[0]:.1f} {end[1]:.1f}Q{out[0]:.1f} {out[1]:.1f} {down[0]:.1f} {down[1]:.1f}"


def _outline(points: Floats) -> str:
    hull = cv2.convexHull(points.astype(np.float32))[:, 0, :]
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in hull) + "Z"


def _circle(at: Floats, radius: float = MARKER_RADIUS) -> str:
    x, y = at
    return f"M{x - radius:.1f} {y:.1f}a{radius} {radius} 0 1 0 {2 * radius} 0a{radius} {radius} 0 1 0 {-2 * radius} 0Z"
