"""Animals of ring A that the pose fit learns from: where landmarks and standard planes lie in each heart's own frame.

Lengths are in units of the heart (inner diameter of its healthy left ventricle). Heart axes scatter more than in the
main generator: breeds differ by tens of degrees (common practice, no source), and the fit must not take that for a
movement of the hand.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.anatomy import draw_anatomy
from fanlight.heart.animal import Animal, animal_landmarks
from fanlight.heart.cycle import RESTING, Still, still
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.heart_frame import heart_frame
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.heart.movements import met_point_mm
from fanlight.heart.pose import Pose
from fanlight.heart.rhythm import draw_rhythm
from fanlight.heart.skin import place_of, points_at
from fanlight.heart.standard_poses import STANDARD_VIEWS, standard_pose
from fanlight.heart.thorax import draw_thorax
from fanlight.study import Landmark, Species

Floats = NDArray[np.float64]
# Engineering judgement, after what the main generator draws for the shape of a chest and after "tens of degrees".
_UPRIGHT_DEG = {Chest.DEEP: 7.0, Chest.AVERAGE: 0.0, Chest.BARREL: -6.0}
_AXIS_SD_DEG, _AXIS_LIMIT_DEG = 8.0, 16.0
# Steps over which tangent and bend of the skin are taken: about a clear fault.
_ANGLE_STEP_DEG, _SPACE_STEP = 8.0, 0.75
MOMENTS: tuple[CycleState, CycleState] = (RESTING, still(Still.END_SYSTOLE))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AnimalSample:
    """One animal. V views, L landmarks; lengths in units, in the frame of the heart (long, front, depth)."""

    unit_mm: float
    weight_kg: float
    is_cat: bool
    shape: Floats  # (2, L, 3): end-diastole, end-systole
    origins: Floats  # (V, 3)
    axes: Floats  # (V, 3, 3), columns are the probe's x, y and z
    aims: Floats  # (V,), depth of the point of the heart that the beam meets
    slides: Floats  # (V, 2, 3), tangent and half the bend of a slide, in the probe's frame; per unit and per unit²
    spaces: Floats  # (V, 2, 3), the same for a step over a rib; per space and per space²
    sizes: Floats  # (3,): left ventricle's diameter, atrium over aorta as a ratio, free wall


def wide_animal(seed: int) -> Animal:
    """Return the animal of a seed: every fourth a cat, classes and chests in turn, its heart axis far from the mean."""
    rng = np.random.default_rng([seed, 23])
    is_cat = seed % 4 == 3
    species = Species.CAT if is_cat else Species.DOG
    weight_kg = float(rng.uniform(2.5, 7.0) if is_cat else np.exp(rng.uniform(np.log(2.5), np.log(60.0))))
    heart, chest = tuple(HeartClass)[seed % len(HeartClass)], tuple(Chest)[seed % len(Chest)]
    for_heart, for_chest, for_rhythm = rng.spawn(3)
    anatomy = draw_anatomy(species=species, weight_kg=weight_kg, heart=heart, chest=chest, rng=for_heart)
    turns = np.clip(rng.normal(0.0, _AXIS_SD_DEG, 3), -_AXIS_LIMIT_DEG, _AXIS_LIMIT_DEG)
    anatomy = replace(
        anatomy,
        frame=heart_frame(
            upright_deg=_UPRIGHT_DEG[chest] + float(turns[0]), sideways_deg=float(turns[1]), roll_deg=float(turns[2])
        ),
    )
    return Animal(
        species=species,
        weight_kg=weight_kg,
        heart=heart,
        chest=chest,
        anatomy=anatomy,
        thorax=draw_thorax(species=species, weight_kg=weight_kg, chest=chest, anatomy=anatomy, rng=for_chest),
        rhythm=draw_rhythm(species=species, weight_kg=weight_kg, rng=for_rhythm, arrhythmia="sinus"),
    )


def heart_axes(animal: Animal) -> Floats:
    """Return the heart's axes (3, 3) as columns in the patient frame: long, front, depth."""
    frame = animal.anatomy.frame
    return np.column_stack([frame.long, frame.front, frame.depth])


def sample_animal(animal: Animal) -> AnimalSample:
    """Return what the fit learns from one animal."""
    sizes, frame = animal.anatomy.sizes, heart_axes(animal)
    unit = sizes.unit_mm
    shape = np.stack(
        [np.stack([animal_landmarks(animal, state)[name] for name in Landmark]) @ frame / unit for state in MOMENTS]
    )
    poses = [standard_pose(animal, view) for view in STANDARD_VIEWS]
    ways = [_ways(animal, pose) for pose in poses]
    return AnimalSample(
        unit_mm=unit,
        weight_kg=animal.weight_kg,
        is_cat=animal.species is Species.CAT,
        sizes=np.array([sizes.lv_diameter_mm / unit, sizes.la_ao_ratio, sizes.free_wall_mm / unit]),
        shape=shape,
        origins=np.stack([pose.origin_mm @ frame / unit for pose in poses]),
        axes=np.stack([frame.T @ pose.axes for pose in poses]),
        aims=np.array([np.linalg.norm(met_point_mm(animal, pose) - pose.origin_mm) / unit for pose in poses]),
        slides=np.stack([slide for slide, _ in ways]),
        spaces=np.stack([space for _, space in ways]),
    )


def _ways(animal: Animal, pose: Pose) -> tuple[Floats, Floats]:
    """Return tangent and half bend (2, 3) of a slide within the space and of steps over ribs, in the probe's frame."""
    wall, ribs, unit = animal.thorax.wall, animal.thorax.ribs, animal.anatomy.sizes.unit_mm
    here = place_of(wall, ribs, pose.origin_mm)
    dorsal = _ANGLE_STEP_DEG if here.angle_deg >= 0 else -_ANGLE_STEP_DEG
    spaces = here.space + np.array([0.0, 0.0, -_SPACE_STEP, _SPACE_STEP])  # towards the head first
    angles = here.angle_deg + np.array([dorsal, -dorsal, 0.0, 0.0])
    moved = (points_at(wall, ribs, spaces, angles, np.asarray(here.depth_mm)) - pose.origin_mm) @ pose.axes / unit
    ahead, back = float(np.linalg.norm(moved[0])), float(np.linalg.norm(moved[1]))
    return _parabola(moved[0], moved[1], ahead, back), _parabola(moved[2], moved[3], _SPACE_STEP, _SPACE_STEP)


def _parabola(ahead: Floats, back: Floats, way_ahead: float, way_back: float) -> Floats:
    """Return a and b (2, 3) of the curve a s + b s² through two points at ways s and -s from the origin."""
    rows = np.array([[way_ahead, way_ahead**2], [-way_back, way_back**2]])
    return np.asarray(np.linalg.solve(rows, np.stack([ahead, back])))
