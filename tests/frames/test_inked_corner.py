"""Pieces of the cut mask are those of the whole one, in the same order."""

import cv2
import numpy as np
import pytest

from fanlight.frames.inked_corner import inked_corner


@pytest.mark.parametrize("connectivity", [4, 8])
@pytest.mark.parametrize("seed", range(12))
def test_pieces_are_numbered_as_in_the_whole_mask(seed, connectivity):
    """Blots at odd places and at the rim, some of which touch at a corner only."""
    rng = np.random.default_rng(seed)
    whole = np.zeros((61, 83), np.uint8)
    row, col = rng.integers(0, 30), rng.integers(0, 40)
    blots = rng.random((61 - row - rng.integers(0, 20), 83 - col - rng.integers(0, 20))) < 0.2
    whole[row : row + blots.shape[0], col : col + blots.shape[1]] = 255 * blots

    cut, top, left = inked_corner(whole)
    _, labels, stats, middles = cv2.connectedComponentsWithStats(whole, connectivity=connectivity)
    _, own_labels, own_stats, own_middles = cv2.connectedComponentsWithStats(cut, connectivity=connectivity)

    assert cut.size < whole.size
    assert (top % 2, left % 2) == (0, 0)
    assert np.array_equal(own_labels, labels[top : top + cut.shape[0], left : left + cut.shape[1]])
    assert np.array_equal(own_stats[1:] + np.array([left, top, 0, 0, 0]), stats[1:])
    assert np.allclose(own_middles[1:] + np.array([left, top]), middles[1:])


def test_empty_mask_leaves_nothing():
    assert inked_corner(np.zeros((20, 30), np.uint8))[0].size == 0
