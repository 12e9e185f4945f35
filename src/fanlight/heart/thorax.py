"""The chest round the heart: wall, ribs, sternum, lung, fat, diaphragm and liver, for one moment of the breath."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import product
from typing import Any

import array_api_compat
import numpy as np
from numpy.typing import NDArray

from fanlight.heart.anatomy import Anatomy
from fanlight.heart.body_wall import BodyWall, wall_depth_mm
from fanlight.heart.cardiac_notch import draw_notches
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.diaphragm import Diaphragm, before_diaphragm_mm, behind_top_mm
from fanlight.heart.kinds import Chest
from fanlight.heart.landmarks import axes, landmarks
from fanlight.heart.lung import Notch, outside_notches_at, outside_notches_mm
from fanlight.heart.pose import Vector
from fanlight.heart.ribs import JOINT_BELOW_CENTRE, Ribs, bone_masks
from fanlight.heart.sample_heart import sample_heart
from fanlight.heart.sampled import Sampled
from fanlight.heart.thorax_fit import Fitted, exits_mm, fit_wall
from fanlight.heart.tissue import Tissue
from fanlight.heart.windows import Window, nearest_contact_mm
from fanlight.study import Landmark
from fanlight.study.patient import Species

Array = Any  # an array of the array API standard

REST = CycleState(
    time_ms=0.0,
    beat=0,
    phase=0.0,
    contraction=0.0,
    right_contraction=0.0,
    base_descent=0.0,
    atrial_filling=0.0,
    mitral_opening=0.0,
    tricuspid_opening=0.0,
    aortic_opening=0.0,
    pulmonic_opening=0.0,
    breath=0.0,
)  # end-diastole, end of expiration: where frames, landmarks and windows are defined

# Inner half-width and half-depth at the heart, and egg shape, for 10 kg in mm; the fit to the heart starts here.
# Engineering judgement: depth to width 1.6, 1.3 and 1.0; ribs of a deep chest converge most towards the sternum.
SECTIONS = {Chest.DEEP: (48.0, 76.0, 0.30), Chest.AVERAGE: (53.0, 69.0, 0.26), Chest.BARREL: (59.0, 60.0, 0.20)}
START_Y_MM, START_Z_MM = -7.0, 30.0  # of the middle of the chest seen from the heart: it lies left and low. Same basis
NARROWING_PER_MM = 0.0035  # at 10 kg: the third rib frames 0.8 of what the seventh does. Engineering judgement
WALL_MM = {Species.DOG: 7.5, Species.CAT: 6.0}  # at 10 kg: lean animal, hair clipped. Engineering judgement
PITCH_MM = 15.5  # at 10 kg: the heart then spans about 3 to 4 spaces, as on radiographs. Engineering judgement
SIZE_SD, WALL_SD, RIB_PLACE_SPREAD = 0.04, 0.12, 0.25  # individual variation; ribs by a share of their pitch
DIAPHRAGM_CLEAR_MM = 2.0  # at 10 kg: the heart lies on the dome with a little fat between. Engineering judgement
DIAPHRAGM_CURVE_Z_MM, DIAPHRAGM_MM, DIAPHRAGM_TRAVEL_MM = 130.0, 2.5, 10.0
# Domes to choose from, at 10 kg: top left of the median plane, above the heart's origin, curvature across. The heart
# makes a bed in the soft dome, so the one that fits best is taken. Engineering judgement.
DOME_LEFT_MM, DOME_UP_MM, DOME_CURVES_Y_MM = (-12.0, 0.0, 12.0, 24.0), (-50.0, -40.0, -20.0, 0.0), (48.0, 75.0)
MEDIASTINUM_BELOW = 0.5  # of the half-depth under the middle of the chest: above lie vessels and gullet, not modelled
MEDIASTINUM_MM = 2.5  # at 10 kg, half-thickness of the fat between the lungs below the heart's middle
HEART_SHIFT_MM = (-5.0, 0.0, -1.5)  # at 10 kg, over a quiet breath in: the diaphragm draws the heart backwards
MORE_SHIFT = 0.3  # of that shift, which the deepest breath adds: then the sac's ligaments hold. Engineering judgement
LUNG_SLIDE_MM = (-8.0, 0.0, -8.0)  # at 10 kg: the lung's own texture, over a quiet breath in


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Thorax:
    """A chest laid round one heart. Sizes in mm of the patient frame, at the end of expiration."""

    wall: BodyWall
    ribs: Ribs
    notches: tuple[Notch, ...]
    diaphragm: Diaphragm
    gaps_mm: tuple[float, float, float]  # heart to inner wall at the right, left apical and left cranial window

    @property
    def scale_ratio(self) -> float:
        """Cube root of weight over 10 kg."""
        return self.wall.scale_ratio


def draw_thorax(
    *, species: Species, weight_kg: float, chest: Chest, anatomy: Anatomy, rng: np.random.Generator
) -> Thorax:
    """Return a chest of this kind and size, laid round this heart.

    Parameters
    ----------
    species : Species
        Dog or cat.
    weight_kg : float
        Body weight; lengths grow with its cube root.
    chest : Chest
        Deep, average or barrel-shaped.
    anatomy : Anatomy
        The heart that the chest must hold; a dilated one pushes the wall out.
    rng : numpy.random.Generator
        Source of individual variation.
    """
    k = (weight_kg / 10.0) ** (1.0 / 3.0)
    width, depth, egg = SECTIONS[chest]
    size = np.exp(rng.normal(0.0, SIZE_SD, 2))
    start = BodyWall(
        centre_y_mm=START_Y_MM * k,
        centre_z_mm=START_Z_MM * k,
        half_width_mm=float(width * k * size[0]),
        half_depth_mm=float(depth * k * size[1]),
        egg_ratio=egg,
        narrowing_per_mm=NARROWING_PER_MM / k,
        thickness_mm=float(WALL_MM[species] * k * np.exp(rng.normal(0.0, WALL_SD))),
        scale_ratio=k,
    )
    points, directions = landmarks(anatomy, REST), axes(anatomy, REST)

    def tissue_at(at: NDArray[np.float64]) -> NDArray[np.uint8]:
        x, y, z = (np.ascontiguousarray(at[..., axis], dtype=np.float32) for axis in range(3))
        return np.asarray(sample_heart(anatomy, REST, x, y, z).tissue)

    fitted = fit_wall(start, tissue_at, points, directions)
    wall = fitted.wall
    ribs = Ribs(
        x_at_space_4_mm=float(rng.uniform(-RIB_PLACE_SPREAD, RIB_PLACE_SPREAD) * PITCH_MM * k),
        pitch_mm=PITCH_MM * k,
        joint_z_mm=wall.centre_z_mm - JOINT_BELOW_CENTRE * wall.half_depth_mm,
        scale_ratio=k,
    )
    contacts = {window: nearest_contact_mm(wall, ribs, window, points, directions) for window in Window}
    valve = points[Landmark.AORTIC_CENTRE]
    seen = exits_mm(tissue_at, valve[None], (contacts[Window.SUBCOSTAL] - valve)[None], k)[0]
    return Thorax(
        wall=wall,
        ribs=ribs,
        notches=draw_notches(wall, ribs, contacts, points, directions),
        diaphragm=_diaphragm(fitted, seen, k),
        gaps_mm=fitted.gaps_mm,
    )


def _diaphragm(fitted: Fitted, seen_mm: Vector, k: float) -> Diaphragm:
    """Return the dome that the heart rests on: of the domes free of the heart, the one closest to it where it is seen.

    Parameters
    ----------
    fitted : Fitted
        Wall and outline of the heart.
    seen_mm : ndarray of shape (3,)
        Where the subcostal beam enters the heart.
    k : float
        Cube root of weight over 10 kg.
    """
    x, y, z = fitted.surface_mm.T
    best, least = None, np.inf
    for across, up, curve in product(DOME_LEFT_MM, DOME_UP_MM, DOME_CURVES_Y_MM):
        dome = Diaphragm(
            top_x_mm=0.0,
            centre_y_mm=fitted.wall.centre_y_mm + across * k,
            centre_z_mm=up * k,
            curve_y_mm=curve * k,
            curve_z_mm=DIAPHRAGM_CURVE_Z_MM * k,
            thickness_mm=DIAPHRAGM_MM * k,
            travel_mm=DIAPHRAGM_TRAVEL_MM * k,
        )
        free = float(np.min(x + behind_top_mm(dome, y, z))) - DIAPHRAGM_CLEAR_MM * k
        dome = replace(dome, top_x_mm=free)
        gap = float(before_diaphragm_mm(dome, 0.0, *(np.asarray(v) for v in seen_mm)))
        if gap < least:
            best, least = dome, gap
    if best is None:
        raise ValueError("the outline of the heart has a point that is not a number; the anatomy is broken")
    return best


def heart_shift_mm(thorax: Thorax, breath: float) -> Vector:
    """Return how far (3,) the breath has moved the heart, mm: backwards and a little down on breathing in."""
    share = breath if breath <= 1.0 else 1.0 + MORE_SHIFT * float(np.tanh((breath - 1.0) / MORE_SHIFT))
    return np.asarray(HEART_SHIFT_MM) * thorax.scale_ratio * share


def sample_thorax(thorax: Thorax, breath: float, x: Array, y: Array, z: Array) -> Sampled:
    """Return tissue, distance to its border and the tissue's own coordinates of the chest without the heart.

    Parameters
    ----------
    thorax : Thorax
        The chest.
    breath : float
        0 end of expiration, 1 end of a quiet breath in, above 1 a deeper one.
    x, y, z : array
        Points of the patient frame, mm, same shape. Any array library of the array API standard.

    Returns
    -------
    Sampled
        Of the shape of the points; tissue OUTSIDE beyond the skin.
    """
    xp = array_api_compat.array_namespace(x, y, z)
    wall, k = thorax.wall, thorax.scale_ratio
    deep = wall_depth_mm(wall, x, y, z)
    before = before_diaphragm_mm(thorax.diaphragm, breath, x, y, z)
    off_fat = xp.minimum(outside_notches_mm(thorax.notches, breath, x, y, z), _off_middle_mm(thorax, y, z, xp))
    solid, rib_edge = _solid(thorax, x, y, z, deep, xp)
    tissue = xp.where(deep < 0.0, solid, _in_chest(thorax, before, off_fat, xp))

    inside = xp.minimum(deep, xp.minimum(xp.abs(before), xp.abs(off_fat)))
    in_wall = xp.minimum(-deep, xp.minimum(deep + wall.thickness_mm, xp.abs(rib_edge)))
    edge = xp.abs(xp.where(deep > 0.0, inside, in_wall))
    moves = xp.astype((tissue == int(Tissue.LUNG)), x.dtype) * breath * k
    sinks = xp.astype(((tissue == int(Tissue.LIVER)) | (tissue == int(Tissue.DIAPHRAGM))), x.dtype) * breath
    material = (
        x - moves * LUNG_SLIDE_MM[0] + sinks * thorax.diaphragm.travel_mm,
        y - moves * LUNG_SLIDE_MM[1],
        z - moves * LUNG_SLIDE_MM[2],
    )
    return Sampled(tissue=tissue, edge_mm=edge, material_mm=material)


def chest_labels(thorax: Thorax, breaths: Sequence[float], x: Array, y: Array, z: Array) -> NDArray[np.uint8]:
    """Return the tissue of `sample_thorax` (m, n) at m moments of the breath side by side, NumPy points (n,)."""
    deep = wall_depth_mm(thorax.wall, x, y, z)
    solid, _ = _solid(thorax, x, y, z, deep, np)
    out = np.repeat(solid[None], len(breaths), axis=0)
    inner = np.flatnonzero(~(deep < 0.0))  # the breath changes nothing in the wall
    x, y, z = x[inner], y[inner], z[inner]
    dome = thorax.diaphragm
    tops = np.asarray([dome.top_x_mm - breath * dome.travel_mm for breath in breaths], np.float32)
    before = x - tops[:, None] + behind_top_mm(dome, y, z)
    off_fat = np.minimum(outside_notches_at(thorax.notches, breaths, x, y, z), _off_middle_mm(thorax, y, z, np))
    out[:, inner] = _in_chest(thorax, before, off_fat, np)
    return out


def _off_middle_mm(thorax: Thorax, y: Array, z: Array, xp: Any) -> Array:
    """Return how far beside the fat between the lungs points lie, mm."""
    wall = thorax.wall
    off_middle = xp.abs(y - wall.centre_y_mm) - MEDIASTINUM_MM * thorax.scale_ratio
    low = wall.centre_z_mm - MEDIASTINUM_BELOW * wall.half_depth_mm - z  # positive beside the heart and below
    return xp.maximum(off_middle, -low)


def _in_chest(thorax: Thorax, before_mm: Array, off_fat_mm: Array, xp: Any) -> Array:
    """Return what lies within the wall: in front of the dome, and outside the fat, lung."""
    label = partial(_label, xp=xp, like=off_fat_mm)
    cavity = xp.where(off_fat_mm > 0.0, label(Tissue.LUNG), label(Tissue.FAT))
    behind = xp.where(before_mm > -thorax.diaphragm.thickness_mm, label(Tissue.DIAPHRAGM), label(Tissue.LIVER))
    return xp.where(before_mm > 0.0, cavity, behind)


def _solid(thorax: Thorax, x: Array, y: Array, z: Array, deep_mm: Array, xp: Any) -> tuple[Array, Array]:
    """Return what the wall is made of and what lies beyond the skin; and the distance to the border of a rib."""
    label = partial(_label, xp=xp, like=x)
    rib, cartilage, sternum, rib_edge = bone_masks(thorax.wall, thorax.ribs, x, y, z, deep_mm)
    solid = xp.where(rib, label(Tissue.RIB), label(Tissue.CHEST_WALL))
    solid = xp.where(cartilage, label(Tissue.CARTILAGE), solid)
    solid = xp.where(sternum, label(Tissue.STERNUM), solid)
    return xp.where(deep_mm < -thorax.wall.thickness_mm, label(Tissue.OUTSIDE), solid), rib_edge


def _label(value: Tissue, *, xp: Any, like: Array) -> Array:
    return xp.asarray(int(value), dtype=xp.uint8, device=array_api_compat.device(like))
