"""The drawn movement says the truth: every sense held against the pose of the model, for all views that are advised."""

from __future__ import annotations

from xml.etree import ElementTree

import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.heart.cable_end import cable_end_direction
from fanlight.heart.movements import LEFT_WINDOWS, Movement, moved
from fanlight.heart.pose import Pose
from fanlight.heart.standard_poses import STANDARD_VIEWS, standard_pose, view_window
from fanlight.report.movement.arrows import Shown, shown_movement
from fanlight.report.movement.chosen import Turn
from fanlight.report.movement.drawing import direction_on_sketch, draw_movement
from fanlight.report.movement.model_animal import model_animal
from fanlight.report.movement.probe_lines import cable_end_mm, marker_at
from fanlight.report.movement.side_view import HEIGHT, WIDTH, SideView, side_view
from fanlight.report.movement.sketch import Part, svg_of
from fanlight.study import Species
from tests.report.movement.moves import TABLES

ANIMALS = {"dog": model_animal(Species.DOG, 10.0), "cat": model_animal(Species.CAT, 4.0)}
VIEWS = [view for view in STANDARD_VIEWS if view_window(view).value in TABLES.limits.windows]
SENSES = (1, -1)
SEEN_FROM = 0.3  # of a true way's own length: below it the way runs at the viewer, and no arrow could show it


def _view(key: str, animal: str) -> SideView:
    return side_view(ANIMALS[animal], is_left=view_window(key) in LEFT_WINDOWS)


def _shown(key: str, animal: str, movement: Movement, sense: int) -> tuple[Pose, Shown, SideView]:
    pose, view = standard_pose(ANIMALS[animal], key), _view(key, animal)
    return pose, shown_movement(ANIMALS[animal], pose, movement, sense, view), view


def _along(drawn: NDArray[np.float64], true: NDArray[np.float64]) -> float:
    """Cosine between two ways on the sketch."""
    return float(drawn @ true / np.linalg.norm(drawn) / np.linalg.norm(true))


@pytest.mark.parametrize("is_left", [False, True])
def test_head_and_sternum_lie_where_that_side_has_them(is_left: bool) -> None:
    """Common practice, no source: who looks at the right side of a standing animal sees its head at the right."""
    view = side_view(ANIMALS["dog"], is_left=is_left)

    head, back = view.way(np.array([1.0, 0.0, 0.0])), view.way(np.array([0.0, 0.0, 1.0]))
    assert tuple(head) == ((-1.0, 0.0) if is_left else (1.0, 0.0))
    assert tuple(back) == (0.0, -1.0)
    # Seen from outside: right, down and into the sketch are a right-handed set, or the sketch would be a mirror image.
    inward = np.array([0.0, -1.0 if is_left else 1.0, 0.0])
    right = np.array([-1.0 if is_left else 1.0, 0.0, 0.0])
    assert np.cross(right, [0.0, 0.0, -1.0]) == pytest.approx(inward)


@pytest.mark.parametrize("animal", ANIMALS)
@pytest.mark.parametrize("key", VIEWS)
@pytest.mark.parametrize("sense", SENSES)
@pytest.mark.parametrize("movement", [Movement.TILT, Movement.ROCK])
def test_the_arrow_of_a_lean_is_the_way_of_the_cable_end(key: str, animal: str, movement: Movement, sense: int) -> None:
    """By the rule of `heart.cable_end`, which the words of the letter follow, and by a small turn of the model."""
    pose, shown, view = _shown(key, animal, movement, sense)
    drawn = shown.line[-1] - shown.line[0]

    true = view.way(cable_end_direction(pose, movement, sense))
    small = moved(ANIMALS[animal], pose, movement, 0.5 * sense)
    turned = view.way(pose.z - small.z)  # the handle lies behind the face
    assert _along(true, turned) > 0.99
    assert np.linalg.norm(true) >= SEEN_FROM
    assert _along(drawn, true) > 0.999
    ghost = view.at(cable_end_mm(shown.ghost, view)) - view.at(cable_end_mm(pose, view))
    assert ghost @ true > 0
    assert 15.0 < np.linalg.norm(drawn) < 45.0


@pytest.mark.parametrize("animal", ANIMALS)
@pytest.mark.parametrize("key", VIEWS)
@pytest.mark.parametrize("sense", SENSES)
def test_the_arrow_of_a_rotation_is_clockwise_as_seen_from_the_cable_end(key: str, animal: str, sense: int) -> None:
    """The handle points at who looks at the scanned side, so clockwise stays clockwise on the sketch."""
    pose, shown, view = _shown(key, animal, Movement.ROTATE, sense)
    assert (-pose.z[1] > 0) == view.is_left

    arms = shown.line - view.at(pose.origin_mm)
    turns = arms[:-1, 0] * arms[1:, 1] - arms[:-1, 1] * arms[1:, 0]  # right to down is clockwise
    assert np.all(sense * turns > 0)
    # It begins where the marker's side is, and what it leads to is where the marker comes.
    assert _along(arms[0], view.way(pose.x)) > 0.99
    if np.degrees(np.arccos(np.clip(_along(arms[0], view.way(shown.ghost.x)), -1, 1))) > 55.0:
        assert _along(arms[-1], view.way(shown.ghost.x)) > 0.99


