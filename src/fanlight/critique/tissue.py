"""Tissue told from blood-like dark parts on the mean picture, so that a large cavity never passes for low gain."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

# Depths, as shares of the displayed depth, between which tissue and cavities are looked for: the first part holds
# skin and reverberation, the last part noise (engineering judgement).
INNER_FROM, INNER_TO = 0.12, 0.80
# Smoothing before the split: about one speckle cell in depth and across, so that single speckles do not count.
SMOOTH_DEPTHS, SMOOTH_BEAMS = 7, 5
# Share of the inner part whose darkest samples stand for "the darkest cavity": a chamber of 2 % of the picture is the
# smallest that can be judged (engineering judgement).
DARKEST_SHARE = 0.02
# Tissue makes up at least this share of the inner part, also in a heart that is mostly cavity (engineering judgement).
LEAST_TISSUE_SHARE = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class TissueSplit:
    """Tissue and dark parts of the mean picture. Levels are grey levels, 0 to 255."""

    smooth: NDArray[np.float32]  # (depth, beam), the smoothed mean picture
    tissue: NDArray[np.bool_]  # (depth, beam), whole picture
    tissue_level: float  # median of tissue within the inner depths
    darkest_level: float  # of the darkest part within the inner depths
    inner: NDArray[np.bool_]


def rows_between(n_depths: int, start: float, stop: float) -> slice:
    """Return the rows between two shares of the depth, at least one row."""
    first = round(start * n_depths)
    return slice(first, max(first + 1, round(stop * n_depths)))


def smooth_beams(
    mean: NDArray[np.float32],
    valid: NDArray[np.bool_],
    n_depths: int = SMOOTH_DEPTHS,
    n_beams: int = SMOOTH_BEAMS,
) -> NDArray[np.float32]:
    """Return the box mean over neighbouring valid samples."""
    weight = cv2.blur(valid.astype(np.float32), (n_beams, n_depths))
    total = cv2.blur(np.where(valid, mean, 0).astype(np.float32), (n_beams, n_depths))
    return np.asarray(total / np.maximum(weight, 1e-6), np.float32)


def split_tissue(
    mean: NDArray[np.float32], valid: NDArray[np.bool_], without_beams: NDArray[np.bool_] | None = None
) -> TissueSplit:
    """Split the mean picture into tissue and dark parts at the threshold that separates them best (Otsu).

    Parameters
    ----------
    mean : ndarray of shape (depth, beam)
        Mean grey level over time.
    valid : ndarray of shape (depth, beam)
        Samples that may be used.
    without_beams : ndarray of shape (beam,), optional
        Beams to leave out, for instance shadowed ones.

    Notes
    -----
    Otsu's threshold always splits. In a picture without a cavity it splits the tissue itself; the tissue level is then
    a little too high (by less than one standard deviation of the smoothed tissue).

    References
    ----------
    N. Otsu, A threshold selection method from gray-level histograms, IEEE Trans. SMC 9 (1979) 62-66.
    """
    smooth = smooth_beams(mean, valid)
    inner = np.zeros_like(valid)
    inner[rows_between(valid.shape[0], INNER_FROM, INNER_TO)] = True
    inner &= valid
    if without_beams is not None:
        inner = inner & ~without_beams[None, :]
    values = smooth[inner]
    if values.size == 0:
        nothing = np.zeros_like(valid)
        return TissueSplit(smooth=smooth, tissue=nothing, tissue_level=0.0, darkest_level=0.0, inner=inner)
    levels = np.clip(np.round(values), 0, 255).astype(np.uint8)
    threshold, _ = cv2.threshold(levels.reshape(-1, 1), 0, 255, cv2.THRESH_BINARY | cv2.THRESH_OTSU)
    # Where only a few specular lines stand out (very low gain), the split would take them for tissue: keep a quarter.
    threshold = min(float(threshold), float(np.percentile(values, 100 * (1 - LEAST_TISSUE_SHARE))))
    tissue = valid & (smooth > threshold)
    bright = mean[tissue & inner]
    darkest = np.sort(values)[: max(1, round(DARKEST_SHARE * values.size))]
    return TissueSplit(
        smooth=smooth,
        tissue=tissue,
        tissue_level=float(np.median(bright)) if bright.size else 0.0,
        darkest_level=float(np.median(darkest)),
        inner=inner,
    )
