"""Whether tissue is seen beyond the near field: what stays in place from frame to frame and is no band or streak."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

_FROM_SHARE = 0.3  # of the depth: above it reverberation of the face lies (engineering judgement)
_EDGE_BEAMS = 6  # at each side, where the fan that was found may be off
_SMOOTH = (7, 7)  # samples and beams: speckle and noise go, walls stay (engineering judgement)
_LASTS_FROM = 0.9  # correlation of odd and even frames: noise has none, tissue 0.97 and more (clips of ring A)
# Correlation of the first and the last quarter of the frames: what persistence smears over some frames is gone by then,
# tissue is not. The most hidden clips of ring A have 0.53 and more, noise that loses 0.15 a frame has less than 0.5.
_STAYS_FROM = 0.5
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
    streaks go with the median of each row and column, noise is not the same in two frames. Frames that repeat an
    earlier one are left out, since there noise lasts as well as tissue does: nothing is said (0) of a still, nor of one
    that is stored as a clip.
    """
    deep = _distinct(beams[:, round(_FROM_SHARE * beams.shape[1]) :, _EDGE_BEAMS:-_EDGE_BEAMS])
    if len(deep) < 2:
        return 0.0
    quarter = max(1, len(deep) // 4)
    even, odd = (_beside_bands(deep[first::2].mean(axis=0)) for first in (0, 1))
    early, late = (_beside_bands(part.mean(axis=0)) for part in (deep[:quarter], deep[-quarter:]))
    if _correlation(even, odd) < _LASTS_FROM or _correlation(early, late) < _STAYS_FROM:
        return 0.0
    return float(np.percentile(np.abs(even + odd) / 2, _PERCENTILE))


def _distinct(frames: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the frames that are no copy of an earlier one."""
    kept: list[int] = []
    for index, frame in enumerate(frames):
        if not any(np.array_equal(frame, frames[before]) for before in kept):
            kept.append(index)
    return frames[kept]


def _correlation(first: NDArray[np.float32], second: NDArray[np.float32]) -> float:
    """Return how alike two pictures are, -1 to 1; 0 where one of them is flat."""
    spread = float(first.std() * second.std())
    return 0.0 if spread < 1e-3 else float((first * second).mean() - first.mean() * second.mean()) / spread


def _beside_bands(mean: NDArray[np.float32]) -> NDArray[np.float32]:
    smooth = cv2.blur(mean, _SMOOTH)
    smooth = smooth - np.median(smooth, axis=1, keepdims=True)
    return np.asarray(smooth - np.median(smooth, axis=0, keepdims=True), np.float32)
