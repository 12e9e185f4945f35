"""Find the ultrasound picture on the screen: a sector with its apex, or the strip of a linear array."""

from __future__ import annotations

from collections.abc import Iterable

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.even_fan import axes, even_fits, is_borne_out, is_uneven
from fanlight.frames.fan_fit import RoughFit, rough_fits
from fanlight.frames.painted import Blob, Screen, Sign, look_at, painted_blobs, reduction
from fanlight.frames.picture_candidate import MIN_SIDE_PX, Candidate, set_to_edges, size_weight, words_of
from fanlight.study import Box, PhysicalUnit, Picture, Point, Region, Sector, SpatialFormat, Strip

_CANDIDATES = 3  # rough fits that are set to the edges and compared
_SMALL_FANS = 2  # more, where a strip is among them: the guide of a duplex screen is small
_SURE = 0.97  # the other candidates, less promising, are not looked at
# A fan as sure as that is the picture, whatever strip is painted: one that lies apart from it, one that a strip's own
# paint could look like (engineering judgement on screens of ring A).
_FAN_APART, _FAN_OVER_STRIP = 0.6, 0.8
_MIN_CONFIDENCE = 0.3  # below this nothing is returned


def find_picture(frames: NDArray[np.uint8], regions: Iterable[Region] = ()) -> tuple[Picture | None, float, str]:
    """Find where the ultrasound picture lies, from the pixels.

    Parameters
    ----------
    frames : ndarray of shape (frame, row, col)
        Grey values of the first frames of a clip, or of one still.
    regions : iterable of Region
        Regions of the file, as a hint: the shape of a pixel, and boxes to look inside beside the whole screen.

    Returns
    -------
    picture : Sector, Strip or None
        None when nothing with the outline of an ultrasound picture was found.
    confidence : float
        0 to 1: how much of the outline is seen and how well it encloses what is painted.
    reason : str
        In plain words.

    Notes
    -----
    Errors on drawn screens stand in tests/frames/test_find_picture.py. An edge that lies in shadow over its whole
    length is placed by the other side of an even fan, or by the other edges, and may be off by several degrees; a face
    or a deepest row that nothing shows (a probe in the air paints only the nearest millimetres) is placed where the
    paint ends.
    """
    return find_picture_on(look_at(frames), regions)


def find_picture_on(screen: Screen, regions: Iterable[Region] = ()) -> tuple[Picture | None, float, str]:
    """Return what `find_picture` finds, where the frames were looked at before."""
    rows, cols = screen.top.shape
    if min(rows, cols) < MIN_SIDE_PX:
        return None, 0.0, f"the frame is only {cols} × {rows} pixels"
    regions = tuple(regions)
    stretch = pixel_stretch(regions)
    hints = _hints(regions, rows, cols)
    blobs = painted_blobs(screen, stretch, hints)
    best = _likeliest(screen, _best_roughs(blobs), stretch)
    if best is None:
        return None, 0.0, "no painted area with the outline of an ultrasound picture"
    if best.confidence < _MIN_CONFIDENCE:
        return (
            None,
            best.confidence,
            f"the likeliest area does not have the outline of an ultrasound picture ({words_of(best)})",
        )
    best = _made_even(screen, blobs, best, hints, stretch) or best
    return best.picture, best.confidence, words_of(best)


def _likeliest(screen: Screen, roughs: list[tuple[Blob, RoughFit]], stretch: float) -> Candidate | None:
    """Return the candidate that looks most like a picture; beside a strip the fan is the picture, as its guide."""
    found: list[Candidate] = []
    for blob, rough in roughs:
        if any(other.confidence >= _SURE and (other.rough.is_sector or not rough.is_sector) for other in found):
            continue
        candidate = set_to_edges(screen, blob, rough, stretch)
        if candidate is not None:
            found.append(candidate)
    found.sort(key=lambda candidate: -candidate.rank)
    strips = [candidate.picture for candidate in found if isinstance(candidate.picture, Strip)]
    guides = (candidate for candidate in found if strips and _is_guide(candidate, strips[0]))
    return next(guides, found[0] if found else None)


def _is_guide(candidate: Candidate, strip: Strip) -> bool:
    """Whether this is a fan that is surely seen, or seen well enough and apart from the strip."""
    fan = candidate.picture
    if not isinstance(fan, Sector):
        return False
    is_apart = not any(_holds(strip.box, fan.point(depth, 0.5)) for depth in (0.0, 0.5, 1.0))
    return candidate.confidence >= (_FAN_APART if is_apart else _FAN_OVER_STRIP)


