"""Planes on which the plane criteria are measured: a steady hand's, and the same with one fault of the pose.

No picture is formed: of each plane the true landmarks at the two ends of the beat are kept, and what a slice through
the animal shows there. `measure/_plane_observed.py` makes of them what a network or a person would have marked.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal, animal_landmarks
from fanlight.heart.cycle import Still, still
from fanlight.heart.label_map import LabelMap, label_map
from fanlight.heart.tissue import Tissue
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.faults import faults
from fanlight.simulate.faults.fault_pose import POSE_FAULTS
from fanlight.simulate.machine.beams import line_geometry
from fanlight.study import Landmark, Sector
from measure._criterion_clips import VIEWS, Subject, good_setting
from training.label_sets import Structure, structure_table

MOMENTS = (Still.END_DIASTOLE, Still.END_SYSTOLE)
PX_PER_UNIT = 16  # of a slice, over the diameter of the healthy left ventricle: a mask of the network is as coarse
BLOOD_OF_LV = (Tissue.LV_CAVITY, Tissue.MITRAL_CHORDAE, Tissue.PAPILLARY_CRANIAL, Tissue.PAPILLARY_CAUDAL)
STRENGTHS = (3, 4, 5)  # a plain fault and worse


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plane:
    """One plane of one animal: what lies in it, true to the model."""

    seed: int
    ring: Ring
    view: str
    fault: str  # "" none
    strength: int
    heart: str
    species: str
    unit_mm: float  # diameter of the healthy left ventricle
    sector: Sector  # at one pixel a millimetre, apex at (0, 0)
    is_mirrored: bool
    places_mm: tuple[Mapping[Landmark, NDArray[np.float64]], ...]  # by moment: (across, off the plane, depth)
    areas: tuple[NDArray[np.float64], ...]  # by moment: share of the picture by Structure
    outlines: Mapping[str, tuple[float, float]]  # end-diastole: minor over major axis, mean radius in mm
    papillary_mm2: tuple[float, float]  # end-diastole: cranial and caudal muscle in the plane
    shown_apex_mm: tuple[float, float] | None  # (across, depth): far end of the cavity shown at end-diastole


def steady_planes(subject: Subject, views: tuple[str, ...] = VIEWS) -> Iterator[Plane]:
    """Draw the planes of a steady hand."""
    for view in views:
        yield _plane(subject, good_setting(subject, view), "", 0)


def planes_of(subject: Subject, views: tuple[str, ...] = VIEWS) -> Iterator[Plane]:
    """Draw the planes of a subject: each view by a steady hand, then once with each fault of the pose that fits."""
    animal = subject.animal
    rng = np.random.default_rng([subject.seed, 211])
    for view in views:
        good = good_setting(subject, view)
        yield _plane(subject, good, "", 0)
        for kind in POSE_FAULTS:
            strength = int(rng.choice(STRENGTHS))
            fault = faults.make(kind.key, strength, animal, rng)
            if not kind.fits(good):
                continue
            try:
                setting = faults.apply(fault, good, animal)
            except ValueError:  # the slide would leave this side of the chest: no such clip exists
                continue
            yield _plane(subject, setting, kind.key, strength)


def _plane(subject: Subject, setting: ClipSetting, fault: str, strength: int) -> Plane:
    animal, pose = subject.animal, setting.pose
    lines = line_geometry(setting.probe, setting.console)
    unit_mm = animal.anatomy.sizes.unit_mm
    slices = [_slice(animal, moment, setting, unit_mm) for moment in MOMENTS]
    places = tuple(
        {name: pose.to_probe(point) for name, point in animal_landmarks(animal, still(moment)).items()}
        for moment in MOMENTS
    )
    return Plane(
        seed=subject.seed, ring=subject.ring, view=setting.view, fault=fault, strength=strength,
        heart=animal.heart.value, species=animal.species.value, unit_mm=unit_mm,
        sector=lines.on_screen(apex_row_px=0.0, apex_col_px=0.0, mm_per_px=1.0),
        is_mirrored=setting.recording.is_mirrored, places_mm=places,
        areas=tuple(_areas(each) for each in slices), outlines=_outlines(slices[0]),
        papillary_mm2=_papillary_mm2(slices[0]),
        shown_apex_mm=_shown_apex_mm(slices[0], places[0][Landmark.MITRAL_CENTRE]),
    )  # fmt: skip


def _slice(animal: Animal, moment: Still, setting: ClipSetting, unit_mm: float) -> LabelMap:
    width = min(setting.console.width_deg, setting.probe.widest_deg)
    return label_map(
        animal, still(moment), setting.pose, depth_mm=setting.console.depth_mm, mm_per_px=unit_mm / PX_PER_UNIT,
        half_angle_deg=width / 2,
    )  # fmt: skip


def _areas(plane: LabelMap) -> NDArray[np.float64]:
    shown = structure_table()[plane.shown()]
    inside = plane.inside if plane.inside is not None else np.ones(shown.shape, np.bool_)
    counts = np.bincount(shown[inside].ravel(), minlength=len(Structure)).astype(np.float64)
    return np.asarray(counts / max(float(inside.sum()), 1.0))


def _outlines(plane: LabelMap) -> dict[str, tuple[float, float]]:
    found = {}
    for name, tissues in (("left ventricle", BLOOD_OF_LV), ("aorta", (Tissue.AORTA, Tissue.AORTIC_CUSP))):
        rows, cols = np.nonzero(np.isin(plane.shown(), [int(t) for t in tissues]))
        if len(rows) < 30:  # too few pixels for an outline
            continue
        least, most = np.sqrt(np.linalg.eigvalsh(np.cov(np.stack([rows, cols]))))
        found[name] = (float(least / most), float(np.sqrt(len(rows) / np.pi) * plane.mm_per_px))
    return found


def _papillary_mm2(plane: LabelMap) -> tuple[float, float]:
    shown = plane.shown()
    first, second = (
        float((shown == int(t)).sum()) * plane.mm_per_px**2 for t in (Tissue.PAPILLARY_CRANIAL, Tissue.PAPILLARY_CAUDAL)
    )
    return first, second


def _shown_apex_mm(plane: LabelMap, base: NDArray[np.float64]) -> tuple[float, float] | None:
    """Return the point of the ventricle's cavity in the plane that lies furthest from the mitral annulus."""
    rows, cols = np.nonzero(np.isin(plane.shown(), [int(t) for t in BLOOD_OF_LV]))
    if len(rows) < 30:
        return None
    points = plane.to_plane_mm(np.stack([rows, cols], axis=-1).astype(np.float64))
    away = np.hypot(points[:, 0] - base[2], points[:, 1] - base[0])
    depth, across = points[int(away.argmax())]
    return float(across), float(depth)
