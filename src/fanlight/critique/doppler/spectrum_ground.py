"""The ground of a strip, beside its signal: whether the receiver's noise shows there."""

from __future__ import annotations

import cv2
import numpy as np

from fanlight.critique.doppler.spectrum_frames import SpectrumFrames

# Engineering judgement for all.
_BESIDE_PX = (25, 15)  # rows and columns about the signal: its fringe is no noise
_BESIDE_LINE_SHARE = 0.08  # of the height: wall filter and drawn line
_GROUND_PERCENTILE, _SPECK_LEVELS = 2.0, 12.0  # some screens have a grey ground; above it, what an eye sees as a speck
_PARTS = 12  # of the time that the strip shows: what is left of a signal stands in some of them, noise in all
_FEWEST_PX = 200  # of a part
_SHOWS_FROM_SHARE = 0.003  # of the ground: so few specks are seen on a black one


def noise_shows(frames: SpectrumFrames) -> bool | None:
    """Return whether specks of noise are strewn over the ground; None where no ground is left beside the signal.

    The noise of the receiver is there always and at all velocities (physics): where none of it shows, the gain could
    be higher, or the display cuts what is weak.
    """
    assert frames.axes is not None
    box, axes = frames.axes.box, frames.axes
    strip = frames.grey[box.row0 : box.row1, box.col0 : box.col1]
    beside = cv2.dilate(frames.reach.signal.astype(np.uint8), np.ones(_BESIDE_PX, np.uint8)) == 0
    away = np.abs(np.arange(len(strip)) - (axes.baseline_row_px - box.row0)) > _BESIDE_LINE_SHARE * len(strip)
    beside &= away[:, None] & ~frames.clicks[None, :]
    if np.count_nonzero(beside) < _FEWEST_PX:
        return None
    lit = strip > np.percentile(strip[beside], _GROUND_PERCENTILE) + _SPECK_LEVELS
    shares = [
        float(specks[there].mean())
        for specks, there in zip(
            np.array_split(lit, _PARTS, axis=1), np.array_split(beside, _PARTS, axis=1), strict=True
        )
        if np.count_nonzero(there) >= _FEWEST_PX
    ]  # fmt: skip
    return bool(np.median(shares) >= _SHOWS_FROM_SHARE) if shares else None
