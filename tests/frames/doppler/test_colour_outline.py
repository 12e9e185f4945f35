"""The drawn outline of a colour box: found where it was drawn, on drawn fans and strips and on a real clip."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.frames.doppler.colour_outline import ColourOutline, find_outline, painted_outline
from fanlight.study import Box, Picture, Sector, Strip
from tests.frames.doppler.real_colour import EXPECTED, NAME, PICTURE, clip

FAN = Sector(
    apex_row_px=12.0, apex_col_px=300.0, left_deg=-42.0, right_deg=42.0, near_px=10.0, far_px=400.0, col_stretch=1.0
)
STRIP = Strip(box=Box(row0=20, col0=60, row1=420, col1=540))
DRAWN = ColourOutline(near=0.3, far=0.75, left=0.25, right=0.7, seen=1.0)


def darkest(
    picture: Picture, drawn: ColourOutline | None, ink: tuple[int, int, int], seed: int = 3
) -> NDArray[np.uint8]:
    """The darkest of some frames of speckle that moves, with an outline on all of them."""
    rng = np.random.default_rng(seed)
    frames = []
    for _ in range(12):
        grey = np.clip(70 * rng.rayleigh(1.0, (440, 600)), 0, 255).astype(np.uint8)
        frame = np.repeat(cv2.GaussianBlur(grey, (0, 0), 1.2)[..., None], 3, axis=2)
        if drawn is not None:
            points = np.array([[round(col), round(row)] for row, col in drawn.points(picture)], np.int32)
            cv2.polylines(frame, [points], True, ink, 1)
        frames.append(frame)
    return np.asarray(np.min(frames, axis=0), np.uint8)


def edges(outline: ColourOutline) -> tuple[float, float, float, float]:
    return outline.near, outline.far, outline.left, outline.right


@pytest.mark.parametrize("picture", [FAN, STRIP])
@pytest.mark.parametrize("ink", [(150, 154, 156), (224, 160, 60), (255, 255, 255)])
def test_a_drawn_box_is_found_where_it_was_drawn(picture: Picture, ink: tuple[int, int, int]) -> None:
    found = find_outline(darkest(picture, DRAWN, ink), picture)
    assert found is not None
    assert found.is_drawn
    assert edges(found) == pytest.approx(edges(DRAWN), abs=0.012)


def test_a_picture_without_a_box_has_none() -> None:
    assert find_outline(darkest(FAN, None, (0, 0, 0)), FAN) is None


def test_a_box_that_does_not_hold_the_colour_is_not_the_box() -> None:
    outside = ColourOutline(near=0.1, far=0.9, left=0.1, right=0.9, seen=0.0)
    assert find_outline(darkest(FAN, DRAWN, (200, 200, 200)), FAN, outside) is None


def test_three_edges_make_no_box() -> None:
    image = darkest(FAN, DRAWN, (200, 200, 200))
    row = round(FAN.point(DRAWN.far, 0.5)[0])
    image[row - 60 :] = 20  # the far arc is gone
    assert find_outline(image, FAN) is None


def test_the_share_of_the_fan_follows_from_geometry() -> None:
    # between two radii and two angles: (b² - a²) / (R² - r²) of the angle's share
    a, b = (10.0 + share * 390.0 for share in (0.3, 0.75))
    expected = (b**2 - a**2) / (400.0**2 - 10.0**2) * 0.45
    assert DRAWN.area_share(FAN) == pytest.approx(expected, rel=1e-6)
    assert DRAWN.area_share(STRIP) == pytest.approx(0.45 * 0.45)


def test_what_is_painted_is_a_bound_and_says_so() -> None:
    mask = np.zeros((440, 600), np.bool_)
    mask[200:300, 250:350] = True
    found = painted_outline(mask, STRIP)
    assert not found.is_drawn
    assert edges(found) == pytest.approx((0.45, 0.70, 0.396, 0.604), abs=0.01)


def test_a_real_box_lies_where_an_eye_saw_its_corners() -> None:
    # ring D: tests/real/expected.toml, written before this code
    row = EXPECTED[NAME]
    found = find_outline(np.asarray(clip().min(axis=0), np.uint8), PICTURE)
    assert found is not None
    places = [(found.near, found.left), (found.near, found.right), (found.far, found.right), (found.far, found.left)]
    corners = [PICTURE.point(*place) for place in places]
    slack = row["colour_box_corners_tol_px"] + 3  # an edge may be found two or three pixels beside its line
    for seen, here in zip(row["colour_box_corners_rc_px"], corners, strict=True):
        assert np.hypot(seen[0] - here[0], seen[1] - here[1]) <= slack
    low, high = row["colour_doppler"]["box_share_of_picture_range"]
    assert low <= found.area_share(PICTURE) <= high
