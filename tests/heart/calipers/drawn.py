"""Label maps drawn from circles, ellipses and half planes, whose sizes are known before anything is measured.

A drawing has its own directions in mm: `along` (screen right when not turned) and `deep` (screen down). It is turned
clockwise on the screen and shifted, and sampled at the centres of pixels of any size.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.label_map import LabelMap
from fanlight.heart.pose import look
from fanlight.heart.tissue import Tissue
from fanlight.study import Landmark

Grid = NDArray[np.float64]
Shape = Callable[[Grid, Grid], NDArray[np.bool_]]  # (along, deep) in mm -> where it is

POSE = look(np.array([5.0, -60.0, -12.0]), np.array([0.0, 0.0, 3.0]), np.array([0.7, 0.1, -0.5]))
WIDE_MM, DEEP_MM = 110.0, 90.0


def ellipse(along: float, deep: float, half_along: float, half_deep: float) -> Shape:
    return lambda a, d: ((a - along) / half_along) ** 2 + ((d - deep) / half_deep) ** 2 <= 1


def box(along: tuple[float, float], deep: tuple[float, float]) -> Shape:
    return lambda a, d: (along[0] <= a) & (a <= along[1]) & (deep[0] <= d) & (d <= deep[1])


def both(first: Shape, second: Shape) -> Shape:
    return lambda a, d: first(a, d) & second(a, d)


def pixels(label_map: LabelMap) -> Grid:
    """Return (row, col) of every pixel, shape (row, col, 2)."""
    rows, cols = np.indices(label_map.tissue.shape)
    return np.stack([rows, cols], axis=-1).astype(float)


def draw(
    layers: Sequence[tuple[Shape, Tissue]],
    *,
    turn_deg: float = 0.0,
    shift_mm: tuple[float, float] = (0.0, 0.0),
    mm_per_px: float = 0.25,
    places: dict[Landmark, tuple[float, float]] | None = None,
    ground: Tissue = Tissue.LUNG,
) -> LabelMap:
    """Return the map of shapes painted one over the other around the middle of the picture.

    `shift_mm` is (across, depth); a little more is added, so that no border runs along a row of pixels. `places` are
    landmarks at (along, deep) of the drawing.
    """
    right, down = shift_mm[0] + 0.07, shift_mm[1] + 0.09
    half = int(np.ceil(WIDE_MM / 2 / mm_per_px))
    across = (np.arange(2 * half + 1) - half) * mm_per_px
    depth = np.arange(int(np.ceil(DEEP_MM / mm_per_px)) + 1) * mm_per_px
    y, x = np.meshgrid(depth - DEEP_MM / 2 - down, across - right, indexing="ij")
    cos, sin = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    along, deep = cos * x + sin * y, -sin * x + cos * y
    tissue = np.full(x.shape, int(ground), dtype=np.uint8)
    for shape, kind in layers:
        tissue[shape(along, deep)] = int(kind)
    drawn = LabelMap(tissue=tissue, mm_per_px=mm_per_px, pose=POSE, face_row_px=0.0, face_col_px=float(half))
    landmarks = {}
    for landmark, (a, d) in (places or {}).items():
        plane = np.array([DEEP_MM / 2 + down + sin * a + cos * d, right + cos * a - sin * d])
        landmarks[landmark] = drawn.to_patient_mm(drawn.from_plane_mm(plane))
    return replace(drawn, landmarks_mm=landmarks)


def short_axis_layers(
    *,
    half_across: float = 15.0,
    half_along: float = 15.0,
    septum: float = 7.0,
    free_wall: float = 8.0,
    papillary: float = 0.0,
) -> list[tuple[Shape, Tissue]]:
    """Return a left ventricle seen from its end: septum above, free wall below, right ventricle as a crescent on top.

    `half_across` is half the diameter at right angles to the septum. The walls have these thicknesses on the middle
    line; `papillary` is the radius of the two muscles, which stand on the free wall 40° to each side of it.
    """
    above = box((-60, 60), (-60, 0))
    layers: list[tuple[Shape, Tissue]] = [
        (ellipse(0, -4, half_along + 10, half_across + septum + 9), Tissue.PERICARDIUM),
        (ellipse(0, -4, half_along + 9, half_across + septum + 8), Tissue.RV_WALL),
        (ellipse(0, -5, half_along + 7, half_across + septum + 5), Tissue.RV_CAVITY),
        (ellipse(0, 0, half_along + free_wall + 1, half_across + free_wall + 1), Tissue.PERICARDIUM),
        (ellipse(0, 0, half_along + free_wall, half_across + free_wall), Tissue.LV_FREE_WALL),
        (both(above, ellipse(0, 0, half_along + septum, half_across + free_wall + 2)), Tissue.RV_CAVITY),
        (both(above, ellipse(0, 0, half_along + septum, half_across + septum)), Tissue.SEPTUM),
        (ellipse(0, 0, half_along, half_across), Tissue.LV_CAVITY),
    ]  # fmt: skip
    if papillary:
        inside = ellipse(0, 0, half_along, half_across)
        sin, cos = np.sin(np.radians(40)), np.cos(np.radians(40))
        for side, kind in ((1, Tissue.PAPILLARY_CRANIAL), (-1, Tissue.PAPILLARY_CAUDAL)):
            muscle = ellipse(side * half_along * sin, half_across * cos, papillary, papillary)
            layers.append((both(inside, muscle), kind))
    return layers


def long_axis_layers(
    *,
    length: float = 55.0,
    radius: float = 15.0,
    ring_radius: float = 10.0,
    septum: float = 7.0,
    free_wall: float = 8.0,
    atrium_along: float = 14.0,
    atrium_deep: float = 13.0,
    open_mm: float | None = None,
) -> list[tuple[Shape, Tissue]]:
    """Return a left ventricle from the side: apex at screen left, atrium at screen right, septum above.

    The cavity is an ellipse that the mitral ring cuts at `along` = 0 with half width `ring_radius`; its apex lies at
    -`length`. The atrium is an ellipse whose flat end is the ring. With `open_mm` the leaflets stand open: a septal
    leaflet `open_mm` long, 1 mm thick, along the septal edge of the ring; else they close it with a plate of 1 mm.
    """
    # ellipse with half axes (a, radius), centre at -length + a, whose width at along = 0 is 2 ring_radius
    share = np.sqrt(1 - (ring_radius / radius) ** 2)
    half = length / (1 + share)
    middle = -length + half
    atrium_half = atrium_along / float(np.sqrt(1 - (ring_radius / atrium_deep) ** 2))
    cavity = both(ellipse(middle, 0, half, radius), box((-99, 0), (-99, 99)))
    wall = ellipse(middle, 0, half + free_wall, radius + free_wall)
    layers: list[tuple[Shape, Tissue]] = [
        (ellipse(middle, -4, half + 16, radius + 20), Tissue.PERICARDIUM),
        (both(ellipse(middle, -4, half + 15, radius + 19), box((-99, 2), (-99, 0))), Tissue.RV_CAVITY),
        (both(wall, box((-99, 2), (0, 99))), Tissue.LV_FREE_WALL),
        (both(ellipse(middle, 0, half + septum, radius + septum), box((-99, 2), (-99, 0))), Tissue.SEPTUM),
        (ellipse(atrium_along, 0, atrium_along + 2, atrium_deep + 2), Tissue.LA_WALL),
        (cavity, Tissue.LV_CAVITY),
        (both(ellipse(atrium_along, 0, atrium_half, atrium_deep), box((0, 99), (-99, 99))), Tissue.LA_CAVITY),
        (box((2, 3 * atrium_along), (-atrium_deep - 2, -atrium_deep)), Tissue.ATRIAL_SEPTUM),
    ]  # fmt: skip
    if open_mm is None:
        layers.append((box((-1, 0), (-ring_radius, ring_radius)), Tissue.MITRAL_SEPTAL_LEAFLET))
    else:
        layers.append((box((-open_mm, 0), (-ring_radius, -ring_radius + 1)), Tissue.MITRAL_SEPTAL_LEAFLET))
    return layers


def base_layers(
    *, root: float = 9.0, atrium: tuple[float, float] = (11.0, 12.0), wall: float = 1.0
) -> list[tuple[Shape, Tissue]]:
    """Return a heart base cut across: a round root at the middle, the atrium as an ellipse below it.

    The atrium's upper end touches the outer side of the aortic wall with a wall of its own of 1 mm between.
    """
    deep = root + wall + 1 + atrium[1]
    return [
        (ellipse(0, deep, atrium[0] + 1.5, atrium[1] + 1), Tissue.LA_WALL),
        (ellipse(0, deep, atrium[0], atrium[1]), Tissue.LA_CAVITY),
        (ellipse(0, 0, root + wall, root + wall), Tissue.AORTIC_WALL),
        (ellipse(0, 0, root, root), Tissue.AORTA),
    ]


def commissures(root: float = 9.0, turn_deg: float = 0.0) -> dict[Landmark, tuple[float, float]]:
    """Return three ends of commissures, 120° apart, that of left and non-coronary cusp straight down at first."""
    ends = {}
    for landmark, at_deg in (
        (Landmark.COMMISSURE_LEFT_NONCORONARY, 90.0),
        (Landmark.COMMISSURE_RIGHT_NONCORONARY, 210.0),
        (Landmark.COMMISSURE_RIGHT_LEFT, 330.0),
    ):
        at = np.radians(at_deg + turn_deg)
        ends[landmark] = (root * float(np.cos(at)), root * float(np.sin(at)))
    return ends
