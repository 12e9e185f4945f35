"""The picture in its square: a dot on the screen is found where the square says it lies."""

import numpy as np
import pytest

from fanlight.recognise.picture_square import MARGIN_PX, SIDE_PX, inside, square_of, to_square
from fanlight.study import Sector

PHASED = Sector(apex_row_px=30.0, apex_col_px=400.0, left_deg=-40.0, right_deg=40.0, near_px=0.0, far_px=520.0)
CURVED = Sector(apex_row_px=-60.0, apex_col_px=310.0, left_deg=-30.0, right_deg=32.0, near_px=90.0, far_px=560.0)
FLAT_PIXELS = Sector(
    apex_row_px=20.0, apex_col_px=260.0, left_deg=-35.0, right_deg=35.0, near_px=4.0, far_px=400.0, col_stretch=1.3
)
TINY = Sector(apex_row_px=4.0, apex_col_px=60.0, left_deg=-40.0, right_deg=40.0, near_px=0.0, far_px=90.0)
ALL = pytest.mark.parametrize("picture", [PHASED, CURVED, FLAT_PIXELS, TINY], ids=["phased", "curved", "flat", "tiny"])


@ALL
def test_the_picture_fills_the_square_true_to_scale(picture: Sector) -> None:
    mask = inside(square_of(picture).sector)
    rows, cols = np.nonzero(mask)
    longest = max(np.ptp(rows), np.ptp(cols)) + 1
    width = picture.far_px * (np.sin(np.radians(picture.right_deg)) - np.sin(np.radians(picture.left_deg)))
    height = picture.far_px - picture.near_px * np.cos(np.radians(max(picture.right_deg, -picture.left_deg)))

    assert longest == pytest.approx(SIDE_PX - 2 * MARGIN_PX, abs=2.5)
    assert (np.ptp(cols) + 1) / (np.ptp(rows) + 1) == pytest.approx(width / height, rel=0.04)


@ALL
@pytest.mark.parametrize("place", [(0.3, 0.5), (0.7, 0.2), (0.85, 0.75)])
def test_a_dot_is_found_where_the_square_says(picture: Sector, place: tuple[float, float]) -> None:
    row, col = picture.point(*place)
    rows, cols = np.mgrid[0:620, 0:820]
    size = 0.02 * picture.far_px
    dot = np.exp(-((rows - row) ** 2 + ((cols - col) * picture.col_stretch) ** 2) / (2 * size**2))
    square = to_square((255 * dot).astype(np.uint8)[None], picture)[0].astype(float)
    at = np.array([(np.mgrid[0:SIDE_PX, 0:SIDE_PX][k] * square).sum() / square.sum() for k in (0, 1)])

    found = square_of(picture).to_screen(at, picture)

    assert found == pytest.approx(np.array([row, col]), abs=0.6 * square_of(picture).rows_per_px + 0.2)


def test_all_around_the_picture_is_black() -> None:
    white = np.full((2, 620, 820), 255, np.uint8)
    square = to_square(white, PHASED)

    assert square.shape == (2, SIDE_PX, SIDE_PX)
    assert (square[:, ~inside(square_of(PHASED).sector)] == 0).all()
    assert square[:, inside(square_of(PHASED).sector)].mean() > 250
