"""Faults of the M-mode: where its cursor lies, and how fast its paper runs."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal, animal_axes, animal_landmarks, sample
from fanlight.heart.axis import Axis
from fanlight.heart.cycle import RESTING
from fanlight.heart.movements import Movement, moved, set_down
from fanlight.heart.pose import Pose, Vector
from fanlight.heart.skin import SkinPlace, place_of, points_at
from fanlight.heart.tissue import Tissue
from fanlight.heart.windows import OFF_MIDDLE
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.faults.fault import Fault, FaultGroup, FaultKind, either_sign
from fanlight.simulate.steady.beam_through import beam_through_deg
from fanlight.study import Landmark, Mode

# Engineering judgement: the other side of the window is as bad as a beam this much aside, degrees.
COST_OF_OTHER_SIDE, MOST_MISS_DEG = 40.0, 1.5
STEPS_TO_AIM = 40  # of some 1.3 mm in an animal of 10 kg: lung over the heart is a sheet of a mm or two


def _is_m_mode(setting: ClipSetting) -> bool:
    return setting.mode is Mode.M_MODE


def _through_ventricle(setting: ClipSetting) -> bool:
    return _is_m_mode(setting) and setting.view.startswith("right_parasternal")


def _kept_inside(setting: ClipSetting, deg: float) -> float:
    half = min(setting.console.width_deg, setting.probe.widest_deg) / 2
    return float(np.clip(deg, setting.console.steer_deg - 0.95 * half, setting.console.steer_deg + 0.95 * half))


def _off_centre(setting: ClipSetting, animal: Animal, fault: Fault) -> ClipSetting:
    centre = animal_landmarks(animal, RESTING)[Landmark.LV_CENTRE]
    depth = float(setting.pose.to_probe(centre)[2]) + setting.probe.radius_mm
    turn = math.degrees(math.atan2(fault.amount * fault.parameter("sign"), depth))
    return replace(setting, cursor_deg=_kept_inside(setting, setting.cursor_deg + turn))


def _oblique(setting: ClipSetting, animal: Animal, fault: Fault) -> ClipSetting:
    """Look at the centre from nearer the apex or the base: the cursor meets the walls at a slant.

    A slide round the short axis would not do: the walls of a round ventricle are square to every line through its
    centre.
    """
    centre = animal_landmarks(animal, RESTING)[Landmark.LV_CENTRE]
    pose = _from_along_the_axis(animal, setting.pose, centre, fault.amount * fault.parameter("sign"))
    return replace(
        setting, pose=pose, cursor_deg=_kept_inside(setting, beam_through_deg(pose, setting.probe.radius_mm, centre))
    )


def _from_along_the_axis(animal: Animal, pose: Pose, aim_mm: Vector, slant_deg: float) -> Pose:
    """Return the pose aimed at a point from where the beam slants this much to the ventricle's short axis.

    Of the places between ribs that give this slant, the nearest whose beam meets no lung all through a quiet breath
    or, where there is none, at the end of expiration. Positive from the side of the base, which is left for the other
    only where no place of it is free.
    """
    to_base = animal_axes(animal, RESTING)[Axis.LV_LONG]
    wall, ribs = animal.thorax.wall, animal.thorax.ribs
    here = place_of(wall, ribs, pose.origin_mm)
    middle = math.floor(here.space) + 0.5
    spaces = middle + np.add.outer(np.arange(-2, 3), OFF_MIDDLE).ravel()
    angles = here.angle_deg + np.arange(-45.0, 46.0)
    angles = angles[(angles * here.angle_deg > 0) & (np.abs(angles) < 120)]
    space, angle = (grid.ravel() for grid in np.meshgrid(spaces, angles, indexing="ij"))
    points = points_at(wall, ribs, space, angle, np.asarray(here.depth_mm))
    beams = aim_mm - points
    beams /= np.linalg.norm(beams, axis=-1, keepdims=True)
    slant = -np.degrees(np.arcsin(beams @ to_base))
    across = np.cross(to_base, aim_mm - pose.origin_mm)
    aside = np.degrees(np.arcsin(beams @ (across / np.linalg.norm(across))))
    miss = np.abs(np.abs(slant) - abs(slant_deg))
    cost = np.abs(aside) + 5.0 * miss + COST_OF_OTHER_SIDE * (slant * slant_deg < 0)
    cost[miss >= MOST_MISS_DEG] = np.inf
    order = np.argsort(cost)[: np.count_nonzero(miss < MOST_MISS_DEG)]
    for breath in (1.0, 0.0):
        clear = order[~_meet_lung(animal, points[order], aim_mm, breath)]
        if clear.size:
            there = SkinPlace(space=float(space[clear[0]]), angle_deg=float(angle[clear[0]]), depth_mm=here.depth_mm)
            return _plane_through(animal, set_down(animal, pose, there, aim_mm), aim_mm)
    raise ValueError(f"no place from which lung leaves the way to the ventricle free at a slant of {slant_deg:.0f}°")


def _plane_through(animal: Animal, pose: Pose, aim_mm: Vector) -> Pose:
    _, off, depth = pose.to_probe(aim_mm)
    return moved(animal, pose, Movement.TILT, math.degrees(math.atan2(float(off), float(depth))))


def _meet_lung(animal: Animal, starts_mm: Vector, end_mm: Vector, breath: float) -> NDArray[np.bool_]:
    """Return for each start (n, 3) whether lung or bone lies on the way to a point."""
    way = np.linspace(0, 1, STEPS_TO_AIM)[:, None]
    at = (starts_mm[:, None] + way * (end_mm - starts_mm)[:, None]).reshape(-1, 3).astype(np.float32)
    tissue = np.asarray(sample(animal, replace(RESTING, breath=breath), at[:, 0], at[:, 1], at[:, 2]).tissue)
    return np.asarray(np.isin(tissue.reshape(-1, STEPS_TO_AIM), [int(Tissue.LUNG), int(Tissue.RIB)]).any(axis=1))


def _papillary(setting: ClipSetting, animal: Animal, fault: Fault) -> ClipSetting:
    """Turn the cursor from the centre of the ventricle towards a papillary muscle, and the plane with it."""
    places = animal_landmarks(animal, RESTING)
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


def _which_muscle(rng: np.random.Generator) -> dict[str, float]:
    return {"cranial": float(rng.choice((-1.0, 1.0)))}


M_MODE_FAULTS = (
    FaultKind(
        key="cursor_off_centre", title="M-mode cursor beside the middle of the ventricle", group=FaultGroup.M_MODE,
        knob="cursor", unit="mm", steps=(3, 5, 7, 9, 11), change=_off_centre, draw=either_sign, fits=_through_ventricle,
        grows_with_body=True,
        why="of a ventricle about 30 mm wide at 10 kg: the chord shortens to 0.98, 0.94, 0.88, 0.8, 0.68 of the "
        "diameter (geometry of a circle)",
    ),
    FaultKind(
        key="cursor_oblique", title="M-mode cursor not square to the walls", group=FaultGroup.M_MODE, knob="cursor",
        unit="deg", steps=(9, 14, 19, 24, 30), change=_oblique, draw=either_sign, fits=_through_ventricle,
        why="distances grow by 1/cos: 1.2, 3, 6, 9, 15 % (geometry); 15° is the house limit",
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
