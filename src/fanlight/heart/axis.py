"""Names of the directions of the heart."""

from __future__ import annotations

from enum import StrEnum


class Axis(StrEnum):
    """Directions of the heart, unit vectors in the patient frame, given by ``axes``."""

    LV_LONG = "left ventricle, from apex to base"
    SEPTUM_NORMAL = "from the ventricular septum to the free wall of the left ventricle"
    MITRAL_INFLOW = "blood through the mitral valve"
    TRICUSPID_INFLOW = "blood through the tricuspid valve"
    AORTIC_OUTFLOW = "blood through the aortic valve"
    PULMONIC_OUTFLOW = "blood through the pulmonic valve and the trunk"