def _holds(box: Box, point: Point) -> bool:
    return box.row0 <= point[0] < box.row1 and box.col0 <= point[1] < box.col1


def _made_even(
    screen: Screen, blobs: list[Blob], narrow: Candidate, hints: tuple[Box, ...], stretch: float
) -> Candidate | None:
    """The fan whose one side is in the dark, made as wide on that side as on the other; None where nothing says so."""
    picture = narrow.picture
    if not isinstance(picture, Sector) or not is_uneven(picture):
        return None
    rows, cols = screen.top.shape
    shrink = reduction(rows, cols)
    best: Candidate | None = None
    for area in _widest_traces(blobs, narrow.blob):
        for axis_x in axes(area, narrow.rough, hints, stretch / shrink):
            for rough in even_fits(area, axis_x):
                even = set_to_edges(screen, area, rough, stretch, is_even=True)
                if even is None or even.confidence < _MIN_CONFIDENCE or (best and rough.score <= best.rough.score):
                    continue
                assert isinstance(even.picture, Sector)
                if is_borne_out(even.picture, picture, area.mask > 0, (rows, cols), hints):
                    best = even
    return best


def _widest_traces(blobs: list[Blob], seen: Blob) -> list[Blob]:
    """Areas of any sign of paint that hold most of the one that was chosen, and that one."""
    wider = [
        blob
        for blob in blobs
        if blob.seen_in is not Sign.CHANGE
        and not blob.is_hull
        and cv2.countNonZero(blob.mask & seen.mask) > 0.9 * seen.area_px
    ]
    wider.sort(key=lambda blob: -blob.area_px)
    return wider[:1] if seen.is_hull else [*wider[:1], seen]


def pixel_stretch(regions: Iterable[Region]) -> float:
    """Return the width of a pixel divided by its height as the two-dimensional regions state it, else 1."""
    for region in regions:
        if (
            region.spatial_format == SpatialFormat.TWO_D
            and region.unit_x == region.unit_y == PhysicalUnit.CM
            and region.delta_x
            and region.delta_y
        ):
            ratio = abs(region.delta_x / region.delta_y)
            # Beyond 2 to 1 no display was found to go (engineering judgement); a wild ratio is a fault of the file.
            if 0.5 <= ratio <= 2.0:
                return 1.0 if abs(ratio - 1) < 0.005 else ratio
    return 1.0


def _hints(regions: Iterable[Region], rows: int, cols: int) -> tuple[Box, ...]:
    """Boxes of two-dimensional regions that lie on the frame and leave some of it out."""
    boxes = (region.box for region in regions if region.spatial_format == SpatialFormat.TWO_D)
    return tuple(
        box
        for box in boxes
        if box == box.clipped_to(rows, cols)
        and min(box.width_px, box.height_px) >= MIN_SIDE_PX
        and box.area_px < 0.9 * rows * cols
    )[:2]


def _best_roughs(blobs: list[Blob]) -> list[tuple[Blob, RoughFit]]:
    """The most promising fits over all thresholds, no two alike; beside a strip the best fans, however small."""
    scored = [(blob, fit) for blob in blobs for fit in rough_fits(blob)]
    scored.sort(key=lambda pair: -pair[1].score * size_weight(pair[0]))
    kept = _unlike(scored, [], _CANDIDATES)
    if all(fit.is_sector for _, fit in kept):
        return kept
    fans = sorted((pair for pair in scored if pair[1].is_sector), key=lambda pair: -pair[1].score)
    return _unlike(fans, kept, len(kept) + _SMALL_FANS)


def _unlike(
    pairs: list[tuple[Blob, RoughFit]], kept: list[tuple[Blob, RoughFit]], most: int
) -> list[tuple[Blob, RoughFit]]:
    """Return what is kept and the next of these that are unlike it, so many in all."""
    kept = list(kept)
    for blob, fit in pairs:
        if len(kept) == most:
            break
        if all(_differ(fit, other) for _, other in kept):
            kept.append((blob, fit))
    return kept


def _differ(one: RoughFit, two: RoughFit) -> bool:
    if one.is_sector != two.is_sector:
        return True
    scale = (1.0, 1.0, 150.0, 150.0, 1.0, 1.0) if one.is_sector else (1.0, 1.0, 1.0, 1.0)
    return any(abs(a - b) * s > 4.0 for a, b, s in zip(one.numbers, two.numbers, scale, strict=True))
