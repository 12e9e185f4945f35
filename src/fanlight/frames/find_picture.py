"""Find the ultrasound picture on the screen: a sector with its apex, or the strip of a linear array."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.edge_snap import Support, snap_sector, snap_strip
from fanlight.frames.even_fan import axes, even_fits, is_borne_out, is_uneven
from fanlight.frames.fan_fit import RoughFit, rough_fits
from fanlight.frames.painted import Blob, Screen, Sign, look_at, painted_blobs, reduction
from fanlight.study import Box, PhysicalUnit, Picture, Region, Sector, SpatialFormat, Strip

# Grey levels above the background that count in full; brighter adds nothing, so that white letters beside a dark
# picture weigh no more than its own echoes (engineering judgement).
_BRIGHT_ENOUGH = 48.0
_CANDIDATES = 3  # rough fits that are set to the edges and compared
_SMALL_FANS = 2  # more, where a strip is among them: the guide of a duplex screen is small
_SURE = 0.97  # the other candidates, less promising, are not looked at
_FAN_BESIDE_STRIP = 0.8  # a fan as sure as that is the picture, whatever strip is painted beside it (judgement)
_MIN_CONFIDENCE = 0.3  # below this nothing is returned
# Paint that fills less than this share of the height leaves open how deep the picture goes: a probe in the air
# paints the nearest millimetres only. The confidence is held below what may contradict a region of the file.
_SHALLOW_FRACTION = 0.22
_DEPTH_NOT_SEEN = 0.45
_MIN_SIDE_PX = 40  # a picture smaller than this on any side holds nothing to judge


@dataclass(frozen=True, slots=True)
class _Candidate:
    picture: Picture
    confidence: float
    rank: float  # confidence, rough fit, and the larger of two that both look like a picture
    rough: RoughFit
    support: Support
    blob: Blob
    is_shallow: bool
    dark_side: str = ""  # that was taken from the other


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
    screen = look_at(frames)
    rows, cols = screen.top.shape
    if min(rows, cols) < _MIN_SIDE_PX:
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
            f"the likeliest area does not have the outline of an ultrasound picture ({_words(best)})",
        )
    best = _made_even(screen, blobs, best, hints, stretch) or best
    return best.picture, best.confidence, _words(best)


def _likeliest(screen: Screen, roughs: list[tuple[Blob, RoughFit]], stretch: float) -> _Candidate | None:
    """Return the candidate that looks most like a picture; beside a strip the fan is the picture, as its guide."""
    best: dict[bool, _Candidate] = {}  # by whether it is a fan
    for blob, rough in roughs:
        if any(found.confidence >= _SURE for is_fan, found in best.items() if is_fan or not rough.is_sector):
            continue
        candidate = _set_to_edges(screen, blob, rough, stretch)
        if candidate is None:
            continue
        is_fan = isinstance(candidate.picture, Sector)
        if is_fan not in best or candidate.rank > best[is_fan].rank:
            best[is_fan] = candidate
    fan, strip = best.get(True), best.get(False)
    if fan is None or strip is None or fan.confidence >= _FAN_BESIDE_STRIP:
        return fan or strip
    return max(fan, strip, key=lambda found: found.rank)


def _made_even(
    screen: Screen, blobs: list[Blob], narrow: _Candidate, hints: tuple[Box, ...], stretch: float
) -> _Candidate | None:
    """The fan whose one side is in the dark, made as wide on that side as on the other; None where nothing says so."""
    picture = narrow.picture
    if not isinstance(picture, Sector) or not is_uneven(picture):
        return None
    rows, cols = screen.top.shape
    shrink = reduction(rows, cols)
    best: _Candidate | None = None
    for area in _widest_traces(blobs, narrow.blob):
        for axis_x in axes(area, narrow.rough, hints, stretch / shrink):
            for rough in even_fits(area, axis_x):
                even = _set_to_edges(screen, area, rough, stretch, is_even=True)
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
        and min(box.width_px, box.height_px) >= _MIN_SIDE_PX
        and box.area_px < 0.9 * rows * cols
    )[:2]


def _best_roughs(blobs: list[Blob]) -> list[tuple[Blob, RoughFit]]:
    """The most promising fits over all thresholds, no two alike; beside a strip the best fans, however small."""
    scored = [(blob, fit) for blob in blobs for fit in rough_fits(blob)]
    scored.sort(key=lambda pair: -pair[1].score * _size_weight(pair[0]))
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


def _size_weight(blob: Blob) -> float:
    """Machines fill their screens: a third of the height is usual even beside a trace (engineering judgement)."""
    rows = np.flatnonzero(blob.mask.any(axis=1))
    height = (rows[-1] - rows[0] + 1) / blob.mask.shape[0]
    return float(min(1.0, height / 0.33) * (blob.area_px / blob.mask.size) ** 0.25)


def _differ(one: RoughFit, two: RoughFit) -> bool:
    if one.is_sector != two.is_sector:
        return True
    scale = (1.0, 1.0, 150.0, 150.0, 1.0, 1.0) if one.is_sector else (1.0, 1.0, 1.0, 1.0)
    return any(abs(a - b) * s > 4.0 for a, b, s in zip(one.numbers, two.numbers, scale, strict=True))


def _presence(screen: Screen, blob: Blob) -> NDArray[np.float32]:
    values = {Sign.CHANGE: screen.change, Sign.LIFT: screen.lift, Sign.TRACE: screen.trace}[blob.seen_in]
    table = np.log1p(np.minimum(np.arange(256, dtype=np.float32), _BRIGHT_ENOUGH)) / math.log1p(_BRIGHT_ENOUGH)
    return np.asarray(table.astype(np.float32)[values])


def _set_to_edges(
    screen: Screen, blob: Blob, rough: RoughFit, stretch: float, *, is_even: bool = False
) -> _Candidate | None:
    rows, cols = screen.top.shape
    shrink = reduction(rows, cols)
    presence = _presence(screen, blob)

    def full(value: float) -> float:
        return (value + 0.5) * shrink - 0.5

    dark_side = ""
    picture: Picture
    if rough.is_sector:
        x, y, left, right, near, far = rough.numbers
        start = (full(x) + 0.5 * (stretch - 1), full(y), left, right, near * shrink, far * shrink)
        numbers, support = snap_sector(presence, start, stretch, 2.5 * shrink + 3, is_even=is_even)
        if is_even:
            support, dark_side = _without_dark_side(support)
        x, y, left, right, near, far = numbers
        if far - near < _MIN_SIDE_PX or math.degrees(left) < -89 or math.degrees(right) > 89:
            return None
        picture = Sector(
            apex_row_px=y,
            apex_col_px=x / stretch,
            left_deg=math.degrees(left),
            right_deg=math.degrees(right),
            near_px=near,
            far_px=far,
            col_stretch=stretch,
        )
    else:
        x0, y0, x1, y1 = (full(v) for v in rough.numbers)
        box, support = snap_strip(presence, (x0 / stretch, y0, x1 / stretch, y1), 1.5 * shrink + 2)
        # Narrower is a column of words or a bar. The bands of a probe in the air may be wide and shallow.
        if box[2] - box[0] < max(_MIN_SIDE_PX, 0.15 * cols) or box[3] - box[1] < _MIN_SIDE_PX:
            return None
        picture = Strip(box=Box(row0=int(box[1]), col0=int(box[0]), row1=int(box[3]) + 1, col1=int(box[2]) + 1))
    confidence = _confidence(rough, support, blob)
    if picture.depth_px < _SHALLOW_FRACTION * rows:
        confidence = min(confidence, _DEPTH_NOT_SEEN)
    return _Candidate(
        picture=picture,
        confidence=confidence,
        rank=confidence * rough.score**0.5 * _size_weight(blob),
        rough=rough,
        support=support,
        blob=blob,
        is_shallow=picture.depth_px < _SHALLOW_FRACTION * rows,
        dark_side=dark_side,
    )


def _without_dark_side(support: Support) -> tuple[Support, str]:
    """The less seen of the two edges does not count: where it lies is known from the other."""
    left, right = support.left or 0.0, support.right or 0.0
    return (replace(support, left=None), "left") if left < right else (replace(support, right=None), "right")


def _confidence(rough: RoughFit, support: Support, blob: Blob) -> float:
    """Share of the outline that is seen, times how well it encloses what is painted."""
    seen = support.seen
    if len(seen) < 2:
        return 0.0  # runs off the screen on all sides: nothing tells it from a photograph
    edges = 0.6 * (sum(seen) / len(seen)) + 0.4 * min(seen)
    # Overlap of a drawn fan with closed paint is 0.9 and better; 0.5 and less is another shape.
    hidden = 3 - len(seen) if rough.is_sector else 4 - len(seen)  # a fan may start in a point
    shape = min(max((rough.overlap_fraction - 0.5) / 0.4, 0.0), 1.0)
    size = min(1.0, _size_weight(blob) / 0.05**0.25)
    return float(edges**0.5 * shape**0.5 * size**0.5 * 0.9 ** max(hidden, 0))


def _words(candidate: _Candidate) -> str:
    picture, support = candidate.picture, candidate.support
    sides = {"left edge": support.left, "right edge": support.right, "face": support.near, "deepest row": support.far}
    weak = [name for name, share in sides.items() if share is not None and share < 0.4]
    pointed = isinstance(picture, Sector) and picture.near_px <= 2.0  # a face of no length cannot be off the screen
    dark = f"{candidate.dark_side} edge"
    off = [name for name, share in sides.items() if share is None and name != dark and not (name == "face" and pointed)]
    if isinstance(picture, Sector):
        text = f"a fan of {picture.width_deg:.0f} degrees, {picture.depth_px:.0f} pixels deep"
    else:
        text = f"a strip of {picture.box.width_px} × {picture.box.height_px} pixels"
    text += f", from {candidate.blob.seen_by}"
    if candidate.dark_side:
        text += f"; the {candidate.dark_side} side is dark, its edge is taken from the other side"
    if candidate.confidence <= _DEPTH_NOT_SEEN and candidate.is_shallow:
        text += "; only the part nearest to the probe is painted, how deep the picture goes cannot be seen"
    if weak:
        text += f"; hardly seen: {', '.join(weak)}"
    if off:
        text += f"; off the screen: {', '.join(off)}"
    return text
