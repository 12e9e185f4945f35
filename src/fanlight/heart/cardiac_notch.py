"""The cardiac notches of a chest: where the lungs leave the heart against the wall, found from the heart itself."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

import numpy as np

from fanlight.heart.axis import Axis
from fanlight.heart.body_wall import BodyWall
from fanlight.heart.lung import Notch
from fanlight.heart.pose import Vector
from fanlight.heart.ribs import Ribs
from fanlight.heart.skin import place_of, points_at, skin_on_line
from fanlight.heart.windows import REACH_MM, TARGETS, Window, allowed_contacts_mm
from fanlight.study import Landmark

# Radius of the cardiac notches at 10 kg, and by how much a quiet breath in slides them down. Engineering judgement:
# 15 to 20 mm of skin round a standard contact are free at the end of expiration, and a quiet breath hides an edge.
NOTCHES = {
    Window.RIGHT_PARASTERNAL: (19.0, 16.5),
    Window.LEFT_APICAL: (20.0, 10.0),
    Window.LEFT_CRANIAL: (25.0, 8.0),
}
RIGHT_LEVELS = (-0.6, 0.0, 0.6)  # shares of the way from the ventricle's centre to its apex and to the mitral valve
TOWARDS_APEX = 0.7  # of its way down: the right lung also comes from the base of the heart towards its apex
NOTCH_OPEN_MM = 45.0  # at 10 kg: below its line a notch is open to the sternum
LEFT_SPACES = 1.5  # forwards and backwards of the middle of a left window
SIDE_OVERLAP_MM = 8.0  # at 10 kg: how far a notch reaches over the median plane, into the fat over the sternum
NOTCH_DEPTH_MM = 44.0  # at 10 kg: fat reaches so far beside the heart. Engineering judgement
APART_MM = 1.0  # nearer places need no notch of their own
VENTRAL_STEP_DEG = 2.0  # for the direction of the slide: small against the curve of the skin
LIGAMENT_MM = 20.0  # at 10 kg: fat between heart and diaphragm, through which the subcostal view looks
LIGAMENT_FROM, LIGAMENT_TO = 0.2, 0.6  # shares of the way from the skin to the aortic valve


def draw_notches(
    wall: BodyWall,
    ribs: Ribs,
    contacts: Mapping[Window, Vector],
    points: Mapping[Landmark, Vector],
    directions: Mapping[Axis, Vector],
) -> tuple[Notch, ...]:
    """Return what keeps lung from the windows of a chest: the notches of both lungs, and the fat behind the heart.

    Parameters
    ----------
    wall, ribs : BodyWall, Ribs
        The chest, laid round the heart.
    contacts : mapping
        Where a hand would set the probe down in each window, mm.
    points, directions : mapping
        Landmarks (mm) and axes of the heart, at end-diastole and at the end of expiration.

    Notes
    -----
    On the right the notch runs along the heart, from apex to base, where lines square to the septum leave the body; on
    the left it lies round the middle of each window, and round the place from which the mitral flow is met head-on.
    """
    centre, sinus = points[Landmark.LV_CENTRE], points[Landmark.AORTIC_SINUS_CENTRE]
    right = [
        skin_on_line(
            wall,
            centre + abs(level) * (points[Landmark.MITRAL_CENTRE if level > 0 else Landmark.LV_APEX] - centre),
            -directions[Axis.SEPTUM_NORMAL],
            reach_mm=REACH_MM,
        )
        for level in RIGHT_LEVELS
    ]
    right.append(skin_on_line(wall, sinus, sinus - points[Landmark.LA_CENTRE], reach_mm=REACH_MM))
    apexward = TOWARDS_APEX * (right[0] - right[2]) / np.linalg.norm(right[0] - right[2])
    lines = [(Window.RIGHT_PARASTERNAL, one, other, apexward) for one, other in pairwise(right)]
    straight_down = np.zeros(3)
    for window in (Window.LEFT_APICAL, Window.LEFT_CRANIAL):
        here = place_of(wall, ribs, contacts[window])
        spaces = here.space + np.asarray([-LEFT_SPACES, LEFT_SPACES])
        front, back = points_at(wall, ribs, spaces, np.asarray(here.angle_deg), np.asarray(here.depth_mm))
        lines.append((window, front, back, straight_down))
    valve, skin = points[Landmark.MITRAL_CENTRE], allowed_contacts_mm(wall, ribs, Window.LEFT_APICAL)
    flow = skin_on_line(wall, valve, directions[Axis.MITRAL_INFLOW], reach_mm=REACH_MM)
    along_flow = skin[int(np.argmin(np.linalg.norm(skin - flow, axis=-1)))]
    if np.linalg.norm(along_flow - contacts[Window.LEFT_APICAL]) > APART_MM:
        lines.append((Window.LEFT_APICAL, contacts[Window.LEFT_APICAL], along_flow, straight_down))
    notches = [
        _notch(wall, ribs, one, other, points[TARGETS[window]], *NOTCHES[window], towards)
        for window, one, other, towards in lines
    ]
    return (*notches, _ligament(contacts[Window.SUBCOSTAL], points, wall.scale_ratio))


def _notch(
    wall: BodyWall,
    ribs: Ribs,
    start_mm: Vector,
    end_mm: Vector,
    target_mm: Vector,
    radius_mm: float,
    slide_mm: float,
    towards: Vector,
) -> Notch:
    """Return a notch along a line of the skin, in towards what its window shows; a breath slides it down the skin."""
    middle = 0.5 * (start_mm + end_mm)
    here = place_of(wall, ribs, middle)
    side = 1 if here.angle_deg > 0 else -1
    angles = np.asarray([here.angle_deg, here.angle_deg - side * VENTRAL_STEP_DEG])
    upper, lower = points_at(wall, ribs, np.asarray(here.space), angles, np.asarray(here.depth_mm))
    down = lower - upper
    down = down / np.linalg.norm(down) + towards
    inward = target_mm - middle
    return Notch(
        start_mm=start_mm,
        end_mm=end_mm,
        radius_mm=radius_mm * wall.scale_ratio,
        inward=inward / np.linalg.norm(inward),
        depth_ratio=NOTCH_DEPTH_MM / radius_mm,
        slide_mm=slide_mm * wall.scale_ratio * down / np.linalg.norm(down),
        open_mm=NOTCH_OPEN_MM * wall.scale_ratio,
        side=side,
        side_ends_y_mm=wall.centre_y_mm - side * SIDE_OVERLAP_MM * wall.scale_ratio,
    )


def _ligament(contact_mm: Vector, points: Mapping[Landmark, Vector], k: float) -> Notch:
    """Return the fat between heart and diaphragm on the way of the subcostal beam."""
    way = points[Landmark.AORTIC_CENTRE] - contact_mm
    return Notch(
        start_mm=contact_mm + LIGAMENT_FROM * way,
        end_mm=contact_mm + LIGAMENT_TO * way,
        radius_mm=LIGAMENT_MM * k,
        inward=way / np.linalg.norm(way),
        depth_ratio=1.0,
        slide_mm=np.zeros(3),
        open_mm=0.0,
        side=0,
        side_ends_y_mm=0.0,
    )
