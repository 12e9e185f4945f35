"""From masks of a beat to what is kept of them: size, reach and cut borders of each structure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.recognise.picture_square import SIDE_PX
from fanlight.study import HEART, Border, Cut, Sector, Structure, StructureSeen

# All engineering judgement, tried on ring A.
SURE = 0.5  # a pixel counts where one structure has at least this share: as much as all others together
LEAST_PART_PX = 12  # of a mask: parts smaller than 0.2 % of it are passed over
EDGE_PX = 1.6  # of a mask: an outline this near the rim of the picture lies on it, masks being ragged there
BESIDE_PX = 2  # of a mask: lung this near an outline ends it
OUTER_PERCENT = 2.0  # of a structure's pixels that may lie beyond its stated reach
LEAST_CUT = 0.005  # of an outline: less is not kept
# Lung that begins in this first part of the way from the heart's near to its far border lies over the heart; what
# begins later lies behind it. Where no heart is seen the picture's own depth counts.
COVERS_TO = 0.35
_BEAM_BINS = 40
# Inside a chamber, no end of it.
_WITHIN = (Structure.PAPILLARY, Structure.MITRAL_LEAFLET, Structure.TRICUSPID_LEAFLET)

RIMS = (Border.LEFT, Border.RIGHT, Border.NEAR, Border.FAR)

Grid = NDArray[np.float64]
Bits = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MaskGrid:
    """Where the pixels of a mask lie in the picture. All of shape (row, col)."""

    depth: Grid  # share of the depth
    beam: Grid  # share of the width
    rim: NDArray[np.intp]  # the nearest of RIMS
    to_rim_px: Grid  # pixels of the mask to it
    inside: Bits


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """What is kept of the masks of a clip."""

    structures: tuple[StructureSeen, ...]
    unsure_share: float  # of the picture, where no structure is sure


@lru_cache(maxsize=16)
def mask_grid(sector: Sector, side: int) -> MaskGrid:
    """Return the places of a mask's pixels; the sector is that of the square (`picture_square.square_of`)."""
    step = SIDE_PX / side
    row, col = np.mgrid[0:side, 0:side] * step + (step - 1) / 2
    down, aside = row - sector.apex_row_px, col - sector.apex_col_px
    radius, angle = np.hypot(down, aside), np.degrees(np.arctan2(aside, down))
    depth = (radius - sector.near_px) / sector.depth_px
    beam = (angle - sector.left_deg) / sector.width_deg
    away = np.stack(
        [
            radius * np.sin(np.radians(np.clip(angle - sector.left_deg, -90, 90))) / step,
            radius * np.sin(np.radians(np.clip(sector.right_deg - angle, -90, 90))) / step,
            (radius - sector.near_px) / step,
            (sector.far_px - radius) / step,
        ]
    )  # in the order of RIMS
    inside = (depth >= 0) & (depth <= 1) & (beam >= 0) & (beam <= 1)
    return MaskGrid(
        depth=depth, beam=beam, rim=away.argmin(axis=0), to_rim_px=away.min(axis=0), inside=np.asarray(inside)
    )  # fmt: skip


def summarise(shares: NDArray[np.float32], names: Sequence[str], frames: Sequence[int], sector: Sector) -> Summary:
    """Return what is kept of the masks of a clip.

    Parameters
    ----------
    shares : ndarray of shape (frame, structure, side, side)
        Share of each structure in each pixel.
    names : sequence of str
        Of the structures, as the network's file has them.
    frames : sequence of int
        Indices of the frames in the clip.
    sector : Sector
        Of the square.
    """
    grid = mask_grid(sector, shares.shape[-1])
    known = [Structure[name.upper()] for name in names]
    seen = [_Frame.of(one, known, grid) for one in shares]
    found = (_structure(kind, seen, frames, grid) for kind in known if kind is not Structure.OTHER)
    unsure = float(np.mean([(grid.inside & ~frame.sure).sum() / max(grid.inside.sum(), 1) for frame in seen]))
    return Summary(structures=tuple(item for item in found if item is not None), unsure_share=round(unsure, 4))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Frame:
    """One frame: the likeliest structure of each pixel, and where the network is sure."""

    best: NDArray[np.intp]
    sure: Bits
    place: dict[Structure, int]
    covering: Bits  # lung or bone that lies before the heart

    @classmethod
    def of(cls, shares: NDArray[np.float32], known: list[Structure], grid: MaskGrid) -> _Frame:
        best = shares.argmax(axis=0)
        sure = np.asarray((shares.max(axis=0) >= SURE) & grid.inside)
        place = {kind: index for index, kind in enumerate(known)}
        covering = np.zeros(best.shape, np.bool_)
        if Structure.HIDDEN in place:
            hidden = np.asarray((best == place[Structure.HIDDEN]) & sure)
            heart = sure & _among(best, place, HEART)
            covering = hidden & covered_beams(hidden, np.asarray(heart), grid)
        return cls(best=best, sure=sure, place=place, covering=np.asarray(covering))

    def part(self, kind: Structure, grid: MaskGrid) -> Bits:
        """Return where a structure surely lies, without specks."""
        region = np.asarray((self.best == self.place[kind]) & self.sure & grid.inside)
        if np.count_nonzero(region) < LEAST_PART_PX:
            return np.zeros_like(region)
        _, labels, stats, _ = cv2.connectedComponentsWithStats(region.astype(np.uint8), connectivity=4)
        large = stats[:, cv2.CC_STAT_AREA] >= LEAST_PART_PX
        large[0] = False
        return np.asarray(large[labels])

    def among(self, kinds: Sequence[Structure]) -> Bits:
        return _among(self.best, self.place, kinds)


