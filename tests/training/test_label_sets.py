"""What is named: views of the House, structures of every tissue, and what lung hides."""

import numpy as np

from fanlight.heart.tissue import BLOOD, MYOCARDIUM, Tissue
from fanlight.reference.load import load_house
from fanlight.reference.views import read_views
from training.label_sets import Structure, structure_table, structures_of, views

CHAMBERS = {
    Structure.LV_CAVITY, Structure.LEFT_ATRIUM, Structure.AORTA, Structure.RV_CAVITY, Structure.RIGHT_ATRIUM,
    Structure.PULMONARY_ARTERY,
}  # fmt: skip
WALLS = {Structure.SEPTUM, Structure.LV_FREE_WALL, Structure.PAPILLARY, Structure.RV_WALL}


def test_the_views_are_those_of_the_house() -> None:
    assert list(views()) == list(read_views(load_house()))


def test_blood_lies_in_chambers_and_muscle_in_walls() -> None:
    table = structure_table()

    assert {Structure(table[tissue]) for tissue in BLOOD} == CHAMBERS
    assert {Structure(table[t]) for t in MYOCARDIUM - {Tissue.RV_PAPILLARY}} == WALLS
    assert table[Tissue.RV_PAPILLARY] == Structure.RV_CAVITY
    assert table[Tissue.OUTSIDE] == table[Tissue.CHEST_WALL] == Structure.OTHER


def test_what_lies_behind_lung_or_bone_is_hidden() -> None:
    tissue = np.array(
        [[Tissue.CHEST_WALL] * 3, [Tissue.LUNG, Tissue.LV_CAVITY, Tissue.RIB], [Tissue.LV_CAVITY] * 3], np.uint8
    )

    found = structures_of(tissue)

    assert found[:, 0].tolist() == [Structure.OTHER, Structure.HIDDEN, Structure.HIDDEN]
    assert found[:, 1].tolist() == [Structure.OTHER, Structure.LV_CAVITY, Structure.LV_CAVITY]
    assert found[:, 2].tolist() == [Structure.OTHER, Structure.HIDDEN, Structure.HIDDEN]
