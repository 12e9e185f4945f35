"""Kinds of animal that the model makes: shape of the chest and class of heart."""

from __future__ import annotations

from enum import StrEnum


class Chest(StrEnum):
    """Shape of the thorax, which also turns the heart in it."""

    DEEP = "deep"  # narrow and tall: the heart stands upright
    AVERAGE = "average"
    BARREL = "barrel"  # wide and round: the heart lies on the sternum


class HeartClass(StrEnum):
    """Shape that health or a disease gives the heart. The shapes follow published ranges; they diagnose nothing."""

    NORMAL = "normal"
    LA_ENLARGED = "la_enlarged"  # left atrium alone
    MITRAL_DISEASE = "mitral_disease"  # left atrium and ventricle enlarged, leaflet prolapse
    LV_DILATED = "lv_dilated"  # wide, weak left ventricle
    RIGHT_OVERLOAD = "right_overload"  # right ventricle and pulmonary artery enlarged, septum flattened
    THICK_WALLS = "thick_walls"
    EFFUSION = "effusion"  # fluid in the pericardium
