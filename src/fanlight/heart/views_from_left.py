"""The rules of the views from the left apex, the left cranial window and below the ribs.

Lengths in mm at 10 kg grow with the animal.
"""

from __future__ import annotations

import numpy as np

from fanlight.heart.axis import Axis
from fanlight.heart.heart_at import HeartAt, unit_vector
from fanlight.heart.view_rule import Near, Toward, ViewRule
from fanlight.study import Landmark

L = Landmark
CRANIAL, LEFT, DORSAL = np.eye(3)
AURICLE_BOW_MM = 6.0  # at 10 kg
BESIDE_ROOT_MM = 10.0  # at 10 kg: from the hinge that aorta and mitral valve share into the left atrium


def apical_four_chamber(h: HeartAt) -> ViewRule:
    """Apex and both atrioventricular valves."""
    return ViewRule(
        aim_mm=0.8 * h.at(L.MITRAL_CENTRE) + 0.2 * h.at(L.TRICUSPID_CENTRE),
        near=[
            *h.near(2.5, L.LV_APEX, L.MITRAL_CENTRE),
            *h.near(4.0, L.TRICUSPID_CENTRE, L.LA_CENTRE),
        ],
        beam=h.toward(Axis.MITRAL_INFLOW, 10.0, -1.0),
        marker=h.axes[Axis.SEPTUM_NORMAL],
    )


def apical_right_heart(h: HeartAt) -> ViewRule:
    """Right ventricle, tricuspid centre and right atrium in the middle, the left heart still beside them."""
    return ViewRule(
        aim_mm=h.at(L.TRICUSPID_CENTRE, L.RV_CENTRE),
        near=[
            *h.near(3.0, L.RV_CENTRE, L.TRICUSPID_CENTRE),
            *h.near(5.0, L.RV_APEX, L.RA_CENTRE),
            *h.near(6.0, L.MITRAL_CENTRE),
        ],
        beam=h.toward(Axis.TRICUSPID_INFLOW, 30.0, -1.0),
        marker=h.axes[Axis.SEPTUM_NORMAL],
    )


def apical_five_chamber(h: HeartAt) -> ViewRule:
    """Apex, aortic centre and ascending aorta, with the mitral valve."""
    return ViewRule(
        aim_mm=h.at(L.AORTIC_CENTRE),
        near=[*h.near(2.5, L.LV_APEX, L.AORTIC_ASCENDING), *h.near(3.0, L.MITRAL_CENTRE)],
        beam=h.toward(Axis.AORTIC_OUTFLOW, 8.0),
        marker=h.axes[Axis.SEPTUM_NORMAL],
    )


def apical_two_chamber(h: HeartAt) -> ViewRule:
    """Apex, mitral centre and left auricle, along the septum."""
    # The auricle runs round the pulmonary trunk on its lateral side: its middle lies lateral of its tip.
    clear = h.clear(16.0, 2.0, L.RA_CENTRE)
    auricle = h.at(L.LEFT_AURICLE_TIP) + AURICLE_BOW_MM * h.k * h.axes[Axis.SEPTUM_NORMAL]
    return ViewRule(
        aim_mm=h.at(L.MITRAL_CENTRE),
        near=[*h.near(2.5, L.LV_APEX, L.MITRAL_CENTRE), Near(point_mm=auricle, hold_mm=3.0 * h.k), *clear],
        normal=h.toward(Axis.SEPTUM_NORMAL, 30.0),
        beam=h.toward(Axis.MITRAL_INFLOW, 10.0, -1.0),
        marker=h.transverse,
    )


def apical_three_chamber(h: HeartAt) -> ViewRule:
    """Apex, mitral centre and aortic centre."""
    return ViewRule(
        aim_mm=h.at(L.AORTIC_CENTRE, L.MITRAL_CENTRE),
        near=h.near(2.5, L.LV_APEX, L.MITRAL_CENTRE, L.AORTIC_CENTRE),
        beam=h.toward(Axis.AORTIC_OUTFLOW, 12.0),
        marker=h.at(L.AORTIC_CENTRE) - h.at(L.MITRAL_CENTRE),
    )


