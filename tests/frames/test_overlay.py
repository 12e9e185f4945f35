"""The overlay keeps what stands still; its key tells overlays with different text apart."""

import cv2
import numpy as np
import pytest

from fanlight.frames.overlay import overlay_key, overlay_of, passing_overlay_of, picture_mask
from fanlight.study import Box, Sector, Strip

SECTOR = Sector(apex_row_px=20, apex_col_px=200, left_deg=-40, right_deg=40, near_px=5, far_px=250)
STRIP = Strip(box=Box(row0=30, col0=100, row1=250, col1=300))


def screen(seed, words="15 cm", *, n=8, inside="", picture=SECTOR, late=None):
    """Frames with moving speckle in the picture, fixed words outside it, and words that come late."""
    rng = np.random.default_rng(seed)
    frames = np.zeros((n, 300, 400), np.uint8)
    mask = picture_mask(picture, 300, 400)
    frames[:, mask] = rng.integers(0, 200, (n, int(mask.sum())), dtype=np.uint8)
    for index, frame in enumerate(frames):
        cv2.putText(frame, words, (5, 20), cv2.FONT_HERSHEY_SIMPLEX, 0.5, 220, 1, cv2.LINE_AA)
        if inside:
            cv2.putText(frame, inside, (170, 150), cv2.FONT_HERSHEY_SIMPLEX, 0.5, 255, 1)
        if late and index >= n // 2:
            cv2.putText(frame, late, (5, 290), cv2.FONT_HERSHEY_SIMPLEX, 0.5, 220, 1, cv2.LINE_AA)
    return frames


def test_moving_speckle_fades_and_text_stays():
    """The lowest value of each pixel keeps text at full brightness and most speckle near black."""
    frames = screen(1)

    overlay = overlay_of(frames)

    outside = ~picture_mask(SECTOR, 300, 400)
    assert np.array_equal(overlay[outside], frames[0][outside])
    assert overlay[~outside].mean() < 0.3 * frames[0][~outside].mean()


def test_a_still_is_its_own_overlay():
    """One frame, grey or colour, comes back as it is."""
    frame = screen(2)[:1]

    assert np.array_equal(overlay_of(frame), frame[0])
    assert overlay_of(np.repeat(frame[..., None], 3, axis=3)).shape == (300, 400, 3)


def test_another_heart_under_the_same_text_gives_the_same_key():
    """What moves in the picture does not count."""
    assert overlay_key(overlay_of(screen(3)), SECTOR) == overlay_key(overlay_of(screen(4)), SECTOR)


@pytest.mark.parametrize(
    "other",
    [
        pytest.param(screen(3, "16 cm"), id="another depth outside"),
        pytest.param(screen(3, inside="Muffin"), id="words on the picture"),
        pytest.param(screen(3)[:, :290], id="another size"),
    ],
)
def test_other_text_gives_another_key(other):
    """Different words never share a reading."""
    assert overlay_key(overlay_of(screen(3)), SECTOR) != overlay_key(overlay_of(other), SECTOR)


def test_dim_text_counts():
    """A faint name is a name: letters a sixteenth of full scale above black change the key."""
    plain = overlay_of(screen(5))
    dim = plain.copy()
    cv2.putText(dim, "Muffin", (5, 280), cv2.FONT_HERSHEY_SIMPLEX, 0.5, 32, 1)

    assert overlay_key(plain, SECTOR) != overlay_key(dim, SECTOR)


def test_text_that_comes_late_is_seen():
    """A name shown in some frames only is missing from the overlay and there in the passing one."""
    frames = screen(6, late="Muffin")

    passing = passing_overlay_of(frames, SECTOR)

    assert overlay_of(frames)[275:].max() == 0
    assert passing is not None
    assert np.array_equal(passing[275:, :80], frames[-1][275:, :80])
    assert passing[100, 200] == 0  # the picture itself is left out
    assert passing_overlay_of(screen(6), SECTOR) is None
    assert passing_overlay_of(frames[:1], SECTOR) is None


@pytest.mark.parametrize("picture", [SECTOR, STRIP])
def test_the_mask_is_the_picture(picture):
    """Points inside by the picture's own geometry are on the mask, points beyond its edges are not."""
    mask = picture_mask(picture, 300, 400)
    for depth in (0.05, 0.5, 0.95):
        for beam in (0.02, 0.5, 0.98):
            row, col = picture.point(depth, beam)
            assert mask[round(row), round(col)]
        for beam in (-0.1, 1.1):
            row, col = picture.point(depth, beam)
            assert not mask[round(row), min(max(round(col), 0), 399)] or depth == 0.05
    wide = picture_mask(picture, 300, 400, margin_px=6)
    assert wide.sum() > mask.sum()
    assert (wide | mask).sum() == wide.sum()
    assert not picture_mask(None, 300, 400).any()


@pytest.mark.parametrize("margin_px", [0.0, 7.0])
@pytest.mark.parametrize("picture", [SECTOR, STRIP, None], ids=["sector", "strip", "none"])
@pytest.mark.parametrize(
    "window", [Box(row0=0, col0=0, row1=300, col1=400), Box(row0=41, col0=150, row1=260, col1=320),
               Box(row0=0, col0=0, row1=20, col1=60)],
    ids=["whole", "part", "beside"],
)  # fmt: skip
def test_mask_of_a_window_is_that_part_of_the_whole(picture, margin_px, window):
    whole = picture_mask(picture, 300, 400, margin_px)
    part = picture_mask(picture, 300, 400, margin_px, window)

    assert np.array_equal(part, whole[window.row0 : window.row1, window.col0 : window.col1])
