"""The Doppler cursor on a guide picture, read from its pixels: at which angle it lies, and what is drawn on it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.colour_box import chroma
from fanlight.frames.find_picture import find_picture
from fanlight.study import Box, Picture, Point, Sector

Floats = NDArray[np.float32]

# Levels by which a mark stands out from what lies 3 px beside it, in colour or in grey (engineering judgement).
_INK_COLOUR, _INK_GREY = 6.0, 45.0
_BESIDE_PX = 3.0
_ANGLE_STEP_DEG = 0.4
_SHIFTS_PX = (0.0, -2.0, 2.0, -4.0, 4.0, -6.0, 6.0, -8.0, 8.0)
_LEAST_COLOUR, _LEAST_GREY = 0.18, 0.6  # share of the depth over which the line is seen; speckle is rarely so long
_LEAST_ROWS_ABOVE = 60  # of the screen above a strip, for a guide
_EDGE_SHARE = 0.06  # of the width, kept clear: the edge of the picture is a line too
_ASIDE_PX = 16  # half the width that is looked at beside the cursor
# Marks of a gate and of a crossing, as consoles draw them; exports are larger or smaller.
_BAR_HALVES_PX, _BAR_GAPS_PX, _RINGS_PX = (5, 7, 9), (3, 4, 5, 6, 8, 10, 13), (4, 5, 6, 7)
_ROUND_PX, _SOFT_PX, _LEAST_FIT = 3, 0.8, 0.4  # about a mark; of the blur; below: no mark


@dataclass(frozen=True, slots=True, kw_only=True)
class Cursor:
    """A line along the beams of a guide picture, and the marks on it."""

    angle_deg: float  # from straight down, positive to the right of the screen
    clearness: float  # share of the depth over which it is seen
    mark: Point | None  # (row, col) of the gate, or of where the beams of a continuous wave cross
    bars_fit: float  # how well the mark is two bars across the line, as of a gate: correlation
    ring_fit: float  # how well it is a ring

    @property
    def gate(self) -> Point | None:
        """Middle of the gate (row, col), where the mark is one."""
        return self.mark if self.bars_fit > self.ring_fit else None


def find_guide(picture: Picture | None, grey: NDArray[np.uint8], strip: Box) -> Sector | None:
    """Return the fan of the guide above a strip, or None.

    Parameters
    ----------
    picture : Sector, Strip or None
        What was found as the picture of the screen: the guide, or the strip itself.
    grey : ndarray of shape (row, col)
        The screen.
    strip : Box
        Where the strip lies.
    """
    if isinstance(picture, Sector):
        return picture
    if strip.row0 < _LEAST_ROWS_ABOVE:
        return None
    found, _, _ = find_picture(np.ascontiguousarray(grey[None, : strip.row0]))
    return found if isinstance(found, Sector) else None


def find_cursor(frame: NDArray[np.uint8], guide: Sector) -> Cursor | None:
    """Return the Doppler cursor on a guide picture, or None where no line stands out.

    Parameters
    ----------
    frame : ndarray of shape (row, col, 3) or (row, col)
        The screen.
    guide : Sector
        Where the guide lies on it.
    """
    for value, ink, least in _values(frame):
        line, angle, share = _clearest(value, guide, ink)
        if share >= least:
            mark = _marks(_thin(value, frame), line, angle)
            place, bars, ring = (None, 0.0, 0.0) if mark is None else mark
            return Cursor(angle_deg=angle, clearness=share, mark=place, bars_fit=bars, ring_fit=ring)
    return None


def _thin(value: Floats, frame: NDArray[np.uint8]) -> Floats:
    """Return the value where thin lines are, in brightness too: compression smears the colour of a mark about it."""
    grey = frame if frame.ndim == 2 else cv2.cvtColor(np.ascontiguousarray(frame), cv2.COLOR_RGB2GRAY)
    lines = cv2.morphologyEx(np.asarray(grey, np.uint8), cv2.MORPH_TOPHAT, np.ones((5, 5), np.uint8))
    return np.asarray(np.minimum(2.0 * value, lines), np.float32)


def _values(frame: NDArray[np.uint8]) -> list[tuple[Floats, float, float]]:
    """What a mark can stand out in: its colour from a grey picture; else its brightness."""
    if frame.ndim == 2:
        return [(frame.astype(np.float32), _INK_GREY, _LEAST_GREY)]
    colour = chroma(np.ascontiguousarray(frame)).astype(np.float32)
    grey = cv2.cvtColor(np.ascontiguousarray(frame), cv2.COLOR_RGB2GRAY).astype(np.float32)
    return [(colour, _INK_COLOUR, _LEAST_COLOUR), (grey, _INK_GREY, _LEAST_GREY)]


def _at(value: Floats, guide: Sector, angles_deg: Floats, radii: Floats, aside_px: float) -> Floats:
    """Return the values at (radius, angle), shifted aside across the beam."""
    turn = np.radians(angles_deg)
    rows = guide.apex_row_px + radii * np.cos(turn) - aside_px * np.sin(turn)
    cols = guide.apex_col_px + (radii * np.sin(turn) + aside_px * np.cos(turn)) / guide.col_stretch
    out = cv2.remap(value, cols.astype(np.float32), rows.astype(np.float32), cv2.INTER_LINEAR)
    return np.asarray(out, np.float32)


def _clearest(value: Floats, guide: Sector, ink: float) -> tuple[Sector, float, float]:
    """Return the line that stands out over most of the depth: apex, angle, and share of the depth.

    The apex of a small guide is found to within some pixels, so that its neighbours are tried as well.
    """
    tried = (replace(guide, apex_col_px=guide.apex_col_px + shift) for shift in _SHIFTS_PX)
    return max(((apex, *_clearest_from(value, apex, ink)) for apex in tried), key=lambda found: found[2])


def _clearest_from(value: Floats, guide: Sector, ink: float) -> tuple[float, float]:
    edge = _EDGE_SHARE * guide.width_deg
    angles = np.arange(guide.left_deg + edge, guide.right_deg - edge, _ANGLE_STEP_DEG, dtype=np.float32)
    radii = np.arange(guide.near_px + 0.08 * guide.depth_px, guide.far_px, 1.0, dtype=np.float32)
    grid_a, grid_r = np.meshgrid(angles, radii)
    middle = np.max([_at(value, guide, grid_a, grid_r, s) for s in (-0.7, 0.0, 0.7)], axis=0)
    beside = np.maximum(_at(value, guide, grid_a, grid_r, -_BESIDE_PX), _at(value, guide, grid_a, grid_r, _BESIDE_PX))
    stands_out = middle - beside >= ink
    # a line is met over the whole depth; a speck of tissue in some place only: each quarter counts at most as the mean
    quarters = np.stack([part.mean(axis=0) for part in np.array_split(stands_out, 4)])
    share = np.minimum(quarters, 1.5 * np.median(quarters, axis=0)).mean(axis=0)
    best = int(np.argmax(share))
    return float(angles[best]), float(share[best])


def _marks(thin: Floats, guide: Sector, angle_deg: float) -> tuple[Point, float, float] | None:
    """Return where a mark is drawn on the cursor, and how well bars and a ring fit it, -1 to 1."""
    radii = np.arange(guide.near_px, guide.far_px, 1.0, dtype=np.float32)
    angles = np.full((len(radii), 1), angle_deg, np.float32)
    aside = range(-_ASIDE_PX, _ASIDE_PX + 1)
    patch = np.concatenate([_at(thin, guide, angles, radii[:, None], float(s)) for s in aside], axis=1)
    patch = cv2.GaussianBlur(patch, (0, 0), _SOFT_PX)
    bars, rings = (max(_best(patch, item) for item in kind) for kind in _templates())
    row = max(bars, rings)[1]
    if max(bars, rings)[0] < _LEAST_FIT:
        return None
    return _point(guide, angle_deg, float(guide.near_px + row)), bars[0], rings[0]


def _best(patch: Floats, template: Floats) -> tuple[float, float]:
    """Return how well a template fits its best place, and the row of its middle there."""
    if patch.shape[0] < template.shape[0] or patch.shape[1] < template.shape[1]:
        return -1.0, 0.0
    fit = cv2.matchTemplate(patch, template, cv2.TM_CCOEFF_NORMED)
    _, best, _, (_, row) = cv2.minMaxLoc(fit)
    return float(best), row + template.shape[0] / 2


@lru_cache(maxsize=1)
def _templates() -> tuple[tuple[Floats, ...], tuple[Floats, ...]]:
    """Return bars of several widths and distances, joined to boxes and not, and rings of several sizes."""
    bars, rings = [], []
    for half in _BAR_HALVES_PX:
        for gap in _BAR_GAPS_PX:
            for joined in (False, True):
                mark = np.zeros((gap + 1 + 2 * _ROUND_PX, 2 * _ASIDE_PX - 3), np.float32)
                middle = mark.shape[1] // 2
                for row in (_ROUND_PX, _ROUND_PX + gap):
                    mark[row, middle - half : middle + half + 1] = 255
                if joined:
                    mark[_ROUND_PX : _ROUND_PX + gap + 1, [middle - half, middle + half]] = 255
                bars.append(mark)
    for radius in _RINGS_PX:
        mark = np.zeros((2 * (radius + _ROUND_PX) + 1, 2 * _ASIDE_PX - 3), np.float32)
        cv2.circle(mark, (mark.shape[1] // 2, mark.shape[0] // 2), radius, 255, 1)
        rings.append(mark)
    soft = [tuple(cv2.GaussianBlur(mark, (0, 0), _SOFT_PX) for mark in kind) for kind in (bars, rings)]
    return soft[0], soft[1]


def _point(guide: Sector, angle_deg: float, radius_px: float) -> Point:
    turn = math.radians(angle_deg)
    return (
        guide.apex_row_px + radius_px * math.cos(turn),
        guide.apex_col_px + radius_px * math.sin(turn) / guide.col_stretch,
    )
