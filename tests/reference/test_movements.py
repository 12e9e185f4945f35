"""The table of movements: its words hold on simulated animals, and a wrong row is refused by name."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from fanlight.heart.animal import animal_axes, animal_landmarks
from fanlight.heart.axis import Axis
from fanlight.heart.cable_end import cable_end_direction
from fanlight.heart.cycle import RESTING
from fanlight.heart.movements import Movement, moved
from fanlight.heart.pose import Pose
from fanlight.heart.standard_poses import STANDARD_VIEWS, standard_pose
from fanlight.reference.load import HouseFileError, load_house
from fanlight.reference.movements import read_movements
from fanlight.study import Landmark
from tests.heart.fit.cases import animal

HOUSE = load_house()
TABLES = read_movements(HOUSE)
SEEDS = (301, 302, 304)
# Patient frame: X cranial, Y left, Z dorsal (heart/cable_end.py).
_DIRECTIONS = {"crani": (0, 1), "caud": (0, -1), "left": (1, 1), "right": (1, -1), "dorsal": (2, 1), "ventral": (2, -1)}


@pytest.mark.parametrize("movement", [Movement.TILT, Movement.ROCK])
def test_the_cable_end_goes_where_the_table_says(movement: Movement) -> None:
    """Each word of direction has a share of the true way of the cable end, in every view that has a row."""
    for view in STANDARD_VIEWS:
        keys = [key for key in TABLES.ways[movement.value] if view.startswith(key)]
        if not keys:
            continue
        pair = TABLES.ways[movement.value][max(keys, key=len)]
        for seed in SEEDS:
            pose = standard_pose(animal(seed), view)
            for sense, said in zip((1.0, -1.0), pair, strict=True):
                way = cable_end_direction(pose, movement, sense)
                for word, (axis, sign) in _DIRECTIONS.items():
                    assert word not in said or way[axis] * sign > 0.1, (view, seed, said, way)


def _off_plane(seed: int, pose: Pose, mark: Landmark) -> float:
    return abs(float(pose.to_probe(animal_landmarks(animal(seed), RESTING)[mark])[1]))


@pytest.mark.parametrize(
    ("view", "movement", "amount", "comes_in"),
    [
        ("right_parasternal_long_axis_four_chamber", Movement.TILT, 8.0, Landmark.AORTIC_CENTRE),
        ("right_parasternal_long_axis_four_chamber", Movement.TILT, 8.0, Landmark.PAPILLARY_CRANIAL_TIP),
        ("right_parasternal_long_axis_four_chamber", Movement.TILT, -6.0, Landmark.PAPILLARY_CAUDAL_TIP),
        ("right_parasternal_long_axis_four_chamber", Movement.ROTATE, 12.0, Landmark.AORTIC_CENTRE),
        ("right_parasternal_long_axis_four_chamber", Movement.ROTATE, -12.0, Landmark.PAPILLARY_CRANIAL_TIP),
        ("right_parasternal_long_axis_outflow", Movement.ROTATE, -12.0, Landmark.TRICUSPID_CENTRE),
        ("right_parasternal_long_axis_outflow", Movement.ROTATE, 12.0, Landmark.PULMONIC_CENTRE),
        ("right_parasternal_long_axis_outflow", Movement.TILT, 8.0, Landmark.PAPILLARY_CRANIAL_TIP),
        ("right_parasternal_long_axis_outflow", Movement.TILT, -10.0, Landmark.TRICUSPID_CENTRE),
        ("left_apical_four_chamber", Movement.TILT, -8.0, Landmark.AORTIC_CENTRE),
    ],
)
def test_what_the_picture_is_said_to_show_comes_nearer_the_plane(
    view: str, movement: Movement, amount: float, comes_in: Landmark
) -> None:
    """The words of `when`: a structure that comes into the plane lies nearer to it after the movement."""
    for seed in SEEDS:
        pose = standard_pose(animal(seed), view)
        after = moved(animal(seed), pose, movement, amount)
        assert _off_plane(seed, after, comes_in) < _off_plane(seed, pose, comes_in)


@pytest.mark.parametrize("view", [view for view in STANDARD_VIEWS if view.startswith("right_parasternal_short_axis")])
def test_a_tilt_to_the_viewers_side_goes_to_the_apex(view: str) -> None:
    """In all short axes from the right: the words of `when`, and with them the level that a tilt explains."""
    for seed in SEEDS:
        to_base = np.asarray(animal_axes(animal(seed), RESTING)[Axis.LV_LONG])
        pose = standard_pose(animal(seed), view)
        after = moved(animal(seed), pose, Movement.TILT, 5.0)
        depth = 50.0
        assert float((after.z - pose.z) @ to_base) * depth < 0


@pytest.mark.parametrize(("amount", "screen_side"), [(10.0, -1.0), (-10.0, 1.0)])
def test_a_rock_to_the_marker_leaves_the_heart_on_the_other_side(amount: float, screen_side: float) -> None:
    """Screen right is the marker's side."""
    view = "right_parasternal_long_axis_four_chamber"
    for seed in SEEDS:
        pose = standard_pose(animal(seed), view)
        after = moved(animal(seed), pose, Movement.ROCK, amount)
        place = animal_landmarks(animal(seed), RESTING)[Landmark.MITRAL_CENTRE]
        assert (float(after.to_probe(place)[0]) - float(pose.to_probe(place)[0])) * screen_side > 0


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ("[movements.limits]\nnamed_from = 1.5", "named_from must lie above 0.5 and below 1, got 1.5"),
        ("[movements.limits]\nlandmarks_from = 2", "landmarks_from must be a whole number of 3 or more, got 2"),
        ("[movements.farthest]\ntilt_deg = 2.0", "each above that of movements.least"),
        ("[movements.movements.tilt_plus]\ncorrection = 'tilt'", r"must hold \{size\}: advice says how far"),
        ("[movements]\norder = ['tilt']", "must name space, slide, rotate, tilt, rock once each, got tilt"),
        ("[movements.movements.rock_plus]\nexplains = ['nothing low']", "no criterion nothing"),
    ],
)
def test_a_row_that_cannot_be_is_refused_by_name(tmp_path: Path, row: str, why: str) -> None:
    own = tmp_path / "house.toml"
    own.write_text(f"{row}\n", encoding="utf-8")
    with pytest.raises(HouseFileError, match=why):
        load_house(own)


def test_the_order_of_hands_is_data(tmp_path: Path) -> None:
    own = tmp_path / "house.toml"
    own.write_text('[movements]\norder = ["rock", "tilt", "rotate", "slide", "space"]\n', encoding="utf-8")
    rows = read_movements(load_house(own)).rows

    assert next(iter(rows)) == ("rock", 1)
