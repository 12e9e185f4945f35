"""Faults of the probe's pose: place, turn, tilt and rock, wrong level, foreshortening, off-centre, mirrored.

Lengths hold in an animal of 10 kg and grow with the cube root of weight. The grades: one step of a correction that a
mentor would give is at most 10 mm or 10° (house setting); a clear fault is more than 5 mm, 6° of tilt or 10° of
rotation, which is where a fitted pose tells its direction; grade 1 lies just below, grade 3 well above, grade 5 is as
far off as a beginner gets. All engineering judgement.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from fanlight.heart.animal import Animal, animal_axes, animal_landmarks
from fanlight.heart.axis import Axis
from fanlight.heart.cycle import RESTING
from fanlight.heart.movements import Movement, moved, slid_with_frozen_handle
from fanlight.heart.pose import Pose, Vector
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.faults.fault import Change, Fault, FaultGroup, FaultKind, either_sign
from fanlight.study import Landmark


def _by(movement: Movement) -> Change:
    def change(setting: ClipSetting, animal: Animal, fault: Fault) -> ClipSetting:
        return replace(setting, pose=moved(animal, setting.pose, movement, fault.amount))

    return change


def _level(towards_base: bool) -> Change:
    def change(setting: ClipSetting, animal: Animal, fault: Fault) -> ClipSetting:
        """Tilt until the plane meets the long axis this much nearer the base, or the apex."""
        places = animal_landmarks(animal, RESTING)
        to_base = animal_axes(animal, RESTING)[Axis.LV_LONG]
        length = float(np.linalg.norm(places[Landmark.MITRAL_CENTRE] - places[Landmark.LV_APEX]))
        step = fault.amount * length * (1.0 if towards_base else -1.0)
        axis_at = _meets(setting.pose, places[Landmark.LV_CENTRE], to_base)
        aim = setting.pose.to_probe(axis_at + step * to_base)
        deg = math.degrees(math.atan2(float(aim[1]), float(aim[2])))
        return replace(setting, pose=moved(animal, setting.pose, Movement.TILT, deg))

    return change


def _meets(pose: Pose, point_mm: Vector, direction: Vector) -> Vector:
    """Return where a line meets the image plane; the point itself where it runs along the plane."""
    slope = float(direction @ pose.y)
    if abs(slope) < 0.2:  # the plane runs along the heart: no level to speak of
        return point_mm
    return np.asarray(point_mm + float((pose.origin_mm - point_mm) @ pose.y) / slope * direction)


def _foreshortened(setting: ClipSetting, animal: Animal, fault: Fault) -> ClipSetting:
    """Stand off the apex towards the head and aim at the mitral valve: the plane leaves the ventricle by its side."""
    base = animal_landmarks(animal, RESTING)[Landmark.MITRAL_CENTRE]
    return replace(setting, pose=moved(animal, setting.pose, Movement.SPACE, fault.amount, aim_mm=base))


def _frozen(setting: ClipSetting, animal: Animal, fault: Fault) -> ClipSetting:
    return replace(setting, pose=slid_with_frozen_handle(animal, setting.pose, fault.amount))


def _off_centre(setting: ClipSetting, animal: Animal, fault: Fault) -> ClipSetting:
    """Rock until what lay in the middle lies this share of the half width beside it; plane and contact stay."""
    half = math.radians(min(setting.console.width_deg, setting.probe.widest_deg) / 2)
    rock = math.degrees(math.atan(fault.amount * fault.parameter("sign") * math.tan(half)))
    return replace(setting, pose=moved(animal, setting.pose, Movement.ROCK, rock))


def _mirrored(setting: ClipSetting, _: Animal, __: Fault) -> ClipSetting:
    return replace(setting, recording=replace(setting.recording, is_mirrored=not setting.recording.is_mirrored))


def _short_axis(setting: ClipSetting) -> bool:
    return setting.view.startswith("right_parasternal_short_axis")


def _apical(setting: ClipSetting) -> bool:
    return setting.is_apical


_ALONG = (4.0, 7.0, 11.0, 15.0, 20.0)  # mm
_SPACE = (0.2, 0.3, 0.75, 1.0, 1.25)  # intercostal spaces: within the space, then in the next; no hand stays on a rib
_TURN = (7.0, 12.0, 18.0, 25.0, 34.0)  # degrees
_TILT = (4.0, 7.0, 10.0, 14.0, 19.0)
_ROCK = (6.0, 10.0, 15.0, 20.0, 26.0)
_LEVEL = (0.07, 0.12, 0.18, 0.25, 0.34)  # of the ventricle's length: the levels of the sweep lie about 0.15 apart
_PLACE_WHY = "see the head of the file: grade 1 below the 5 mm that a mentor would mention, grade 3 above one full step"
_TURN_WHY = "see the head of the file: a clear fault of rotation is more than 10°"
_TILT_WHY = "see the head of the file: a clear fault of tilt is more than 6°; 4° already moved LA:Ao in the model"


def _kind(  # the shape that all simple movements share
    key: str, title: str, knob: str, unit: str, steps: tuple[float, ...], sign: int, movement: Movement, why: str
) -> FaultKind:
    a, b, c, d, e = (sign * step for step in steps)
    return FaultKind(
        key=key, title=title, group=FaultGroup.POSE, knob=knob, unit=unit, steps=(a, b, c, d, e), change=_by(movement),
        why=why, grows_with_body=unit == "mm",
    )  # fmt: skip


POSE_FAULTS = (
    _kind("slide_dorsal", "probe too far dorsal", "place", "mm", _ALONG, +1, Movement.SLIDE, _PLACE_WHY),
    _kind("slide_ventral", "probe too far ventral", "place", "mm", _ALONG, -1, Movement.SLIDE, _PLACE_WHY),
    _kind("space_cranial", "probe in a space too cranial", "place", "spaces", _SPACE, +1, Movement.SPACE, _PLACE_WHY),
    _kind("space_caudal", "probe in a space too caudal", "place", "spaces", _SPACE, -1, Movement.SPACE, _PLACE_WHY),
    _kind("rotate_clockwise", "probe turned too far clockwise", "turn", "deg", _TURN, +1, Movement.ROTATE, _TURN_WHY),
    _kind("rotate_counterclockwise", "probe turned too far counter-clockwise", "turn", "deg", _TURN, -1,
          Movement.ROTATE, _TURN_WHY),
    _kind("tilt_plus", "beam tilted towards the viewer's side of the plane", "tilt", "deg", _TILT, +1, Movement.TILT,
          _TILT_WHY),
    _kind("tilt_minus", "beam tilted away from the viewer's side of the plane", "tilt", "deg", _TILT, -1,
          Movement.TILT, _TILT_WHY),
    _kind("rock_plus", "beam rocked towards the marker", "rock", "deg", _ROCK, +1, Movement.ROCK,
          "15° of septal slope is the house limit in the long axis"),
    _kind("rock_minus", "beam rocked away from the marker", "rock", "deg", _ROCK, -1, Movement.ROCK,
          "15° of septal slope is the house limit in the long axis"),
    FaultKind(
        key="frozen_slide_dorsal", title="probe slid dorsal with the handle held still", group=FaultGroup.POSE,
        knob="place", unit="mm", steps=_ALONG, change=_frozen, why=_PLACE_WHY, grows_with_body=True,
    ),
    FaultKind(
        key="frozen_slide_ventral", title="probe slid ventral with the handle held still", group=FaultGroup.POSE,
        knob="place", unit="mm", steps=(-4.0, -7.0, -11.0, -15.0, -20.0), change=_frozen, why=_PLACE_WHY,
        grows_with_body=True,
    ),
    FaultKind(
        key="level_towards_apex", title="short axis too near the apex", group=FaultGroup.POSE, knob="tilt", unit="1",
        steps=_LEVEL, change=_level(False), fits=_short_axis,
        why="share of the ventricle's length, apex to mitral plane; engineering judgement",
    ),
    FaultKind(
        key="level_towards_base", title="short axis too near the base", group=FaultGroup.POSE, knob="tilt", unit="1",
        steps=_LEVEL, change=_level(True), fits=_short_axis,
        why="share of the ventricle's length, apex to mitral plane; engineering judgement",
    ),
    FaultKind(
        key="foreshortened", title="apical view from a place off the apex", group=FaultGroup.POSE, knob="place",
        unit="spaces", steps=(0.3, 0.8, 1.1, 1.3, 1.7), change=_foreshortened, fits=_apical,
        why="never on a rib. Of the cavity's length the plane shows about 0.99, 0.91, 0.84, 0.80, 0.73 (measured on "
        "the model, a dog of 12 kg): at grade 3 more is lost than measurements scatter",
    ),
    FaultKind(
        key="off_centre", title="target beside the middle of the picture", group=FaultGroup.POSE, knob="rock",
        unit="1", steps=(0.3, 0.42, 0.54, 0.66, 0.8), change=_off_centre, draw=either_sign,
        why="share of the half width: 0.25 is still in the middle, 0.4 no more (house setting)",
    ),
    FaultKind(
        key="mirrored", title="picture mirrored", group=FaultGroup.POSE, knob="mirror", unit="1",
        steps=(1, 1, 1, 1, 1), change=_mirrored, why="a screen is flipped or not: all grades are the same",
    ),
)  # fmt: skip
