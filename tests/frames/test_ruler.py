"""Depth marks beside the picture: column, spacing, number; their step only where something tells it."""

import cv2
import numpy as np
import pytest

from fanlight.frames.painted import look_at
from fanlight.frames.ruler import find_ruler, usual_step_mm
from fanlight.study import Box, Quantity, ScreenText
from tests.frames.screens import add_overlay, add_ruler, curved, linear, phased, screen


def _with_marks(kind, spacing, *, shape=phased, col=606, major_every=5, n_frames=6, seed=40):
    picture = shape(480, 640)
    drawn = screen(np.random.default_rng(seed), picture, layout=3, n_frames=n_frames)
    rows = add_ruler(drawn.pixels, picture, col, spacing, kind=kind, major_every=major_every)
    return drawn, picture, rows


def _number(text, row, col):
    return ScreenText(
        text=text, box=Box(row0=round(row) - 5, col0=col, row1=round(row) + 6, col1=col + 9), confidence=0.9
    )


@pytest.mark.parametrize("kind", ["dash", "dot", "axis"])
@pytest.mark.parametrize("spacing", [9.6, 24.7, 41.3])
@pytest.mark.parametrize("n_frames", [1, 6])
def test_marks_of_every_kind_are_found_to_a_hundredth(kind, spacing, n_frames):
    """Dashes, dots and ticks on a line, dense and wide, in stills and clips."""
    drawn, picture, rows = _with_marks(kind, spacing, n_frames=n_frames)

    ruler = find_ruler(look_at(drawn.grey), picture, (), None)

    assert ruler is not None
    majors = len(rows[::5])
    # Fewer than two larger marks tell no period; the small spacing is then the one given.
    wanted = 5 * spacing if majors >= 2 else spacing
    assert ruler.spacing_px == pytest.approx(wanted, rel=0.01)
    assert ruler.col_px == pytest.approx(606, abs=13)
    assert ruler.mm_per_mark is None
    assert "nothing on the screen tells their step" in ruler.reason


def test_written_depth_names_the_step():
    """12 cm over the picture's depth and marks at a twelfth of it: ten millimetres, fifty between the larger."""
    picture = phased(480, 640)
    drawn, picture, _ = _with_marks("dash", picture.depth_px / 12)

    ruler = find_ruler(look_at(drawn.grey), picture, (), 120.0)

    assert ruler is not None
    assert ruler.mm_per_mark == 50.0
    assert ruler.spacing_px / ruler.mm_per_mark == pytest.approx(picture.depth_px / 120, rel=0.01)


def test_depth_that_fits_no_usual_step_names_none():
    """A written length that is not the depth must not calibrate the marks."""
    picture = phased(480, 640)
    drawn, picture, _ = _with_marks("dash", picture.depth_px / 12, major_every=100)

    ruler = find_ruler(look_at(drawn.grey), picture, (), 170.0)

    assert ruler is not None
    assert ruler.mm_per_mark is None
    assert "fits no usual step" in ruler.reason


def test_numbers_beside_the_marks_name_the_step():
    """Figures 5 and 10 at the larger marks."""
    picture = phased(480, 640)
    spacing = picture.depth_px / 12
    drawn, picture, rows = _with_marks("dot", spacing)
    texts = (_number("5", rows[5], 618), _number("10", rows[10], 616))

    ruler = find_ruler(look_at(drawn.grey), picture, texts, None)

    assert ruler is not None
    assert ruler.mm_per_mark == 50.0
    assert "numbers 5, 10" in ruler.reason


@pytest.mark.parametrize("missing", [1, 2])
def test_a_hidden_mark_does_not_break_the_row(missing):
    """A caliper or a focus mark may sit on one or two places."""
    picture = curved(480, 640)
    drawn, picture, rows = _with_marks("dash", picture.depth_px / 11, shape=curved, major_every=100)
    for row in rows[4 : 4 + 3 * missing : 3]:
        drawn.pixels[:, round(row) - 2 : round(row) + 3, 600:630] = 0

    ruler = find_ruler(look_at(drawn.grey), picture, (), None)

    assert ruler is not None
    assert ruler.spacing_px == pytest.approx(picture.depth_px / 11, rel=0.01)


def test_every_fifth_mark_may_have_another_shape():
    """Large hollow diamonds, which are no small marks, stand for five and ten."""
    picture = phased(480, 640)
    spacing = picture.depth_px / 14
    drawn, picture, rows = _with_marks("dash", spacing, major_every=100)
    for row in rows[5::5]:
        r = round(row)
        drawn.pixels[:, r - 1 : r + 2, 600:630] = 0
        for frame in drawn.pixels:
            points = np.array([[606, r - 6], [612, r], [606, r + 6], [600, r]])
            cv2.polylines(frame, [points], True, (210, 210, 210), 1)

    ruler = find_ruler(look_at(drawn.grey), picture, (), None)

    assert ruler is not None
    assert ruler.spacing_px == pytest.approx(spacing, rel=0.01)


@pytest.mark.parametrize("shape", [phased, curved, linear])
def test_lists_of_words_and_an_empty_margin_are_no_ruler(shape):
    """Lines of text are evenly spaced too."""
    picture = shape(480, 640)
    drawn = screen(np.random.default_rng(41), picture, layout=3)
    lines = tuple((word, 60 + 22 * k, 6) for k, word in enumerate(("P4-2", "Fr 31", "G 54", "C 60", "Pw 0", "MI 1.1")))
    add_overlay(drawn.pixels, words=lines)

    assert find_ruler(look_at(drawn.grey), picture, (), None) is None


def test_marks_at_uneven_distances_are_no_ruler():
    """Random rows in one column."""
    picture = phased(480, 640)
    rng = np.random.default_rng(42)
    drawn = screen(rng, picture, layout=3)
    for row in np.sort(rng.uniform(40, 440, 11)):
        drawn.pixels[:, int(row), 606:614] = 210

    assert find_ruler(look_at(drawn.grey), picture, (), None) is None


@pytest.mark.parametrize(
    ("value", "step"), [(10.3, 10.0), (4.8, 5.0), (49.0, 50.0), (7.0, None), (14.0, None), (0.3, None)]
)
def test_only_usual_steps_are_named(value, step):
    """Within six per cent, as for numbers beside the marks."""
    assert usual_step_mm(value, 0.06) == step


def test_text_with_a_quantity_is_not_a_number_beside_the_marks():
    """“12 Hz” must not count as twelve centimetres."""
    picture = phased(480, 640)
    drawn, picture, rows = _with_marks("dot", picture.depth_px / 12, major_every=100)
    with_unit = ScreenText(
        text="12", box=_number("12", rows[5], 618).box, confidence=0.9, quantities=(Quantity(value=12, unit="Hz"),)
    )

    ruler = find_ruler(look_at(drawn.grey), picture, (with_unit, _number("3", rows[2], 618)), None)

    assert ruler is not None
    assert ruler.mm_per_mark is None
