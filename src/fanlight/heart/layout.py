"""The whole heart at one moment: every part in its place, each built from the ones that it stands on.

Lengths written as bare factors in the parts' files are in units: the inner diameter of this animal's healthy left
ventricle. They are engineering judgement, tuned on cut planes until anatomy and Doppler angles agree with what the
trade expects; sizes that are published come in through ``anatomy_sizes``.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from fanlight.heart.anatomy import Anatomy
from fanlight.heart.aorta import Aorta, aorta
from fanlight.heart.av_valve import AvValve
from fanlight.heart.base_plane import base_plane
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.heart_frame import BaseMotion
from fanlight.heart.left_atrium import LeftAtrium, left_atrium
from fanlight.heart.left_ventricle import LeftVentricle, base_motion, left_ventricle, papillary_muscles
from fanlight.heart.mitral_valve import mitral_valve
from fanlight.heart.pulmonary_artery import PulmonaryArtery, pulmonary_artery
from fanlight.heart.right_atrium import AtrialSeptum, RightAtrium, against_septum, atrial_septum, right_atrium
from fanlight.heart.right_ventricle import RightVentricle, right_ventricle
from fanlight.heart.rods import Rod


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """The heart now. Along the long axis in rest coordinates (see `motion`), across it as it is, mm."""

    unit_mm: float
    motion: BaseMotion
    lv: LeftVentricle
    papillary: tuple[Rod, Rod]  # cranial, caudal
    mitral: AvValve
    aorta: Aorta
    left_atrium: LeftAtrium
    pulmonary: PulmonaryArtery
    rv: RightVentricle
    right_atrium: RightAtrium
    septum: AtrialSeptum
    fluid_mm: float
    pericardium_mm: float


def layout(anatomy: Anatomy, state: CycleState) -> Layout:
    """Return the heart of this anatomy at this moment."""
    u = anatomy.sizes.unit_mm
    lv = left_ventricle(anatomy, state)
    base = base_plane(anatomy, lv)
    root = aorta(anatomy, state, base, lv)
    mitral = mitral_valve(anatomy, state, base, lv)
    la = left_atrium(anatomy, state, base, root, mitral)
    pulmonary = pulmonary_artery(anatomy, state, base, la)
    rv = right_ventricle(anatomy, state, base, lv, pulmonary)
    septum = atrial_septum(base, la.bulge_mm)
    ra = right_atrium(anatomy, state, base, rv.tricuspid)
    return Layout(
        unit_mm=u,
        motion=base_motion(anatomy, state),
        lv=lv,
        papillary=papillary_muscles(lv, u, state.contraction),
        mitral=mitral,
        aorta=root,
        left_atrium=replace(la, body=against_septum(la.body, septum)),
        pulmonary=pulmonary,
        rv=rv,
        right_atrium=replace(ra, body=against_septum(ra.body, septum)),
        septum=septum,
        fluid_mm=anatomy.disease.effusion_mm,
        pericardium_mm=0.026 * u + anatomy.disease.pericardium_mm,  # a sheet of 0.8 mm at 10 kg (engineering judgement)
    )
