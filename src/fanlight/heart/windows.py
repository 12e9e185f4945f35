"""The four windows through which the heart is seen, and the skin where a probe may stand in each.

A window is found from the heart that lies behind it, so that it follows the heart's size, axis and disease. Spaces and
borders follow the published description (PIANTEDOSI): right 3rd to 6th space between sternum and joint of rib and
cartilage, left apical 5th to 7th as low as possible, left cranial 3rd to 4th; subcostal behind the xiphoid. The second
left space is added for the right auricle, one space forward (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.axis import Axis
from fanlight.heart.body_wall import BodyWall
from fanlight.heart.pose import Vector
from fanlight.heart.ribs import STERNUM_HALF_WIDTH_MM, Ribs
from fanlight.heart.skin import points_at, skin_on_line
from fanlight.study import Landmark

REACH_MM = 400.0  # longer than the chest of any animal of the tables is wide
# Of the rib pitch: a rib begins at 0.32, so the face stays between ribs.
OFF_MIDDLE = (-0.1, -0.05, 0.0, 0.05, 0.1)
ABOVE_JOINT_MM = 2.0  # at 10 kg: above the joints bone shades what lies across the ribs. Engineering judgement
ANGLE_STEP_DEG = 2.0  # about 2 mm of skin at 10 kg
FACE_BESIDE_STERNUM_MM = 9.0  # at 10 kg: half of the face, which must look past the bone, not into it


class Window(StrEnum):
    """Where a probe looks in. Values are those of the view tables."""

    RIGHT_PARASTERNAL = "right_parasternal"
    LEFT_APICAL = "left_apical"
    LEFT_CRANIAL = "left_cranial"
    SUBCOSTAL = "subcostal"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """Spaces and angles round the body that a window takes in."""

    spaces: tuple[float, ...]  # coordinates of their middles
    least_angle_deg: float  # 0 at the sternum, positive on the left
    greatest_angle_deg: float


REACHES = {
    Window.RIGHT_PARASTERNAL: Reach(spaces=(3.5, 4.5, 5.5, 6.5), least_angle_deg=-85.0, greatest_angle_deg=-4.0),
    Window.LEFT_APICAL: Reach(spaces=(5.5, 6.5, 7.5), least_angle_deg=4.0, greatest_angle_deg=75.0),
    Window.LEFT_CRANIAL: Reach(spaces=(2.5, 3.5, 4.5), least_angle_deg=4.0, greatest_angle_deg=85.0),
    Window.SUBCOSTAL: Reach(
        spaces=(10.4, 10.8, 11.2, 11.6, 12.0, 12.4, 12.8), least_angle_deg=-22.0, greatest_angle_deg=26.0
    ),
}


TARGETS = {  # the middle of what a window shows: the point round which a re-aimed probe swings
    Window.RIGHT_PARASTERNAL: Landmark.LV_CENTRE,
    Window.LEFT_APICAL: Landmark.LV_CENTRE,
    Window.LEFT_CRANIAL: Landmark.AORTIC_SINUS_CENTRE,
    Window.SUBCOSTAL: Landmark.AORTIC_CENTRE,
}


def window_centre_mm(
    wall: BodyWall, window: Window, points: Mapping[Landmark, Vector], directions: Mapping[Axis, Vector]
) -> Vector:
    """Return the skin point over the middle of the heart of a window, whatever rib may lie there.

    Notes
    -----
    Right: on the line through the centre of the left ventricle, square to the septum. Left apical: where the line from
    the mitral valve through the apex leaves the body. Left cranial: midway between where the flow through the
    tricuspid valve would meet the skin and where that of the pulmonic valve would come from. Subcostal: where the flow
    through the aortic valve would come from.
    """
    if window is Window.RIGHT_PARASTERNAL:
        return skin_on_line(wall, points[Landmark.LV_CENTRE], -directions[Axis.SEPTUM_NORMAL], reach_mm=REACH_MM)
    if window is Window.LEFT_APICAL:
        apex, valve = points[Landmark.LV_APEX], points[Landmark.MITRAL_CENTRE]
        return skin_on_line(wall, apex, apex - valve, reach_mm=REACH_MM)
    if window is Window.LEFT_CRANIAL:
        tricuspid, pulmonic = points[Landmark.TRICUSPID_CENTRE], points[Landmark.PULMONIC_CENTRE]
        there = skin_on_line(wall, tricuspid, directions[Axis.TRICUSPID_INFLOW], reach_mm=REACH_MM)
        here = skin_on_line(wall, pulmonic, -directions[Axis.PULMONIC_OUTFLOW], reach_mm=REACH_MM)
        middle, within = 0.5 * (there + here), 0.5 * (tricuspid + pulmonic)
        return skin_on_line(wall, within, middle - within, reach_mm=REACH_MM)
    return skin_on_line(wall, points[Landmark.AORTIC_CENTRE], -directions[Axis.AORTIC_OUTFLOW], reach_mm=REACH_MM)


def allowed_contacts_mm(wall: BodyWall, ribs: Ribs, window: Window) -> NDArray[np.float64]:
    """Return skin points (N, 3) at which the face may be centred: in a space, off the ribs, beside the sternum.

    Raises
    ------
    ValueError
        If the window has no such point (the chest is not one that the model can make).
    """
    reach = REACHES[window]
    off = OFF_MIDDLE if window is not Window.SUBCOSTAL else (0.0,)
    spaces = np.asarray([space + share for space in reach.spaces for share in off])
    angles = np.arange(reach.least_angle_deg, reach.greatest_angle_deg + ANGLE_STEP_DEG / 2, ANGLE_STEP_DEG)
    grid_space, grid_angle = np.meshgrid(spaces, angles, indexing="ij")
    points = points_at(wall, ribs, grid_space.ravel(), grid_angle.ravel(), np.asarray(0.0))
    if window is Window.SUBCOSTAL:
        return points
    low = points[:, 2] <= ribs.joint_z_mm + ABOVE_JOINT_MM * wall.scale_ratio
    clear_mm = (STERNUM_HALF_WIDTH_MM + FACE_BESIDE_STERNUM_MM) * wall.scale_ratio
    beside = np.abs(points[:, 1] - wall.centre_y_mm) >= clear_mm
    kept = points[low & beside]
    if kept.size == 0:
        raise ValueError(f"no skin for the {window.value} window between sternum and ribs of this chest")
    return kept


def nearest_contact_mm(
    wall: BodyWall,
    ribs: Ribs,
    window: Window,
    points: Mapping[Landmark, Vector],
    directions: Mapping[Axis, Vector],
) -> Vector:
    """Return the allowed skin point nearest to the middle of the window: where a hand would set the probe down."""
    centre = window_centre_mm(wall, window, points, directions)
    allowed = allowed_contacts_mm(wall, ribs, window)
    return np.asarray(allowed[int(np.argmin(np.linalg.norm(allowed - centre, axis=-1)))])
