"""Screens of organs that are no heart, drawn by hand: what a probe off the chest, or a mixed folder, shows.

Bladder, liver, kidney and a fluid-filled chest are drawn from what the trade knows of their looks (common practice, no
source): echo strengths in decibels over the fan, speckle that grows with depth, a grey curve. The network has learnt
liver and fluid beside a heart, and none of these pictures. They are coarser than real ones; they show only whether
anything with a fan and speckle is believed.
"""

from __future__ import annotations

from collections.abc import Callable

import cv2
import numpy as np
from numpy.typing import NDArray

ROWS, COLS, FRAMES = 480, 640, 6
APEX_ROW, APEX_COL, HALF_DEG, FAR_PX = 40.0, 320.0, 38.0, 400.0
RANGE_DB = 55.0  # from black to white
SPECKLE_PX, SPECKLE_WIDENS = 1.2, 5.0  # along the beam; how much wider across at the far end
NOTHING_DB = -60.0

Map = NDArray[np.float64]


def _blob(row: float, col: float, half_rows: float, half_cols: float, turn_deg: float = 0.0) -> Map:
    """Return the distance of each pixel from the middle of an ellipse, 1 at its border."""
    down, aside = np.mgrid[0:ROWS, 0:COLS].astype(np.float64) - np.array([row, col])[:, None, None]
    turn = np.radians(turn_deg)
    along, across = aside * np.cos(turn) + down * np.sin(turn), down * np.cos(turn) - aside * np.sin(turn)
    return np.asarray(np.hypot(along / half_cols, across / half_rows))


def _bladder(rng: np.random.Generator) -> Map:
    """Echo-free, with a thin bright wall and brighter tissue behind it."""
    row, col, down, aside = rng.uniform(170, 240), rng.uniform(280, 360), rng.uniform(60, 110), rng.uniform(80, 150)
    place = _blob(row, col, down, aside, rng.uniform(-20, 20))
    db = np.full((ROWS, COLS), -22.0)
    behind = np.mgrid[0:ROWS, 0:COLS][0] > row
    db[behind & (np.abs(np.mgrid[0:ROWS, 0:COLS][1] - col) < 0.8 * aside)] += 8.0
    db[(place >= 1.0) & (place < 1.06)] = -8.0
    db[place < 1.0] = NOTHING_DB
    return db


def _liver(rng: np.random.Generator) -> Map:
    """Even grey with dark vessels, some with bright walls, and the bright line of the diaphragm."""
    db = np.full((ROWS, COLS), -24.0)
    for _ in range(int(rng.integers(4, 9))):
        place = _blob(
            rng.uniform(120, 380), rng.uniform(200, 440), rng.uniform(5, 14), rng.uniform(30, 120), rng.uniform(0, 180)
        )
        if rng.random() < 0.5:
            db[(place >= 1.0) & (place < 1.35)] = -12.0
        db[place < 1.0] = -50.0
    ring = _blob(rng.uniform(-150, -50), APEX_COL, rng.uniform(470, 540), rng.uniform(420, 600))
    db[np.abs(ring - 1.0) < 0.01] = 0.0
    return db


def _kidney(rng: np.random.Generator) -> Map:
    """A grey bean with darker pyramids around a bright middle."""
    row, col, turn = rng.uniform(190, 250), rng.uniform(290, 350), rng.uniform(-25, 25)
    half_rows, half_cols = rng.uniform(55, 80), rng.uniform(100, 140)
    db = np.full((ROWS, COLS), -20.0)
    whole = _blob(row, col, half_rows, half_cols, turn)
    db[(whole >= 1.0) & (whole < 1.03)] = -8.0
    db[whole < 1.0] = -28.0
    for angle in np.linspace(0, 2 * np.pi, 9)[:-1]:
        pyramid = _blob(
            row + 0.6 * half_rows * np.sin(angle), col + 0.6 * half_cols * np.cos(angle), 0.2 * half_rows,
            0.16 * half_cols, turn,
        )  # fmt: skip
        db[pyramid < 1.0] = -40.0
    db[_blob(row, col, 0.3 * half_rows, 0.45 * half_cols, turn) < 1.0] = -8.0
    return db


def _fluid(rng: np.random.Generator) -> Map:
    """Fluid with floating lobes: dark, the lobes grey with a bright edge, and bright tissue behind."""
    db = np.full((ROWS, COLS), -52.0)
    for _ in range(int(rng.integers(1, 4))):
        place = _blob(
            rng.uniform(150, 350), rng.uniform(220, 420), rng.uniform(30, 70), rng.uniform(40, 100), rng.uniform(0, 180)
        )
        db[place < 1.0] = -20.0
        db[(place >= 1.0) & (place < 1.05)] = -6.0
    db[np.mgrid[0:ROWS, 0:COLS][0] > rng.uniform(360, 410)] = -12.0
    return db


ORGANS: dict[str, Callable[[np.random.Generator], Map]] = {
    "urinary bladder": _bladder, "liver with vessels": _liver, "kidney": _kidney, "fluid in the chest": _fluid,
}  # fmt: skip


def _speckle(rng: np.random.Generator, depth_share: Map) -> Map:
    """Return the amplitude of speckle, wider across the further away."""
    fields = rng.normal(size=(2, ROWS, COLS))
    near, far = (
        np.stack([cv2.GaussianBlur(field, (0, 0), sigmaX=SPECKLE_PX * wide, sigmaY=SPECKLE_PX) for field in fields])
        for wide in (1.0, SPECKLE_WIDENS)
    )
    near, far = (field / field.std() for field in (near, far))
    mixed = near * np.sqrt(1 - depth_share) + far * np.sqrt(depth_share)
    return np.asarray(np.hypot(mixed[0], mixed[1]) / np.sqrt(2))


def draw_organ(rng: np.random.Generator, organ: str) -> NDArray[np.uint8]:
    """Return a short clip (frame, row, col) of an organ of ORGANS that breath moves a little."""
    row, col = np.mgrid[0:ROWS, 0:COLS].astype(np.float64)
    radius = np.hypot(row - APEX_ROW, col - APEX_COL)
    angle = np.degrees(np.arctan2(col - APEX_COL, row - APEX_ROW))
    fan = (radius <= FAR_PX) & (radius > 6.0) & (np.abs(angle) <= HALF_DEG)
    depth = np.clip(radius / FAR_PX, 0.0, 1.0)
    echo_db = ORGANS[organ](rng)
    said_db = 20 * np.log10(np.maximum(_speckle(rng, depth), 1e-4)) + echo_db
    frames = []
    for step in range(FRAMES):
        way = np.array([[1.0, 0.0, 1.5 * np.sin(step)], [0.0, 1.0, 2.5 * np.sin(0.7 * step)]])
        moved_db = cv2.warpAffine(said_db, way, (COLS, ROWS), borderMode=cv2.BORDER_REPLICATE)
        noise_db = rng.normal(0.0, 0.7, moved_db.shape)
        grey = 255 * np.clip(1 + (moved_db + noise_db) / RANGE_DB, 0.0, 1.0)
        frames.append(np.where(fan, grey, 0.0).astype(np.uint8))
    return np.stack(frames)
