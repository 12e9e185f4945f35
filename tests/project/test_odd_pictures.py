"""Pictures on which recognition must stay silent or careful: drawn as they are meant, alike for a seed."""

import cv2
import numpy as np
import pytest

from measure._other_organs import APEX_ROW, FRAMES, ORGANS, draw_organ
from measure._screen_photo import MARGIN_SHARE, photographed


@pytest.mark.parametrize("organ", ORGANS)
def test_an_organ_fills_a_fan_with_speckle_and_moves(organ: str) -> None:
    frames = draw_organ(np.random.default_rng(3), organ)
    again = draw_organ(np.random.default_rng(3), organ)

    assert len(frames) == FRAMES
    np.testing.assert_array_equal(frames, again)
    assert frames[:, : int(APEX_ROW)].max() == 0  # nothing above the probe
    inside = frames[0][frames[0] > 0]
    assert 20 < inside.std() < 90
    assert np.abs(frames[1].astype(int) - frames[0]).mean() > 1


def test_a_bladder_holds_no_echo() -> None:
    """Urine sends nothing back (common practice, no source)."""
    bladder = draw_organ(np.random.default_rng(5), "urinary bladder")[0]

    assert np.median(bladder[195:215, 310:330]) < 10 < np.median(bladder[60:100, 310:330])


def test_a_photograph_holds_the_screen_a_little_askew() -> None:
    screen = np.full((300, 400, 3), 200, np.uint8)
    seen = cv2.imdecode(np.frombuffer(photographed(np.random.default_rng(1), screen), np.uint8), cv2.IMREAD_COLOR)
    assert seen is not None
    other = photographed(np.random.default_rng(2), screen)

    assert seen.shape[0] == round(300 * (1 + 2 * MARGIN_SHARE))
    assert seen[150, 200].mean() > 110 > seen[2, 2].mean()
    assert other != photographed(np.random.default_rng(1), screen)
