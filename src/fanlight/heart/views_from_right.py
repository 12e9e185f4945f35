"""The rules of the views from the right: through which places of the heart each plane runs.

Lengths in mm at 10 kg grow with the animal. The levels of the short axis are told apart by the parts of the valve.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fanlight.heart.axis import Axis
from fanlight.heart.cycle import Still
from fanlight.heart.heart_at import HeartAt, unit_vector
from fanlight.heart.view_rule import Near, Toward, ViewRule
from fanlight.study import Landmark

L = Landmark
CRANIAL, LEFT, DORSAL = np.eye(3)


def four_chamber(h: HeartAt) -> ViewRule:
    """Apex, mitral centre and tricuspid centre; beam square to the septum."""
    apex, mitral = h.at(L.LV_APEX), h.at(L.MITRAL_CENTRE)
    return ViewRule(
        aim_mm=0.2 * apex + 0.8 * mitral,
        along=mitral - apex,
        near=h.near(5.0, L.TRICUSPID_CENTRE, L.FOSSA_OVALIS, L.LA_CENTRE),
        beam=h.toward(Axis.SEPTUM_NORMAL, 10.0),
        marker=mitral - apex,
    )


def outflow(h: HeartAt) -> ViewRule:
    """Aortic centre, tip of the open septal leaflet and left atrium at its largest; the apex gives way.

    From the right these do not lie in one plane with the apex: the aorta lies on the cranioventral side of the plane
    through contact and long axis, the atrium on the other. The trade measures valve, leaflet and atrium here, not
    length.
    """
    apex, aorta = h.at(L.LV_APEX), h.at(L.AORTIC_CENTRE)
    filling, systole = h.during(Still.EARLY_FILLING), h.during(Still.END_SYSTOLE)
    return ViewRule(
        aim_mm=0.08 * apex + 0.25 * aorta + 0.67 * filling.at(L.MITRAL_SEPTAL_TIP),
        near=[
            *h.near(1.0, L.AORTIC_CENTRE),
            *filling.near(2.0, L.MITRAL_SEPTAL_TIP),
            *systole.near(0.7, L.LA_CENTRE),
            *h.near(20.0, L.AORTIC_ASCENDING, L.LV_APEX),
            *h.clear(10.0, 2.0, L.PAPILLARY_CAUDAL_TIP),
        ],
        beam=h.toward(Axis.SEPTUM_NORMAL, 16.0),
        marker=aorta - apex,
    )


def short_axis(level_mm: Callable[[HeartAt], float], hold_deg: float = 4.0) -> Callable[[HeartAt], ViewRule]:
    """Square to the left ventricle's axis at a level, within about `hold_deg`."""

    def rule(h: HeartAt) -> ViewRule:
        return ViewRule(
            aim_mm=h.on_axis(level_mm(h)),
            normal=h.toward(Axis.LV_LONG, hold_deg),
            beam=h.toward(Axis.SEPTUM_NORMAL, 15.0),
            marker=h.transverse,
        )

    return rule


def papillary_level(h: HeartAt) -> float:
    """Half-way up the papillary muscles."""
    return h.level(
        h.at(L.PAPILLARY_CRANIAL_TIP, L.PAPILLARY_CRANIAL_BASE, L.PAPILLARY_CAUDAL_TIP, L.PAPILLARY_CAUDAL_BASE)
    )


def apex_level(h: HeartAt) -> float:
    """Nearer to the apex than to the roots of the papillary muscles: the cavity is clearly smaller there."""
    return h.level(0.7 * h.at(L.LV_APEX) + 0.3 * h.at(L.PAPILLARY_CRANIAL_BASE, L.PAPILLARY_CAUDAL_BASE))


def _tip_levels(h: HeartAt) -> tuple[float, float]:
    """Levels of the two leaflet tips, the one nearer to the apex first."""
    low, high = sorted(h.level(h.points[tip]) for tip in (L.MITRAL_SEPTAL_TIP, L.MITRAL_PARIETAL_TIP))
    return low, high


def chordae_level(h: HeartAt) -> float:
    """Half-way from the tips of the papillary muscles to the tips of the leaflets, were they open."""
    tips = max(h.level(h.at(L.PAPILLARY_CRANIAL_TIP)), h.level(h.at(L.PAPILLARY_CAUDAL_TIP)))
    return 0.5 * (tips + _tip_levels(h.hanging)[0])


def mitral_level(h: HeartAt) -> float:
    """Half-way from the tips of the leaflets to the annulus."""
    return 0.5 * (_tip_levels(h)[1] + h.level(h.at(L.MITRAL_CENTRE)))


def heart_base(h: HeartAt) -> ViewRule:
    """Root of the aorta in its sinuses, square to it, through the middle of the left atrium and its auricle.

    So high that cusps are cut at the end of diastole too, when the base stands nearest to the head.
    """
    return ViewRule(
        aim_mm=0.25 * h.at(L.AORTIC_CENTRE) + 0.75 * h.at(L.AORTIC_SINUS_CENTRE),
        normal=h.toward(Axis.AORTIC_OUTFLOW, 8.0),
        near=[
            *h.near(1.5, L.LA_CENTRE),
            *h.near(4.0, L.LEFT_AURICLE_TIP),
            *h.near(8.0, L.PULMONIC_CENTRE),
        ],
        beam=Toward(direction=unit_vector(h.at(L.LA_CENTRE) - h.at(L.AORTIC_SINUS_CENTRE)), hold_deg=12.0),
        marker=h.transverse,
    )


def pulmonary_artery(h: HeartAt) -> ViewRule:
    """Pulmonic centre, division of the trunk and right branch, basal of the left ventricle."""
    clear = 0.35 * float(np.linalg.norm(h.at(L.MITRAL_CENTRE) - h.at(L.LV_APEX)))  # the ring is as wide, and tilted
    return ViewRule(
        aim_mm=h.at(L.PULMONIC_CENTRE, L.PULMONARY_BIFURCATION, L.AORTIC_SINUS_CENTRE),
        near=[
            *h.near(2.5, L.PULMONIC_CENTRE, L.PULMONARY_BIFURCATION),
            *h.near(4.0, L.RIGHT_PULMONARY_ARTERY_END),
            Near(point_mm=h.at(L.MITRAL_CENTRE), hold_mm=3.0 * h.k, clear_mm=clear),
        ],
        beam=h.toward(Axis.PULMONIC_OUTFLOW, 25.0),
        marker=h.transverse,
    )
