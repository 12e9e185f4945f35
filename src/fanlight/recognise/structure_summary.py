"""From masks of a beat to what is kept of them: size, reach and cut borders of each structure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

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

RIMS = (Border.LEFT, Border.RIGHT, Border.NEAR, Border.FAR)  # in the order of Border, which ends with HIDDEN
_NONE = 255  # number of no structure

Grid = NDArray[np.float64]
Bits = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MaskGrid:
    """Where the pixels of a mask lie in the picture. All of shape (row, col)."""

    depth: Grid  # share of the depth
    beam: Grid  # share of the width
    bin: NDArray[np.intp]  # of beams that are covered or not together
    rim: NDArray[np.intp]  # the nearest of RIMS
    at_rim: Bits  # so near to it that an outline there lies on it
    inside: Bits
    n_inside: int


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
        depth=depth, beam=beam, bin=np.clip(beam * _BEAM_BINS, 0, _BEAM_BINS - 1).astype(np.intp),
        rim=away.argmin(axis=0), at_rim=np.asarray(away.min(axis=0) <= EDGE_PX),
        inside=np.asarray(inside), n_inside=int(inside.sum()),
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
    best, share = likeliest(shares)
    sure = (share >= SURE) & grid.inside
    seen = [_Frame.of(*one, known, grid) for one in zip(best, sure, strict=True)]
    found = (_structure(kind, seen, frames, grid) for kind in known if kind is not Structure.OTHER)
    unsure = float(np.mean([(grid.n_inside - np.count_nonzero(one)) / max(grid.n_inside, 1) for one in sure]))
    return Summary(structures=tuple(item for item in found if item is not None), unsure_share=round(unsure, 4))


def likeliest(shares: NDArray[np.float32]) -> tuple[NDArray[np.uint8], NDArray[np.float32]]:
    """Return number and share of the likeliest structure, each (frame, row, col), as `argmax` does."""
    best = np.zeros((len(shares), *shares.shape[2:]), np.uint8)
    most = shares[:, 0].copy()
    for number in range(1, shares.shape[1]):
        np.copyto(best, number, where=shares[:, number] > most)
        np.maximum(most, shares[:, number], out=most)
    return best, most


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Frame:
    """One frame, with a rim of one pixel, so that every pixel of the picture has four neighbours."""

    sure: NDArray[np.uint8]  # number of the structure; _NONE where none is sure
    place: dict[Structure, int]
    likeliest: NDArray[np.intp]  # pixels of the picture by number of the structure, sure or not
    within: Bits  # what lies within a chamber and is no end of it
    beside: Bits | None  # lung or bone that lies before the heart, and what is next to it; None: there is none

    @classmethod
    def of(cls, best: NDArray[np.uint8], sure: Bits, known: list[Structure], grid: MaskGrid) -> _Frame:
        place = {kind: index for index, kind in enumerate(known)}
        numbers = np.where(sure, best, _NONE)
        beside = None
        if Structure.HIDDEN in place:
            hidden = np.asarray(numbers == place[Structure.HIDDEN])
            covering = hidden & covered_beams(hidden, _among(numbers, place, HEART), grid) if hidden.any() else hidden
            if covering.any():
                beside = cv2.dilate(covering.astype(np.uint8), np.ones((2 * BESIDE_PX + 1,) * 2, np.uint8)) > 0
        return cls(
            sure=np.pad(numbers, 1, constant_values=_NONE), place=place,
            likeliest=np.bincount(best[grid.inside], minlength=len(known)),
            within=np.pad(_among(best, place, _WITHIN), 1), beside=beside,
        )  # fmt: skip

    def part(self, kind: Structure) -> _Part | None:
        """Return where a structure surely lies, without specks; None where it does not."""
        number = self.place[kind]
        if self.likeliest[number] < LEAST_PART_PX:
            return None
        region = self.sure == number
        left, top, width, height = cv2.boundingRect(region.view(np.uint8))
        if width == 0:
            return None
        box = np.s_[top - 1 : top + height + 1, left - 1 : left + width + 1]
        region = np.ascontiguousarray(region[box])
        _, labels, stats, _ = cv2.connectedComponentsWithStats(region.view(np.uint8), connectivity=4)
        large = stats[:, cv2.CC_STAT_AREA] >= LEAST_PART_PX
        large[0] = False
        if not large.any():
            return None
        place = np.s_[top - 1 : top + height - 1, left - 1 : left + width - 1]
        return _Part(region=region if large[1:].all() else large[labels], place=place, within=self.within[box])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Part:
    """A structure in one frame, cut out: most are small beside the mask."""

    region: Bits  # with a rim of one pixel
    place: tuple[slice, slice]  # of what lies inside the rim, in the mask
    within: Bits  # as in its frame, of the region's shape

    def of(self, grid: NDArray[Any]) -> NDArray[Any]:
        """Return what a grid says of each of its pixels, in one row."""
        return np.asarray(grid[self.place][self.region[1:-1, 1:-1]])

    def outline(self) -> Bits:
        """Return its pixels that have a neighbour which neither belongs to it nor lies within a chamber; no rim."""
        whole = self.region | self.within
        inner = whole[:-2, 1:-1] & whole[2:, 1:-1] & whole[1:-1, :-2] & whole[1:-1, 2:]
        return np.asarray(self.region[1:-1, 1:-1] & ~inner)


def _among(numbers: NDArray[np.uint8], place: dict[Structure, int], kinds: Sequence[Structure]) -> Bits:
    is_meant = np.zeros(_NONE + 1, np.bool_)
    is_meant[[place[kind] for kind in kinds if kind in place]] = True
    return np.asarray(is_meant[numbers])


def covered_beams(hidden: Bits, heart: Bits, grid: MaskGrid) -> Bits:
    """Return the pixels of all beams in which lung or bone begins before the heart does, or little later."""
    near, far = _reach(grid.depth[heart]) if heart.any() else (0.0, 1.0)
    is_covered = np.zeros(_BEAM_BINS, np.bool_)
    is_covered[grid.bin[hidden & (grid.depth <= near + COVERS_TO * (far - near))]] = True
    return np.asarray(is_covered[grid.bin])


def _structure(kind: Structure, seen: list[_Frame], frames: Sequence[int], grid: MaskGrid) -> StructureSeen | None:
    found = ((index, frame, frame.part(kind)) for index, frame in zip(frames, seen, strict=True))
    parts = [(index, frame, part) for index, frame, part in found if part is not None]
    if not parts:
        return None
    reach = [_reach(part.of(grid.depth)) for _, _, part in parts]
    last = int(np.argmax([far for _, far in reach]))
    likeliest = sum(int(frame.likeliest[frame.place[kind]]) for _, frame, _ in parts)
    area = [np.count_nonzero(part.region) for _, _, part in parts]
    return StructureSeen(
        structure=kind.name,
        frames_share=round(len(parts) / len(seen), 3),
        area_share=_share(float(np.mean(area)) / max(grid.n_inside, 1)),
        sure_share=_share(sum(area) / max(likeliest, 1)),
        nearest=_share(min(near for near, _ in reach)),
        farthest=_share(reach[last][1]),
        farthest_frame=parts[last][0],
        cuts=() if kind is Structure.HIDDEN else _cuts(parts, grid),
    )


def _reach(depth: Grid) -> tuple[float, float]:
    """Return the percentiles between which a part lies; as `np.percentile`, which takes several times as long here."""
    ordered = np.sort(depth)
    ends = []
    for percent in (OUTER_PERCENT, 100 - OUTER_PERCENT):
        place = percent / 100 * (len(ordered) - 1)
        below = int(place)
        low, high, way = ordered[below], ordered[min(below + 1, len(ordered) - 1)], place - below
        # from the nearer of the two, as NumPy does: the same to the last bit
        ends.append(float(low + (high - low) * way if way < 0.5 else high - (high - low) * (1 - way)))
    return ends[0], ends[1]


def _cuts(parts: list[tuple[int, _Frame, _Part]], grid: MaskGrid) -> tuple[Cut, ...]:
    outlines = [_Outline.of(part, frame, grid) for _, frame, part in parts]
    shares = np.array([outline.shares for outline in outlines])
    means, worst = shares.mean(axis=0), shares.argmax(axis=0)
    return tuple(
        _cut(border, float(means[column]), parts[worst[column]][0], outlines[worst[column]].on(column, grid))
        for column, border in enumerate(Border)
        if means[column] >= LEAST_CUT
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Outline:
    """The outline of one part in one frame, each of its pixels on one border at most: the nearest rim, else lung."""

    place: tuple[slice, slice]  # in the mask
    at_rim: Bits
    hidden: Bits | None
    shares: NDArray[np.float64]  # of the outline, by border

    @classmethod
    def of(cls, part: _Part, frame: _Frame, grid: MaskGrid) -> _Outline:
        outline, place = part.outline(), part.place
        at_rim = outline & grid.at_rim[place]
        hidden = None if frame.beside is None else outline & ~at_rim & frame.beside[place]
        counts = [
            *np.bincount(grid.rim[place][at_rim], minlength=len(RIMS)),
            0 if hidden is None else np.count_nonzero(hidden),
        ]
        n = max(np.count_nonzero(outline), 1)
        return cls(place=place, at_rim=at_rim, hidden=hidden, shares=np.array(counts) / n)

    def on(self, column: int, grid: MaskGrid) -> tuple[Grid, Grid]:
        """Return depth and beam of the pixels on one border, by its number."""
        pixels = self.hidden if column == len(RIMS) else self.at_rim & (grid.rim[self.place] == column)
        assert pixels is not None  # nothing has a share of a border that is not there
        return grid.depth[self.place][pixels], grid.beam[self.place][pixels]


def _cut(border: Border, share: float, frame: int, where: tuple[Grid, Grid]) -> Cut:
    depth, beam = where
    return Cut(
        border=border,
        share=_share(share),
        frame=frame,
        from_depth=_share(depth.min()),
        to_depth=_share(depth.max()),
        from_beam=_share(beam.min()),
        to_beam=_share(beam.max()),
    )


def _share(value: float | np.floating) -> float:
    return round(float(np.clip(value, 0.0, 1.0)), 4)
