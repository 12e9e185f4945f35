"""The whole heart at one moment: every part in its place, each built from the ones that it stands on.

Lengths written as bare factors in the parts' files are in units: the inner diameter of this animal's healthy left
ventricle. They are engineering judgement, tuned on cut planes until anatomy and Doppler angles agree with what the
trade expects; sizes that are published come in through ``anatomy_sizes``.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache, partial

from fanlight.heart.anatomy import Anatomy
from fanlight.heart.aorta import Aorta, aorta
from fanlight.heart.av_valve import AvValve
from fanlight.heart.base_plane import BasePlane, base_plane
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.heart_frame import BaseMotion
from fanlight.heart.left_atrium import LeftAtrium, left_atrium
from fanlight.heart.left_ventricle import LeftVentricle, base_motion, left_ventricle, papillary_muscles
from fanlight.heart.mitral_valve import mitral_valve
from fanlight.heart.pulmonary_artery import PulmonaryArtery, pulmonary_artery
from fanlight.heart.right_atrium import AtrialSeptum, RightAtrium, against_septum, atrial_septum, right_atrium
from fanlight.heart.right_stroke import RightSide, effort_for
from fanlight.heart.right_ventricle import RightVentricle, right_body, right_ventricle
from fanlight.heart.rods import Egg, Rod


def _end_of_filling_or_ejection(share: float) -> CycleState:
    return CycleState(
        time_ms=0.0, beat=0, phase=0.0, contraction=share, right_contraction=share, base_descent=share,
        atrial_filling=share, mitral_opening=0.0, tricuspid_opening=0.0, aortic_opening=0.0, pulmonic_opening=0.0,
        breath=0.0,
    )  # fmt: skip


_FULL, _EMPTY = _end_of_filling_or_ejection(0.0), _end_of_filling_or_ejection(1.0)


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


@dataclass(frozen=True, slots=True, kw_only=True)
class _LeftSide:
    """What is placed before the right ventricle, which rests on it."""

    lv: LeftVentricle
    base: BasePlane
    aorta: Aorta
    mitral: AvValve
    atrium: LeftAtrium
    pulmonary: PulmonaryArtery


def _left_side(anatomy: Anatomy, state: CycleState) -> _LeftSide:
    lv = left_ventricle(anatomy, state)
    base = base_plane(anatomy, lv)
    root = aorta(anatomy, state, base, lv)
    mitral = mitral_valve(anatomy, state, base, lv)
    la = left_atrium(anatomy, state, base, root, mitral)
    pulmonary = pulmonary_artery(anatomy, state, base, la)
    return _LeftSide(lv=lv, base=base, aorta=root, mitral=mitral, atrium=la, pulmonary=pulmonary)


@lru_cache(maxsize=256)  # a few milliseconds, once for each heart
def _effort(anatomy: Anatomy) -> float:
    """Return how hard this heart's right ventricle works."""
    return effort_for(
        _right_side(anatomy, _FULL), _right_side(anatomy, _EMPTY), 1.0 - anatomy.disease.regurgitant_fraction
    )


def _right_side(anatomy: Anatomy, state: CycleState) -> RightSide:
    left = _left_side(anatomy, state)
    return RightSide(
        lv=left.lv,
        root=left.pulmonary.root,
        unit_mm=anatomy.sizes.unit_mm,
        motion=base_motion(anatomy, state),
        ventricle=partial(right_ventricle, anatomy, state, left.base, left.lv, left.pulmonary),
    )


def right_body_now(anatomy: Anatomy, state: CycleState, base: BasePlane) -> Egg:
    """Return what `layout` gives as the body of the right ventricle; all the rest takes ten times as long."""
    return right_body(anatomy, state, base, _effort(anatomy))


def layout(anatomy: Anatomy, state: CycleState) -> Layout:
    """Return the heart of this anatomy at this moment."""
    u = anatomy.sizes.unit_mm
    left = _left_side(anatomy, state)
    lv, base, root, mitral, la, pulmonary = left.lv, left.base, left.aorta, left.mitral, left.atrium, left.pulmonary
    rv = right_ventricle(anatomy, state, base, lv, pulmonary, _effort(anatomy))
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
