"""How much of the sector the colour box takes: a large box costs pictures a second and lowers the scale."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext, Family, judged, not_assessable
from fanlight.critique.applies import none_assessable
from fanlight.critique.doppler.colour_frames import UNMEASURED, colour_frames, is_colour, why_not_colour
from fanlight.study import ClipTime, Evidence, Finding, PictureChunk, Polyline, Sector, Verdict

KEY = "colour_box_share"
# The box reaches to the outermost of the coloured cells, but for this share of them on each side: lone specks.
TRIM = 0.004
FEWEST_PX = 60


class _ColourArea:
    def __init__(self, context: ClipContext) -> None:
        self._context = context
        self._reason = why_not_colour(context)
        self._frames = colour_frames(context)
        self._asked = is_colour(context)
        self._ever: NDArray[np.bool_] | None = None

    def add(self, chunk: PictureChunk) -> None:
        if self._reason:
            return
        ever = np.asarray(self._frames.read(chunk).coloured.any(axis=0), np.bool_)
        self._ever = ever if self._ever is None else self._ever | ever

    def finish(self, _: ClipTime) -> tuple[Finding, ...]:
        if not self._asked:
            return ()
        if self._reason:
            return none_assessable(self._context, FAMILY, self._reason)
        picture, box = self._context.layout.picture, self._frames.box
        assert picture is not None
        if self._ever is None or box is None or np.count_nonzero(self._ever) < FEWEST_PX:
            return (not_assessable(self._context, FAMILY, KEY, "there is no colour in this picture"),)
        rows, cols = np.nonzero(self._ever)
        near, far, left, right = edges_of(picture, rows + box.row0, cols + box.col0)
        share = area_share(picture, near, far, left, right)
        if self._context.criteria[KEY].band.judge(share)[0] is Verdict.MET:
            # Colour need not reach the rim of its box: what is painted is a lower bound, and a bound clears nobody.
            reason = f"colour was painted in {100 * share:.0f} % of the picture; the box is as large or larger"
            return (not_assessable(self._context, FAMILY, KEY, reason),)
        outline = [picture.point(near, float(b)) for b in np.linspace(left, right, 13)]
        outline += [picture.point(far, float(b)) for b in np.linspace(right, left, 13)]
        return (
            judged(
                self._context, FAMILY, KEY, share, confidence=UNMEASURED, uncertainty=0.02,
                evidence=(Evidence(shape=Polyline(points=tuple(outline), closed=True), label="colour"),),
                note="from where colour was painted in this clip; the box itself is as large or larger",
            ),
        )  # fmt: skip


def edges_of(
    picture: Sector | object, rows: NDArray[np.int64], cols: NDArray[np.int64]
) -> tuple[float, float, float, float]:
    """Return near and far edge (shares of the depth), left and right edge (shares of the beams) of pixels."""
    if isinstance(picture, Sector):
        aside, down = (cols - picture.apex_col_px) * picture.col_stretch, rows - picture.apex_row_px
        depth = (np.hypot(aside, down) - picture.near_px) / picture.depth_px
        beam = (np.degrees(np.arctan2(aside, down)) - picture.left_deg) / picture.width_deg
    else:
        strip = picture.box  # type: ignore[attr-defined]
        depth = (rows - strip.row0) / strip.height_px
        beam = (cols - strip.col0) / strip.width_px
    low, high = np.quantile(depth, [TRIM, 1 - TRIM]), np.quantile(beam, [TRIM, 1 - TRIM])
    near, far = (float(np.clip(v, 0.0, 1.0)) for v in low)
    left, right = (float(np.clip(v, 0.0, 1.0)) for v in high)
    return near, far, left, right


def area_share(picture: Sector | object, near: float, far: float, left: float, right: float) -> float:
    """Return the area between two depths and two beams as a share of the picture's."""
    if not isinstance(picture, Sector):
        return (far - near) * (right - left)
    inner, outer = picture.near_px, picture.far_px
    a, b = inner + near * (outer - inner), inner + far * (outer - inner)
    return (b * b - a * a) / (outer * outer - inner * inner) * (right - left)


FAMILY = Family(name="doppler_colour_area", version=1, start=_ColourArea)
