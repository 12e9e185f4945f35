"""Names of the places in the heart by which views are defined and distances are taken.

The model of the heart still has a list of its own (heart/landmark.py); a test holds the two together.
"""

from __future__ import annotations

from enum import StrEnum


class Landmark(StrEnum):
    """Points of the heart that a person marks, the model knows and a recogniser may find."""

    LV_APEX = "left ventricular apex, inner border"
    LV_CENTRE = "left ventricular centre"
    RV_APEX = "right ventricular apex"
    RV_CENTRE = "right ventricular centre"
    PAPILLARY_CRANIAL_TIP = "tip of the cranial papillary muscle"
    PAPILLARY_CRANIAL_BASE = "base of the cranial papillary muscle"
    PAPILLARY_CAUDAL_TIP = "tip of the caudal papillary muscle"
    PAPILLARY_CAUDAL_BASE = "base of the caudal papillary muscle"
    MITRAL_CENTRE = "centre of the mitral annulus"
    MITRAL_SEPTAL_HINGE = "hinge of the septal mitral leaflet"
    MITRAL_PARIETAL_HINGE = "hinge of the parietal mitral leaflet"
    MITRAL_TIPS = "where the mitral leaflets meet"
    MITRAL_SEPTAL_TIP = "tip of the septal mitral leaflet"
    MITRAL_PARIETAL_TIP = "tip of the parietal mitral leaflet"
    TRICUSPID_CENTRE = "centre of the tricuspid annulus"
    TRICUSPID_SEPTAL_HINGE = "hinge of the septal tricuspid leaflet"
    TRICUSPID_PARIETAL_HINGE = "hinge of the parietal tricuspid leaflet"
    AORTIC_CENTRE = "centre of the aortic annulus"
    AORTIC_SINUS_CENTRE = "centre of the aortic root at its widest"
    AORTIC_ASCENDING = "ascending aorta, end of the modelled part"
    AORTIC_SEPTAL_HINGE = "aortic hinge on the septal side"
    AORTIC_MITRAL_HINGE = "aortic hinge on the mitral side"
    COMMISSURE_RIGHT_NONCORONARY = "aortic commissure between right and non-coronary cusp"
    COMMISSURE_LEFT_NONCORONARY = "aortic commissure between left and non-coronary cusp"
    COMMISSURE_RIGHT_LEFT = "aortic commissure between right and left cusp"
    PULMONIC_CENTRE = "centre of the pulmonic annulus"
    PULMONARY_BIFURCATION = "division of the pulmonary trunk"
    RIGHT_PULMONARY_ARTERY_END = "right pulmonary artery, end of the modelled part"
    LEFT_PULMONARY_ARTERY_END = "left pulmonary artery, end of the modelled part"
    LA_CENTRE = "left atrial centre"
    LA_ROOF = "left atrial wall opposite the mitral valve"
    LEFT_AURICLE_TIP = "tip of the left auricle"
    RA_CENTRE = "right atrial centre"
    RIGHT_AURICLE_TIP = "tip of the right auricle"
    FOSSA_OVALIS = "middle of the atrial septum"
    CRANIAL_CAVAL_MOUTH = "mouth of the cranial vena cava"
    CAUDAL_CAVAL_MOUTH = "mouth of the caudal vena cava"
