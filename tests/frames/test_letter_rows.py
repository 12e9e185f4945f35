"""Rows of small print are found by brightness alone; ticks, traces, frames and bars are not."""

import cv2
import numpy as np
import pytest

from fanlight.frames.letter_rows import find_letter_rows


def ground(rows=300, cols=400, level=0):
    return np.full((rows, cols), level, np.uint8)


@pytest.mark.parametrize("size", [0.3, 0.4, 0.6, 0.9])
@pytest.mark.parametrize(("level", "ink"), [(0, 200), (220, 20), (60, 160)])
def test_a_line_of_letters_is_one_row(size, level, ink):
    """Bright on dark, dark on bright, small and large; the row holds the whole line."""
    screen = ground(level=level)
    cv2.putText(screen, "Muffin Quillfeather", (20, 100), cv2.FONT_HERSHEY_SIMPLEX, size, ink, 1, cv2.LINE_AA)
    (width, _), _ = cv2.getTextSize("Muffin Quillfeather", cv2.FONT_HERSHEY_SIMPLEX, size, 1)

    covered = np.zeros(400, bool)
    for row in find_letter_rows(screen):
        assert row.row0 < 100
        covered[row.col0 : row.col1] = True

    assert covered[20 : 20 + width].mean() > 0.75


def test_what_is_no_text_gives_no_row():
    """Ruler ticks in a column, a trace, a frame, a bar, a lone arrow."""
    screen = ground()
    for row in range(20, 280, 20):
        screen[row, 380:390] = 255
    cols = np.arange(20, 360)
    trace = np.stack([cols, (200 + 30 * np.sin(cols / 15)).astype(int)], axis=1)
    cv2.polylines(screen, [trace.astype(np.int32)], False, 255, 1)
    cv2.rectangle(screen, (40, 20), (200, 60), 255, 1)
    screen[80:150, 10:16] = 255
    cv2.arrowedLine(screen, (250, 30), (270, 45), 255, 1)

    assert find_letter_rows(screen) == ()


def test_tissue_gives_no_row():
    """Speckle without a plain ground is not taken for letters, even where nothing tells where the picture is."""
    rng = np.random.default_rng(5)
    screen = cv2.GaussianBlur(rng.integers(0, 256, (300, 400), dtype=np.uint8), (0, 0), 1.2)
    screen = cv2.normalize(screen, None, 0, 255, cv2.NORM_MINMAX)

    assert len(find_letter_rows(np.asarray(screen, np.uint8))) <= 2


@pytest.mark.parametrize("size", [0.3, 0.5])
def test_a_line_above_dense_speckle_is_found(size):
    """However many marks the picture holds, print outside it is not lost."""
    rng = np.random.default_rng(8)
    screen = ground(700, 900)
    screen[150:680, 200:880] = cv2.blur(rng.integers(0, 200, (530, 680), dtype=np.uint8), (3, 3))
    cv2.putText(screen, "Muffin Quillfeather", (20, 60), cv2.FONT_HERSHEY_SIMPLEX, size, 230, 1, cv2.LINE_AA)

    assert [row for row in find_letter_rows(screen) if row.row1 < 80 and row.col0 < 60]


def test_plain_and_hostile_screens_are_survived():
    """Black, white, one pixel, and a checkerboard of marks."""
    board = ground()
    board[::4, ::4] = 255
    for screen in (ground(), ground(level=255), np.zeros((1, 1), np.uint8), board):
        assert find_letter_rows(screen) == ()