def _among(best: NDArray[np.intp], place: dict[Structure, int], kinds: Sequence[Structure]) -> Bits:
    is_meant = np.zeros(len(place), np.bool_)
    is_meant[[place[kind] for kind in kinds if kind in place]] = True
    return np.asarray(is_meant[best])


def covered_beams(hidden: Bits, heart: Bits, grid: MaskGrid) -> Bits:
    """Return the pixels of all beams in which lung or bone begins before the heart does, or little later."""
    near, far = np.percentile(grid.depth[heart], (OUTER_PERCENT, 100 - OUTER_PERCENT)) if heart.any() else (0.0, 1.0)
    beam = np.clip(grid.beam * _BEAM_BINS, 0, _BEAM_BINS - 1).astype(np.intp)
    early = hidden & (grid.depth <= near + COVERS_TO * (far - near))
    return np.asarray(np.isin(beam, np.unique(beam[early])))


def outline_of(region: Bits, within: Bits) -> Bits:
    """Return the pixels of a region that have a neighbour which neither belongs to it nor lies within a chamber."""
    whole = np.pad(region | within, 1)
    inner = whole[:-2, 1:-1] & whole[2:, 1:-1] & whole[1:-1, :-2] & whole[1:-1, 2:]
    return np.asarray(region & ~inner)


def borders_of(outline: Bits, covering: Bits, grid: MaskGrid) -> dict[Border, Bits]:
    """Return which pixels of an outline lie on which border, each on one: the nearest rim, else covering lung."""
    at_rim = outline & (grid.to_rim_px <= EDGE_PX)
    found = {border: np.asarray(at_rim & (grid.rim == index)) for index, border in enumerate(RIMS)}
    found[Border.HIDDEN] = np.zeros_like(outline)
    if covering.any():
        beside = cv2.dilate(covering.astype(np.uint8), np.ones((2 * BESIDE_PX + 1,) * 2, np.uint8)) > 0
        found[Border.HIDDEN] = np.asarray(outline & ~at_rim & beside)
    return found


def _structure(kind: Structure, seen: list[_Frame], frames: Sequence[int], grid: MaskGrid) -> StructureSeen | None:
    parts = [(index, frame, frame.part(kind, grid)) for index, frame in zip(frames, seen, strict=True)]
    parts = [item for item in parts if item[2].any()]
    if not parts:
        return None
    reach = [np.percentile(grid.depth[part], (OUTER_PERCENT, 100 - OUTER_PERCENT)) for _, _, part in parts]
    last = int(np.argmax([far for _, far in reach]))
    likeliest = sum(int(((frame.best == frame.place[kind]) & grid.inside).sum()) for _, frame, _ in parts)
    area = [int(part.sum()) for _, _, part in parts]
    return StructureSeen(
        structure=kind.name,
        frames_share=round(len(parts) / len(seen), 3),
        area_share=_share(float(np.mean(area)) / max(int(grid.inside.sum()), 1)),
        sure_share=_share(sum(area) / max(likeliest, 1)),
        nearest=_share(min(near for near, _ in reach)),
        farthest=_share(reach[last][1]),
        farthest_frame=parts[last][0],
        cuts=() if kind is Structure.HIDDEN else _cuts(parts, grid),
    )


def _cuts(parts: list[tuple[int, _Frame, Bits]], grid: MaskGrid) -> tuple[Cut, ...]:
    shares: dict[Border, list[float]] = {border: [] for border in Border}
    places: dict[Border, list[Bits]] = {border: [] for border in Border}
    for _, frame, part in parts:
        outline = outline_of(part, frame.among(_WITHIN))
        n = max(int(outline.sum()), 1)
        for border, pixels in borders_of(outline, frame.covering, grid).items():
            shares[border].append(int(pixels.sum()) / n)
            places[border].append(pixels)
    return tuple(
        _cut(border, shares[border], places[border], parts, grid)
        for border in Border
        if float(np.mean(shares[border])) >= LEAST_CUT
    )


def _cut(
    border: Border, shares: list[float], places: list[Bits], parts: list[tuple[int, _Frame, Bits]], grid: MaskGrid
) -> Cut:
    most = int(np.argmax(shares))
    depth, beam = grid.depth[places[most]], grid.beam[places[most]]
    return Cut(
        border=border,
        share=_share(float(np.mean(shares))),
        frame=parts[most][0],
        from_depth=_share(depth.min()),
        to_depth=_share(depth.max()),
        from_beam=_share(beam.min()),
        to_beam=_share(beam.max()),
    )


def _share(value: float | np.floating) -> float:
    return round(float(np.clip(value, 0.0, 1.0)), 4)
