"""What the network is asked to name: views, structures of a picture, landmarks."""

from __future__ import annotations

from enum import IntEnum
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.tissue import Tissue
from fanlight.reference.load import load_house
from fanlight.reference.views import read_views
from fanlight.study import Landmark

NONE_OF_THESE = "none_of_these"
LANDMARKS: tuple[Landmark, ...] = tuple(Landmark)
# Off the plane, in diameters of the healthy left ventricle: a landmark is there, is not there; between, nothing is
# asked (engineering judgement: about the thickness of the slice at 10 kg, and twice as much).
SHOWN_UNITS, GONE_UNITS = 0.15, 0.30


class Structure(IntEnum):
    """Structures of a picture, one number each; a number once given in a shipped model is never given again."""

    OTHER = 0  # outside the picture, chest wall, fat, pericardium
    LV_CAVITY = 1  # with chordae
    PAPILLARY = 2  # of the left ventricle
    SEPTUM = 3
    LV_FREE_WALL = 4
    LEFT_ATRIUM = 5  # with auricle and veins
    AORTA = 6  # lumen, with cusps
    RV_CAVITY = 7  # with outflow tract, chordae and papillary muscles
    RV_WALL = 8
    RIGHT_ATRIUM = 9  # with auricle and venae cavae
    PULMONARY_ARTERY = 10  # lumen, with cusps
    MITRAL_LEAFLET = 11
    TRICUSPID_LEAFLET = 12
    EFFUSION = 13
    HIDDEN = 14  # lung or bone, and all that lies behind them on the same line
    OTHER_WALL = 15  # of atria and great vessels
    LIVER = 16


_OF_TISSUE: dict[Structure, tuple[Tissue, ...]] = {
    Structure.LV_CAVITY: (Tissue.LV_CAVITY, Tissue.MITRAL_CHORDAE),
    Structure.PAPILLARY: (Tissue.PAPILLARY_CRANIAL, Tissue.PAPILLARY_CAUDAL),
    Structure.SEPTUM: (Tissue.SEPTUM,),
    Structure.LV_FREE_WALL: (Tissue.LV_FREE_WALL,),
    Structure.LEFT_ATRIUM: (Tissue.LA_CAVITY, Tissue.LEFT_AURICLE, Tissue.PULMONARY_VEIN),
    Structure.AORTA: (Tissue.AORTA, Tissue.AORTIC_CUSP),
    Structure.RV_CAVITY: (Tissue.RV_CAVITY, Tissue.RV_OUTFLOW, Tissue.RV_PAPILLARY, Tissue.TRICUSPID_CHORDAE),
    Structure.RV_WALL: (Tissue.RV_WALL,),
    Structure.RIGHT_ATRIUM: (
        Tissue.RA_CAVITY,
        Tissue.RIGHT_AURICLE,
        Tissue.CRANIAL_VENA_CAVA,
        Tissue.CAUDAL_VENA_CAVA,
    ),
    Structure.PULMONARY_ARTERY: (
        Tissue.PULMONARY_TRUNK,
        Tissue.RIGHT_PULMONARY_ARTERY,
        Tissue.LEFT_PULMONARY_ARTERY,
        Tissue.PULMONIC_CUSP,
    ),
    Structure.MITRAL_LEAFLET: (Tissue.MITRAL_SEPTAL_LEAFLET, Tissue.MITRAL_PARIETAL_LEAFLET),
    Structure.TRICUSPID_LEAFLET: (Tissue.TRICUSPID_LEAFLET,),
    Structure.EFFUSION: (Tissue.EFFUSION,),
    Structure.HIDDEN: (Tissue.LUNG, Tissue.RIB, Tissue.STERNUM),
    Structure.OTHER_WALL: (
        Tissue.LA_WALL,
        Tissue.RA_WALL,
        Tissue.ATRIAL_SEPTUM,
        Tissue.AORTIC_WALL,
        Tissue.PULMONARY_WALL,
    ),
    Structure.LIVER: (Tissue.LIVER,),
}


@lru_cache(maxsize=1)
def structure_table() -> NDArray[np.uint8]:
    """Return the structure of every tissue number, shape (256,)."""
    table = np.zeros(256, np.uint8)
    for structure, tissues in _OF_TISSUE.items():
        table[[int(tissue) for tissue in tissues]] = int(structure)
    return table


@lru_cache(maxsize=1)
def views() -> tuple[str, ...]:
    """Return the keys of the standard views, in the order of the House; the network's classes are these and none."""
    return tuple(read_views(load_house()))


def structures_of(tissue: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return the structures of beams (depth, line) of tissue; what lies behind lung or bone is hidden."""
    found = structure_table()[tissue]
    blocked = np.logical_or.accumulate(found == Structure.HIDDEN, axis=0)
    return np.asarray(np.where(blocked, np.uint8(Structure.HIDDEN), found), np.uint8)