@pytest.mark.parametrize("animal", ANIMALS)
@pytest.mark.parametrize("key", VIEWS)
@pytest.mark.parametrize("sense", SENSES)
def test_a_slide_goes_to_the_back_or_to_the_sternum_and_a_step_to_head_or_tail(
    key: str, animal: str, sense: int
) -> None:
    """Signs of the house: slide plus is towards the back, space plus towards the head."""
    for movement, axis in ((Movement.SLIDE, np.array([0.0, 0.0, 1.0])), (Movement.SPACE, np.array([1.0, 0.0, 0.0]))):
        pose, shown, view = _shown(key, animal, movement, sense)
        drawn = shown.line[-1] - shown.line[0]

        small = moved(ANIMALS[animal], pose, movement, {Movement.SLIDE: 2.0, Movement.SPACE: 0.2}[movement] * sense)
        true = view.way(small.origin_mm - pose.origin_mm)
        assert _along(drawn, true) > 0.8
        assert sense * (drawn @ view.way(axis)) > 0


@pytest.mark.parametrize("key", VIEWS)
@pytest.mark.parametrize("movement", list(TABLES.ways))
def test_drawing_and_words_send_the_cable_end_the_same_way(key: str, movement: str) -> None:
    """A letter whose words say caudodorsal beside an arrow to the head would be worse than none."""
    ways = TABLES.ways[movement]
    rows = [row for row in ways if key.startswith(row)]
    if not rows:
        assert TABLES.way_differs[movement]  # animals differ: no way is said that a drawing could deny
        return
    parts = {"cranial": (0, 1), "caudal": (0, -1), "cranio": (0, 1), "caudo": (0, -1), "dorsal": (2, 1),
             "ventral": (2, -1), "left": (1, 1), "right": (1, -1)}  # fmt: skip
    for sense, words in zip(SENSES, ways[max(rows, key=len)], strict=True):
        said = np.zeros(3)
        for part, (axis, sign) in parts.items():
            if part in words:
                said[axis] = sign
        pose, shown, view = _shown(key, "dog", Movement(movement), sense)
        true = cable_end_direction(pose, Movement(movement), sense)
        on_sketch = view.way(said)
        assert true @ said > 0
        if np.linalg.norm(on_sketch) > 0:
            assert _along(shown.line[-1] - shown.line[0], on_sketch) > -0.2, f"{words}, drawn otherwise"


@pytest.mark.parametrize("key", VIEWS)
@pytest.mark.parametrize("movement", [m for m in Movement if m not in (Movement.PRESS, Movement.FLATTEN)])
@pytest.mark.parametrize("sense", SENSES)
def test_a_drawing_says_in_words_what_its_arrow_does_and_keeps_to_its_frame(
    key: str, movement: Movement, sense: int
) -> None:
    """Who cannot see it hears the same; nothing of probe or arrow is cut off at the face."""
    pose, shown, view = _shown(key, "dog", movement, sense)
    sketch = draw_movement(ANIMALS["dog"], pose, Turn(movement=movement, amount=sense), key)

    side = "left" if view.is_left else "right"
    assert f"from the {side} side, head at the {side}" in sketch.words
    if movement is Movement.ROTATE:
        assert (" clockwise" in sketch.title) == (sense > 0)
    else:
        assert direction_on_sketch(shown.line[-1] - shown.line[0], view) in sketch.title
    for point in (*shown.line, marker_at(pose, view), marker_at(shown.ghost, view)):
        assert 0 < point[0] < WIDTH
        assert 0 < point[1] < HEIGHT
    assert sum(stroke.part is Part.ARROW for stroke in sketch.strokes) == 1
    root = ElementTree.fromstring(svg_of(sketch))
    assert [child.text for child in root[:2]] == [sketch.title, sketch.words]


def test_where_it_stood_is_solid_and_where_to_go_is_dashed() -> None:
    """Without colour, on a printer in a practice, the two are still told apart."""
    pose = standard_pose(ANIMALS["dog"], VIEWS[0])
    picture = svg_of(draw_movement(ANIMALS["dog"], pose, Turn(movement=Movement.TILT, amount=8.0), VIEWS[0], "either"))

    root = ElementTree.fromstring(picture)
    assert str(root[0].text).startswith("Either tilt: cable end towards the tail")
    paths = root.findall("{http://www.w3.org/2000/svg}path")
    dashes = [path.get("stroke-dasharray") for path in paths if path.get("d", "").endswith("Z")]
    assert "5 3.4" in dashes
    assert None in dashes


def test_the_same_movement_gives_the_same_drawing_and_a_press_none() -> None:
    pose = standard_pose(ANIMALS["dog"], VIEWS[0])
    turn = Turn(movement=Movement.ROCK, amount=-9.0)

    assert draw_movement(ANIMALS["dog"], pose, turn, VIEWS[0]) == draw_movement(ANIMALS["dog"], pose, turn, VIEWS[0])
    with pytest.raises(ValueError, match="a press is not drawn; drawn are tilt"):
        draw_movement(ANIMALS["dog"], pose, Turn(movement=Movement.PRESS, amount=2.0), VIEWS[0])
