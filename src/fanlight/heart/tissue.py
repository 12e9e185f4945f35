"""What a point of the body is made of: the labels of the parametric heart and thorax."""

from __future__ import annotations

from enum import IntEnum


class Tissue(IntEnum):
    """Labels of a label map, one byte each. Cavities hold blood; everything else is solid, fluid or air.

    The numbers are stored with simulated truth: a number once given is never given again.
    """

    OUTSIDE = 0  # not in the animal

    CHEST_WALL = 1  # skin and muscle
    RIB = 2
    CARTILAGE = 3  # ventral part of a rib: dims, does not black out
    STERNUM = 4
    LUNG = 5
    FAT = 6  # around the heart, in its grooves and in the mediastinum
    LIVER = 7
    DIAPHRAGM = 8

    PERICARDIUM = 10
    EFFUSION = 11

    LV_CAVITY = 20  # outflow tract included
    SEPTUM = 21  # between the ventricles
    LV_FREE_WALL = 22
    PAPILLARY_CRANIAL = 23  # below the left auricle, on the cranioventral side
    PAPILLARY_CAUDAL = 24  # below the left atrium, on the caudodorsal side
    MITRAL_CHORDAE = 25
    MITRAL_SEPTAL_LEAFLET = 26  # the one beside the outflow tract
    MITRAL_PARIETAL_LEAFLET = 27

    LA_CAVITY = 30
    LA_WALL = 31
    LEFT_AURICLE = 32  # its lumen
    ATRIAL_SEPTUM = 33
    PULMONARY_VEIN = 34

    AORTA = 40  # lumen of root and ascending aorta
    AORTIC_WALL = 41
    AORTIC_CUSP = 42

    RV_CAVITY = 50
    RV_WALL = 51
    RV_OUTFLOW = 52  # lumen below the pulmonic valve
    RV_PAPILLARY = 53  # papillary muscles and septomarginal band
    TRICUSPID_CHORDAE = 54
    TRICUSPID_LEAFLET = 55

    RA_CAVITY = 60
    RA_WALL = 61
    RIGHT_AURICLE = 62
    CRANIAL_VENA_CAVA = 63
    CAUDAL_VENA_CAVA = 64

    PULMONARY_TRUNK = 70  # lumen
    RIGHT_PULMONARY_ARTERY = 71
    LEFT_PULMONARY_ARTERY = 72
    PULMONARY_WALL = 73
    PULMONIC_CUSP = 74


BLOOD = frozenset(
    {
        Tissue.LV_CAVITY,
        Tissue.LA_CAVITY,
        Tissue.LEFT_AURICLE,
        Tissue.PULMONARY_VEIN,
        Tissue.AORTA,
        Tissue.RV_CAVITY,
        Tissue.RV_OUTFLOW,
        Tissue.RA_CAVITY,
        Tissue.RIGHT_AURICLE,
        Tissue.CRANIAL_VENA_CAVA,
        Tissue.CAUDAL_VENA_CAVA,
        Tissue.PULMONARY_TRUNK,
        Tissue.RIGHT_PULMONARY_ARTERY,
        Tissue.LEFT_PULMONARY_ARTERY,
    }
)
MYOCARDIUM = frozenset(
    {
        Tissue.SEPTUM,
        Tissue.LV_FREE_WALL,
        Tissue.PAPILLARY_CRANIAL,
        Tissue.PAPILLARY_CAUDAL,
        Tissue.RV_WALL,
        Tissue.RV_PAPILLARY,
    }
)
NOT_HEART = frozenset(
    {
        Tissue.OUTSIDE,
        Tissue.CHEST_WALL,
        Tissue.RIB,
        Tissue.CARTILAGE,
        Tissue.STERNUM,
        Tissue.LUNG,
        Tissue.FAT,
        Tissue.LIVER,
        Tissue.DIAPHRAGM,
    }
)
