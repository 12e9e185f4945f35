"""Where in the picture something beats: the part of the change over time that lasts from one frame to the next."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.study import PictureChunk

# Coarse cells of 4 x 4 samples: speckle and noise average out, walls remain.
CELL_DEPTHS, CELL_BEAMS = 64, 32
# Frames that must be seen before anything is said about motion.
FEWEST_FRAMES = 8
# Change over time, in grey levels of a cell, from which a cell counts as beating (engineering judgement: a wall that
# passes through a cell changes it by 30 and more, residual speckle and noise by 2 to 3).
BEATING_LEVELS = 5.0
CHANCE_SIGMAS = 4.0  # of 2048 cells of noise less than one passes by chance


class BeatingMap:
    """Running covariance of each coarse cell with itself one frame later.

    Electronic noise is new in each frame, so its covariance is zero however strong it is; a wall that moves over
    several frames keeps nearly its full variance. That is why the map can tell a beating heart from a noisy far field.
    """

    def __init__(self) -> None:
        shape = (CELL_DEPTHS, CELL_BEAMS)
        self._last: NDArray[np.float32] | None = None
        self._first_sum = np.zeros(shape, np.float32)
        self._second_sum = np.zeros(shape, np.float32)
        self._product = np.zeros(shape, np.float32)
        self._steps = np.zeros(shape, np.float32)  # squared change from one frame to the next
        self._total = np.zeros(shape, np.float32)
        self.n_frames = 0

    def add(self, chunk: PictureChunk) -> None:
        """Take in all frames of a chunk."""
        if chunk.beams is None:
            return
        for frame in chunk.beams:
            cells = cv2.resize(frame, (CELL_BEAMS, CELL_DEPTHS), interpolation=cv2.INTER_AREA).astype(np.float32)
            if self._last is not None:
                self._first_sum += self._last
                self._second_sum += cells
                self._product += self._last * cells
                self._steps += (cells - self._last) ** 2
            self._last = cells
            self._total += cells
            self.n_frames += 1

    @property
    def mean(self) -> NDArray[np.float32]:
        """Mean grey level of each cell, shape (depth cell, beam cell)."""
        return np.asarray(self._total / max(1, self.n_frames), np.float32)

    @property
    def energy(self) -> NDArray[np.float64]:
        """Beating variance of each cell, grey levels squared, shape (depth cell, beam cell); 0 where nothing beats."""
        pairs = self.n_frames - 1
        if pairs < FEWEST_FRAMES - 1:
            return np.zeros(self._total.shape)
        covariance = self._product / pairs - (self._first_sum / pairs) * (self._second_sum / pairs)
        # Half the mean squared step is the variance of what is new in each frame; the covariance of pure noise scatters
        # about zero with that variance divided by the root of the number of pairs.
        chance = CHANCE_SIGMAS * 0.5 * self._steps / pairs / np.sqrt(pairs)
        beats = (covariance > BEATING_LEVELS**2) & (covariance > chance)
        return np.where(beats, covariance, 0.0).astype(np.float64)


def quantile_place(weights: NDArray[np.float64], share: float) -> float:
    """Return how far along (0 to 1) a share of the weight is reached; cells are filled evenly."""
    total = np.concatenate([[0.0], np.cumsum(weights)])
    return float(np.interp(share * total[-1], total, np.linspace(0, 1, len(total))))
