"""Named places and directions of the heart at one moment, in the patient frame."""

from __future__ import annotations

import numpy as np

from fanlight.heart.anatomy import Anatomy
from fanlight.heart.axis import Axis
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.layout import Layout, layout
from fanlight.heart.pose import Vector
from fanlight.heart.triple import Triple, add, minus, mix, scaled, unit
from fanlight.heart.warp import deformed
from fanlight.study import Landmark


def _places_at_rest(heart: Layout) -> dict[Landmark, Triple]:
    lv, rv = heart.lv, heart.rv.body
    mitral, tricuspid, aortic = heart.mitral, heart.rv.tricuspid, heart.aorta.root
    cranial, caudal = heart.papillary
    # In the middle of the crescent, half way between septum and free wall.
    rv_middle = (0.0, 0.3 * rv.centre[1], 0.5 * (-lv.septal_surface_mm + rv.centre[2] - rv.radii[2]))
    roof = add(heart.left_atrium.body.centre, mitral.up, heart.left_atrium.body.radii[0])
    return {
        Landmark.LV_APEX: (-lv.apex_mm, 0.0, 0.0),
        Landmark.LV_CENTRE: (0.0, 0.0, 0.5 * lv.radius_mm * (1.0 - lv.septal_share)),
        Landmark.RV_APEX: _rv_apex(heart),
        Landmark.RV_CENTRE: rv_middle,
        Landmark.PAPILLARY_CRANIAL_TIP: cranial.end,
        Landmark.PAPILLARY_CRANIAL_BASE: cranial.start,
        Landmark.PAPILLARY_CAUDAL_TIP: caudal.end,
        Landmark.PAPILLARY_CAUDAL_BASE: caudal.start,
        Landmark.MITRAL_CENTRE: mitral.centre,
        Landmark.MITRAL_SEPTAL_HINGE: mitral.at(mitral.septal[0]),
        Landmark.MITRAL_PARIETAL_HINGE: mitral.at(mitral.parietal[0]),
        Landmark.MITRAL_TIPS: mitral.at(mitral.shut[2]),
        Landmark.MITRAL_SEPTAL_TIP: mitral.at(mitral.septal[2]),
        Landmark.MITRAL_PARIETAL_TIP: mitral.at(mitral.parietal[2]),
        Landmark.TRICUSPID_CENTRE: tricuspid.centre,
        Landmark.TRICUSPID_SEPTAL_HINGE: tricuspid.at(tricuspid.septal[0]),
        Landmark.TRICUSPID_PARIETAL_HINGE: tricuspid.at(tricuspid.parietal[0]),
        Landmark.AORTIC_CENTRE: aortic.centre,
        Landmark.AORTIC_SINUS_CENTRE: aortic.at(0.5, 0.0, 0.0),
        Landmark.AORTIC_ASCENDING: heart.aorta.end,
        Landmark.AORTIC_SEPTAL_HINGE: aortic.at(0.0, 1.0, 0.0),
        Landmark.AORTIC_MITRAL_HINGE: aortic.at(0.0, 1.0, 180.0),
        Landmark.COMMISSURE_RIGHT_NONCORONARY: aortic.at(0.6, 1.0, heart.aorta.commissures_deg[0]),
        Landmark.COMMISSURE_LEFT_NONCORONARY: aortic.at(0.6, 1.0, heart.aorta.commissures_deg[1]),
        Landmark.COMMISSURE_RIGHT_LEFT: aortic.at(0.6, 1.0, heart.aorta.commissures_deg[2]),
        Landmark.PULMONIC_CENTRE: heart.pulmonary.root.centre,
        Landmark.PULMONARY_BIFURCATION: heart.pulmonary.trunk.end,
        Landmark.RIGHT_PULMONARY_ARTERY_END: heart.pulmonary.right[1].end,
        Landmark.LEFT_PULMONARY_ARTERY_END: heart.pulmonary.left.end,
        Landmark.LA_CENTRE: heart.left_atrium.body.centre,
        Landmark.LA_ROOF: roof,
        Landmark.LEFT_AURICLE_TIP: heart.left_atrium.auricle[1].end,
        Landmark.RA_CENTRE: heart.right_atrium.body.centre,
        Landmark.RIGHT_AURICLE_TIP: heart.right_atrium.auricle[1].end,
        Landmark.FOSSA_OVALIS: heart.septum.middle,
        Landmark.CRANIAL_CAVAL_MOUTH: mix(
            heart.right_atrium.cranial_vein.start, heart.right_atrium.cranial_vein.end, 0.3
        ),
        Landmark.CAUDAL_CAVAL_MOUTH: mix(heart.right_atrium.caudal_vein.start, heart.right_atrium.caudal_vein.end, 0.3),
    }


def _rv_apex(heart: Layout) -> Triple:
    """Return the lowest point of the right ventricle's cavity: where its free wall meets the septum."""
    lv, rv = heart.lv, heart.rv.body
    steps = np.linspace(rv.centre[0] - rv.radii[0], 0.0, 200)
    apex = lv.apex_mm + lv.apex_wall_mm
    outer = lv.septal_surface_mm * np.sqrt(np.clip(1.0 - (steps / apex) ** 2, 0.0, 1.0))
    reach = rv.radii[2] * np.sqrt(np.clip(1.0 - ((steps - rv.centre[0]) / rv.radii[0]) ** 2, 0.0, 1.0))
    free = -rv.centre[2] + reach
    first = int(np.argmax(free > outer))
    return (float(steps[first]), 0.3 * rv.centre[1], -0.5 * float(free[first] + outer[first]))


def landmarks(anatomy: Anatomy, state: CycleState) -> dict[Landmark, Vector]:
    """Return every landmark of the heart at this moment.

    Parameters
    ----------
    anatomy : Anatomy
    state : CycleState

    Returns
    -------
    dict of Landmark to ndarray of shape (3,)
        Patient frame, mm.
    """
    heart = layout(anatomy, state)
    frame, motion = anatomy.frame, heart.motion
    places = {name: np.asarray(frame.to_patient(motion.moved(place))) for name, place in _places_at_rest(heart).items()}
    if anatomy.warp is None:
        return places
    return {name: deformed(anatomy.warp, place) for name, place in places.items()}


def axes(anatomy: Anatomy, state: CycleState) -> dict[Axis, Vector]:
    """Return every direction of the heart at this moment.

    Returns
    -------
    dict of Axis to ndarray of shape (3,)
        Unit vectors of the patient frame; blood flows along them.
    """
    heart = layout(anatomy, state)
    frame, motion = anatomy.frame, heart.motion
    apex, mitral = motion.moved((-heart.lv.apex_mm, 0.0, 0.0)), motion.moved(heart.mitral.centre)
    # The jet leaves the atrium through the ring towards the apex: half way between the valve's own axis and that line.
    inflow = unit(add(scaled(heart.mitral.up, -1.0), unit(minus(apex, mitral))))
    trunk = unit(minus(motion.moved(heart.pulmonary.trunk.end), motion.moved(heart.pulmonary.root.centre)))
    directions = {
        Axis.LV_LONG: (1.0, 0.0, 0.0),
        Axis.SEPTUM_NORMAL: (0.0, 0.0, 1.0),
        Axis.MITRAL_INFLOW: inflow,
        Axis.TRICUSPID_INFLOW: scaled(heart.rv.tricuspid.up, -1.0),
        Axis.AORTIC_OUTFLOW: heart.aorta.root.axis,
        Axis.PULMONIC_OUTFLOW: trunk,
    }
    return {name: np.asarray(frame.to_patient(unit(direction))) for name, direction in directions.items()}