def cranial_aorta(h: HeartAt) -> ViewRule:
    """Aortic valve and ascending aorta, with the part of the left atrium beside the root."""
    hinge = h.at(L.AORTIC_MITRAL_HINGE)
    atrium = hinge + BESIDE_ROOT_MM * h.k * unit_vector(h.at(L.LA_CENTRE) - hinge)
    return ViewRule(
        aim_mm=h.at(L.AORTIC_CENTRE, L.AORTIC_SINUS_CENTRE),
        near=[
            *h.near(1.0, L.AORTIC_CENTRE),
            *h.near(2.5, L.AORTIC_ASCENDING),
            Near(point_mm=atrium, hold_mm=1.8 * h.k),
        ],
        marker=CRANIAL,
    )


def cranial_right_inflow(h: HeartAt) -> ViewRule:
    """Tricuspid centre between right atrium and ventricle, along the body, ventral of aorta and auricle."""
    return ViewRule(
        aim_mm=h.at(L.TRICUSPID_CENTRE),
        near=[
            *h.near(7.0, L.RA_CENTRE, L.LV_APEX),
            *h.near(4.0, L.RV_CENTRE),
            *h.clear(11.0, 2.0, L.AORTIC_CENTRE, L.AORTIC_SINUS_CENTRE),
            *h.clear(15.0, 2.0, L.LA_CENTRE),
            *h.clear(19.0, 2.0, L.RIGHT_AURICLE_TIP),
        ],
        normal=Toward(direction=unit_vector(np.cross(CRANIAL, h.axes[Axis.TRICUSPID_INFLOW])), hold_deg=25.0),
        beam=h.toward(Axis.TRICUSPID_INFLOW, 6.0, -1.0),
        marker=CRANIAL,
    )


def cranial_right_auricle(h: HeartAt) -> ViewRule:
    """Right atrium, tip of the right auricle and mouth of the cranial vena cava."""
    return ViewRule(
        aim_mm=h.at(L.RA_CENTRE, L.RIGHT_AURICLE_TIP),
        near=[*h.near(3.0, L.RA_CENTRE, L.RIGHT_AURICLE_TIP, L.CRANIAL_CAVAL_MOUTH), *h.near(5.0, L.TRICUSPID_CENTRE)],
        marker=CRANIAL,
    )


def cranial_right_outflow(h: HeartAt) -> ViewRule:
    """Pulmonic centre and trunk, along the flow."""
    return ViewRule(
        aim_mm=h.at(L.PULMONIC_CENTRE, L.PULMONARY_BIFURCATION),
        near=[
            *h.near(2.5, L.PULMONIC_CENTRE, L.PULMONARY_BIFURCATION),
            *h.near(12.0, L.RV_CENTRE),
            *h.clear(10.0, 2.0, L.AORTIC_SINUS_CENTRE),
            *h.clear(6.0, 2.0, L.AORTIC_CENTRE),
        ],
        beam=h.toward(Axis.PULMONIC_OUTFLOW, 8.0),
        marker=CRANIAL,
    )


def cranial_short_axis(h: HeartAt) -> ViewRule:
    """Square to the aorta at its sinuses, with tricuspid and pulmonic valve."""
    return ViewRule(
        aim_mm=0.3 * h.at(L.AORTIC_CENTRE) + 0.7 * h.at(L.AORTIC_SINUS_CENTRE),
        normal=h.toward(Axis.AORTIC_OUTFLOW, 8.0),
        near=[*h.near(2.0, L.TRICUSPID_CENTRE), *h.near(4.0, L.PULMONIC_CENTRE)],
        marker=DORSAL,
    )


def subcostal_outflow(h: HeartAt) -> ViewRule:
    """Aortic centre along the outflow, with the ventricle and the ascending aorta."""
    return ViewRule(
        aim_mm=h.at(L.AORTIC_CENTRE),
        near=[*h.near(3.0, L.AORTIC_ASCENDING, L.LV_CENTRE), *h.near(12.0, L.MITRAL_CENTRE)],
        beam=h.toward(Axis.AORTIC_OUTFLOW, 6.0),
        marker=LEFT,
    )
