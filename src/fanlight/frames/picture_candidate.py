"""A candidate for the ultrasound picture: a rough fit set to the edges of the paint, with how much of it is seen."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fanlight.frames.edge_snap import Support, snap_sector, snap_strip
from fanlight.frames.fan_fit import RoughFit
from fanlight.frames.painted import Blob, Screen, Sign, reduction
from fanlight.study import Box, Picture, Sector, Strip

MIN_SIDE_PX = 40  # a picture smaller than this on any side holds nothing to judge
# Grey levels above the background that count in full; brighter adds nothing, so that white letters beside a dark
# picture weigh no more than its own echoes (engineering judgement).
_BRIGHT_ENOUGH = 48.0
# Paint that fills less than this share of the height leaves open how deep the picture goes: a probe in the air
# paints the nearest millimetres only. The confidence is held below what may contradict a region of the file.
_SHALLOW_FRACTION = 0.22
_DEPTH_NOT_SEEN = 0.45


@dataclass(frozen=True, slots=True)
class Candidate:
    """A fan or a strip where the picture may be."""

    picture: Picture
    confidence: float
    rank: float  # confidence, rough fit, and the larger of two that both look like a picture
    rough: RoughFit
    support: Support
    blob: Blob
    is_shallow: bool
    dark_side: str = ""  # that was taken from the other


def size_weight(blob: Blob) -> float:
    """Machines fill their screens: a third of the height is usual even beside a trace (engineering judgement)."""
    rows = np.flatnonzero(blob.mask.any(axis=1))
    height = (rows[-1] - rows[0] + 1) / blob.mask.shape[0]
    return float(min(1.0, height / 0.33) * (blob.area_px / blob.mask.size) ** 0.25)


def _presence(screen: Screen, blob: Blob) -> NDArray[np.float32]:
    values = {Sign.CHANGE: screen.change, Sign.LIFT: screen.lift, Sign.TRACE: screen.trace}[blob.seen_in]
    table = np.log1p(np.minimum(np.arange(256, dtype=np.float32), _BRIGHT_ENOUGH)) / math.log1p(_BRIGHT_ENOUGH)
    return np.asarray(table.astype(np.float32)[values])


def set_to_edges(
    screen: Screen, blob: Blob, rough: RoughFit, stretch: float, *, is_even: bool = False
) -> Candidate | None:
    """Set a rough fit to the edges of the paint.

    Parameters
    ----------
    screen : Screen
        What the paint was seen in.
    blob : Blob
        The area that was fitted.
    rough : RoughFit
        On the reduced screen.
    stretch : float
        Width of a pixel divided by its height.
    is_even : bool
        Whether both sides of the fan are held equally wide; the side that is less seen does not count then.

    Returns
    -------
    Candidate or None
        None where what comes out is smaller than a picture can be, or no fan that opens downwards.
    """
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
        if far - near < MIN_SIDE_PX or math.degrees(left) < -89 or math.degrees(right) > 89:
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
        if box[2] - box[0] < max(MIN_SIDE_PX, 0.15 * cols) or box[3] - box[1] < MIN_SIDE_PX:
            return None
        picture = Strip(box=Box(row0=int(box[1]), col0=int(box[0]), row1=int(box[3]) + 1, col1=int(box[2]) + 1))
    confidence = _confidence(rough, support, blob)
    if picture.depth_px < _SHALLOW_FRACTION * rows:
        confidence = min(confidence, _DEPTH_NOT_SEEN)
    return Candidate(
        picture=picture,
        confidence=confidence,
        rank=confidence * rough.score**0.5 * size_weight(blob),
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
    size = min(1.0, size_weight(blob) / 0.05**0.25)
    return float(edges**0.5 * shape**0.5 * size**0.5 * 0.9 ** max(hidden, 0))


def words_of(candidate: Candidate) -> str:
    """Say in plain words what was found, and which of its edges are hardly seen."""
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
