"""A photograph of a console's screen: what a practice sends when it cannot export.

The screen is seen a little from the side, with a lamp's light on it, the stripes that two grids make together, blur,
noise and JPEG (engineering judgement throughout; no real photograph was at hand).
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

LEAN_SHARE = 0.025  # of the side: how far a corner lies off its place
MARGIN_SHARE = 0.06  # of what lies around the screen
STRIPES, LIGHT, NOISE_LEVELS = 0.05, 0.25, 3.0
QUALITY = (55, 85)


def photographed(rng: np.random.Generator, screen: NDArray[np.uint8]) -> bytes:
    """Return a JPEG of a screen (row, col, 3)."""
    rows, cols = screen.shape[:2]
    wide, high = round(cols * (1 + 2 * MARGIN_SHARE)), round(rows * (1 + 2 * MARGIN_SHARE))
    corners = np.array([[0, 0], [cols, 0], [cols, rows], [0, rows]], np.float32)
    off = rng.uniform(-LEAN_SHARE, LEAN_SHARE, (4, 2)) * [cols, rows]
    margin = MARGIN_SHARE * np.array([cols, rows])
    to = (corners + margin + off).astype(np.float32)
    way = cv2.getPerspectiveTransform(corners, to)
    around = tuple(float(v) for v in rng.uniform(15, 45, 3))
    seen = cv2.warpPerspective(screen, way, (wide, high), borderMode=cv2.BORDER_CONSTANT, borderValue=around)
    row, col = np.mgrid[0:high, 0:wide].astype(np.float64)
    turn = rng.uniform(0, np.pi)
    stripes = 1 + STRIPES * np.sin(2 * np.pi * (row * np.sin(turn) + col * np.cos(turn)) / rng.uniform(4, 14))
    lamp_row, lamp_col, width = rng.uniform(0, high), rng.uniform(0, wide), rng.uniform(0.2, 0.5) * wide
    lamp = 255 * LIGHT * rng.random() * np.exp(-((row - lamp_row) ** 2 + (col - lamp_col) ** 2) / (2 * width**2))
    grey = seen.astype(np.float64) * stripes[..., None] * rng.uniform(0.75, 1.05) + lamp[..., None] + rng.uniform(0, 12)
    grey = cv2.GaussianBlur(grey, (0, 0), rng.uniform(0.6, 1.3)) + rng.normal(0, NOISE_LEVELS, grey.shape)
    quality = int(rng.integers(*QUALITY))
    done, code = cv2.imencode(".jpg", np.clip(grey, 0, 255).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, quality])
    if not done:
        raise RuntimeError("OpenCV could not write a JPEG")
    return bytes(code.tobytes())
