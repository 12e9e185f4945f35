"""The blur of the machine, applied to the echoes of many frames at once as products of matrices.

Matrices allow any shape of beam, side lobes included, and another one at each depth; they are what processors and
graphics cards are fastest at. Array-API code.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from fanlight.simulate.machine.point_spread import SAMPLES_A_ZONE, PointSpread

Array = Any

# Samples along a line are blurred in pieces: the band of the axial matrix is narrow, most of it is zero.
_PIECE = 48


def along_blocks(xp: Any, spread: PointSpread) -> tuple[tuple[int, int, int, int, Array], ...]:
    """Return the axial matrix as blocks (row from, row to, column from, column to, block) without its zeros."""
    matrix = spread.axial
    n = matrix.shape[0]
    blocks = []
    for start in range(0, n, _PIECE):
        stop = min(start + _PIECE, n)
        used = np.nonzero(np.abs(matrix[start:stop]).max(axis=0) > 1e-4)[0]
        low, high = int(used[0]), int(used[-1]) + 1
        blocks.append((start, stop, low, high, xp.asarray(np.ascontiguousarray(matrix[start:stop, low:high]))))
    return tuple(blocks)


def blur_along(xp: Any, blocks: tuple[tuple[int, int, int, int, Array], ...], echoes: Array) -> Array:
    """Blur echoes (stack, sample, line) by the pulse."""
    return xp.concat([xp.matmul(block, echoes[:, low:high, :]) for _, _, low, high, block in blocks], axis=1)


def blur_across(xp: Any, lateral: Array, echoes: Array) -> Array:
    """Blur echoes (stack, sample, line) by the beam: `lateral` is (zone, line, line)."""
    stack, samples, lines = echoes.shape
    zones = lateral.shape[0]
    missing = zones * SAMPLES_A_ZONE - samples
    if missing:
        echoes = xp.concat([echoes, xp.zeros((stack, missing, lines), dtype=echoes.dtype)], axis=1)
    by_zone = xp.permute_dims(xp.reshape(echoes, (stack, zones, SAMPLES_A_ZONE, lines)), (1, 0, 2, 3))
    blurred = xp.matmul(xp.reshape(by_zone, (zones, stack * SAMPLES_A_ZONE, lines)), lateral)
    back = xp.permute_dims(xp.reshape(blurred, (zones, stack, SAMPLES_A_ZONE, lines)), (1, 0, 2, 3))
    return xp.reshape(back, (stack, zones * SAMPLES_A_ZONE, lines))[:, :samples, :]
