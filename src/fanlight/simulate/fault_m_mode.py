"""Faults of the M-mode: where its cursor lies, and how fast its paper runs."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from fanlight.heart.animal import Animal, animal_landmarks
from fanlight.heart.cycle import Still, still
from fanlight.heart.landmark import Landmark
from fanlight.heart.movements import Movement, moved
from fanlight.heart.pose import Pose, Vector
from fanlight.simulate.clip_setting import ClipSetting
from fanlight.simulate.fault import Fault, FaultGroup, FaultKind
from fanlight.study import Mode

_END_DIASTOLE = still(Still.END_DIASTOLE)


def _is_m_mode(setting: ClipSetting) -> bool:
    return setting.mode is Mode.M_MODE


def _through_ventricle(setting: ClipSetting) -> bool:
    return _is_m_mode(setting) and setting.view.startswith("right_parasternal")


def beam_through_deg(pose: Pose, apex_mm: float, point_mm: Vector) -> float:
    """Return the beam, at the apex of the picture, that runs through the projection of a point onto its plane."""
    across, _, depth = pose.to_probe(point_mm)
    return math.degrees(math.atan2(float(across), float(depth) + apex_mm))


def _kept_inside(setting: ClipSetting, deg: float) -> float:
    half = min(setting.console.width_deg, setting.probe.widest_deg) / 2
    return float(np.clip(deg, setting.console.steer_deg - 0.95 * half, setting.console.steer_deg + 0.95 * half))


def _off_centre(setting: ClipSetting, animal: Animal, fault: Fault) -> ClipSetting:
    centre = animal_landmarks(animal, _END_DIASTOLE)[Landmark.LV_CENTRE]
    depth = float(setting.pose.to_probe(centre)[2]) + setting.probe.radius_mm
    turn = math.degrees(math.atan2(fault.amount * fault.parameter("sign"), depth))
    return replace(setting, cursor_deg=_kept_inside(setting, setting.cursor_deg + turn))


def _oblique(setting: ClipSetting, animal: Animal, fault: Fault) -> ClipSetting:
    """Slide along the space and keep the cursor on the centre: it meets the walls at a slant."""
    centre = animal_landmarks(animal, _END_DIASTOLE)[Landmark.LV_CENTRE]
    depth = float(np.linalg.norm(centre - setting.pose.origin_mm))
    way = depth * math.tan(math.radians(fault.amount)) * fault.parameter("sign")
    pose = moved(animal, setting.pose, Movement.SLIDE, way, aim_mm=centre)
    return replace(
        setting, pose=pose, cursor_deg=_kept_inside(setting, beam_through_deg(pose, setting.probe.radius_mm, centre))
    )


def _papillary(setting: ClipSetting, animal: Animal, fault: Fault) -> ClipSetting:
    """Turn the cursor from the centre of the ventricle towards a papillary muscle, and the plane with it."""
    places = animal_landmarks(animal, _END_DIASTOLE)
    cranial = fault.parameter("cranial") > 0
    tip = places[Landmark.PAPILLARY_CRANIAL_TIP if cranial else Landmark.PAPILLARY_CAUDAL_TIP]
    base = places[Landmark.PAPILLARY_CRANIAL_BASE if cranial else Landmark.PAPILLARY_CAUDAL_BASE]
    aim = (tip + base) / 2
    # Out of the plane first: the muscle lies towards the apex, the beam is tilted until the plane meets it.
    _, off, depth = setting.pose.to_probe(aim)
    tilt = fault.amount * math.degrees(math.atan2(float(off), float(depth)))
    pose = moved(animal, setting.pose, Movement.TILT, tilt)
    to_muscle = beam_through_deg(pose, setting.probe.radius_mm, aim)
    deg = setting.cursor_deg + fault.amount * (to_muscle - setting.cursor_deg)
    return replace(setting, pose=pose, cursor_deg=_kept_inside(setting, deg))


def _sweep(setting: ClipSetting, _: Animal, fault: Fault) -> ClipSetting:
    recording = setting.recording
    return replace(setting, recording=replace(recording, sweep_mm_s=min(recording.sweep_mm_s, fault.amount)))


def _sign(rng: np.random.Generator) -> dict[str, float]:
    return {"sign": float(rng.choice((-1.0, 1.0)))}


def _which_muscle(rng: np.random.Generator) -> dict[str, float]:
    return {"cranial": float(rng.choice((-1.0, 1.0)))}


M_MODE_FAULTS = (
    FaultKind(
        key="cursor_off_centre", title="M-mode cursor beside the middle of the ventricle", group=FaultGroup.M_MODE,
        knob="cursor", unit="mm", steps=(3, 5, 7, 9, 11), change=_off_centre, draw=_sign, fits=_through_ventricle,
        grows_with_body=True,
        why="of a ventricle about 30 mm wide at 10 kg: the chord shortens to 0.98, 0.94, 0.88, 0.8, 0.68 of the "
        "diameter (geometry of a circle)",
    ),
    FaultKind(
        key="cursor_oblique", title="M-mode cursor not square to the walls", group=FaultGroup.M_MODE, knob="cursor",
        unit="deg", steps=(10, 16, 22, 28, 35), change=_oblique, draw=_sign, fits=_through_ventricle,
        why="distances grow by 1/cos: 1.5, 4, 8, 13, 22 % (geometry); 15° is the house limit",
    ),
    FaultKind(
        key="cursor_through_papillary", title="M-mode cursor through a papillary muscle", group=FaultGroup.M_MODE,
        knob="cursor", unit="1", steps=(0.35, 0.5, 0.65, 0.82, 1.0), change=_papillary, draw=_which_muscle,
        fits=_through_ventricle, why="share of the way from the middle of the ventricle to the muscle's own middle",
    ),
    FaultKind(
        key="sweep_slow", title="M-mode sweep too slow", group=FaultGroup.M_MODE, knob="sweep", unit="mm/s",
        steps=(67, 50, 33, 25, 12.5), change=_sweep, fits=_is_m_mode,
        why="the trade asks for 100 mm/s, 50 for slow hearts; an RR interval below 20 mm cannot be timed (house limit)",
    ),
)  # fmt: skip
