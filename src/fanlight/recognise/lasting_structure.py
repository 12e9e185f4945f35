"""Whether tissue is seen beyond the near field: what stays in place from frame to frame and is no band or streak."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

_FROM_SHARE = 0.3  # of the depth: above it reverberation of the face lies (engineering judgement)
_EDGE_BEAMS = 6  # at each side, where the fan that was found may be off
_SMOOTH = (7, 7)  # samples and beams: speckle and noise go, walls stay (engineering judgement)
_LASTS_FROM = 0.9  # correlation of odd and even frames: noise has none, tissue 0.97 and more (clips of ring A)
_PERCENTILE = 75.0  # of the samples: marks of the console that no word reader knows cover less than a quarter


def lasting_structure(beams: NDArray[np.float32]) -> float:
    """Return how strongly structures stand out that last beyond the near field, in grey levels; 0 where none do.

    Parameters
    ----------
    beams : ndarray of shape (frame, depth, beam)
        Grey along the beams.

    Notes
    -----
    A probe in air shows bands that run straight across, streaks of single elements and, further down, noise. Bands and
    streaks go with the median of each row and column, noise is not the same in two frames. Says nothing (0) of a still
    and of one that is stored as a clip: there noise lasts as well as tissue.
    """
    if len(beams) < 2 or np.array_equal(beams[0], beams[-1]):
        return 0.0
    deep = beams[:, round(_FROM_SHARE * beams.shape[1]) :, _EDGE_BEAMS:-_EDGE_BEAMS]
    even, odd = (_beside_bands(deep[first::2].mean(axis=0)) for first in (0, 1))
    spread = float(even.std() * odd.std())
    if spread < 1e-3 or float((even * odd).mean() - even.mean() * odd.mean()) < _LASTS_FROM * spread:
        return 0.0
    return float(np.percentile(np.abs(even + odd) / 2, _PERCENTILE))


def _beside_bands(mean: NDArray[np.float32]) -> NDArray[np.float32]:
    smooth = cv2.blur(mean, _SMOOTH)
    smooth = smooth - np.median(smooth, axis=1, keepdims=True)
    return np.asarray(smooth - np.median(smooth, axis=0, keepdims=True), np.float32)
