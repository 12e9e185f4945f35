"""Overall gain: how bright tissue is, how black blood is, and how much is burnt out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext, judged, not_assessable
from fanlight.critique.applies import none_assessable
from fanlight.critique.beam_moments import FULL_SCALE, BeamMoments
from fanlight.critique.dark_beams import beam_levels, find_dark_runs, is_in_runs
from fanlight.critique.over_moments import family_over_moments
from fanlight.critique.tissue import TissueSplit, split_tissue
from fanlight.study import Finding

# Grey levels within this of the ceiling count as burnt out; bilinear resampling of a burnt-out patch stays in it.
CEILING_MARGIN = 3
# The lowest level at which a grey map may end: 235 is white in video range (ITU-R BT.601), less is a dark picture.
LOWEST_CEILING = 225
# A level holds clipped samples when it is this many times as frequent as those just below it.
PILE_UP_RATIO = 3.0
STRAY_SHARE = 1e-4  # one sample in 10 000: a letter, not a pile
# A cavity's level is this percentile of its samples: valves, chordae and slanting walls lie in it as well.
CAVITY_PERCENTILE = 10.0
FEWEST_CAVITY_SAMPLES = 200  # of 32 768: less is a gap between walls
# Fewer tissue samples than this (of 32 768) are letters or specks, not tissue.
FEWEST_TISSUE_SAMPLES = 100


def _spread_over_width(mean: NDArray[np.float32], tissue: NDArray[np.bool_]) -> float | None:
    """Standard error of the tissue level from its difference between four parts of the width, in grey levels."""
    quarters = np.array_split(np.arange(mean.shape[1]), 4)
    levels = [float(np.median(mean[:, q][tissue[:, q]])) for q in quarters if np.count_nonzero(tissue[:, q]) > 50]
    return float(np.std(levels, ddof=1) / np.sqrt(len(levels))) if len(levels) > 1 else None


def _judge(context: ClipContext, moments: BeamMoments) -> tuple[Finding, ...]:
    valid = moments.valid & moments.seen
    mean = moments.mean
    shadowed = is_in_runs(find_dark_runs(beam_levels(mean, valid)), mean.shape[1])
    split = split_tissue(mean, valid, shadowed)
    tissue = split.tissue & split.inner
    if np.count_nonzero(tissue) < FEWEST_TISSUE_SAMPLES:
        return none_assessable(context, FAMILY, "no tissue was found in the picture")
    spread = _spread_over_width(mean, tissue)
    gain = judged(
        context,
        FAMILY,
        "overall_gain",
        split.tissue_level / FULL_SCALE,
        confidence=0.9,
        uncertainty=None if spread is None else spread / FULL_SCALE,
    )
    tissue_share = float(np.count_nonzero(tissue)) / max(1, int(np.count_nonzero(split.inner)))
    return gain, _haze(context, split), _saturation(context, moments.inner_histogram, tissue_share)


def _haze(context: ClipContext, split: TissueSplit) -> Finding:
    criterion = context.criteria["cavity_haze"]
    level = cavity_level(split) / FULL_SCALE
    contrast = split.tissue_level / FULL_SCALE - level
    is_black = criterion.band.met_high is not None and level <= criterion.band.met_high
    if not is_black and contrast < criterion.setting("least_contrast_fraction"):
        return not_assessable(context, FAMILY, "cavity_haze", "no part of the picture is clearly darker than tissue")
    return judged(context, FAMILY, "cavity_haze", level, confidence=0.85)


def _saturation(context: ClipContext, histogram: NDArray[np.int64], tissue_share: float) -> Finding:
    burnt = int(histogram[burnt_out_from(histogram) :].sum())
    share = burnt / max(1.0, tissue_share * float(histogram.sum()))
    return judged(context, FAMILY, "saturation", min(1.0, share), confidence=0.9)


def cavity_level(split: TissueSplit) -> float:
    """Return the level of the blacker part of the cavities, in grey levels.

    A cavity has tissue above and below, left and right of it. What is dark beside the heart, behind lung or in a shadow
    stays black however high the gain is. Where nothing is enclosed, the darkest part of the picture is taken.
    """
    tissue = split.tissue
    enclosed = split.inner & ~tissue
    for axis in (0, 1):
        enclosed &= np.maximum.accumulate(tissue, axis=axis)
        enclosed &= np.flip(np.maximum.accumulate(np.flip(tissue, axis), axis=axis), axis)
    inside = split.smooth[enclosed]
    if inside.size < FEWEST_CAVITY_SAMPLES:
        return split.darkest_level
    return float(np.percentile(inside, CAVITY_PERCENTILE))


def burnt_out_from(histogram: NDArray[np.int64]) -> int:
    """Return the grey level from which samples count as burnt out.

    White is 255, unless the grey map or a video range ends lower: then clipped samples pile up at the highest level
    that the picture reaches, and that level is taken.
    """
    reached = np.flatnonzero(np.cumsum(histogram[::-1])[::-1] > STRAY_SHARE * max(1, int(histogram.sum())))
    top = int(reached[-1]) if len(reached) else 255
    below = float(histogram[max(0, top - 12) : max(1, top - 2)].mean())
    piled_up = top >= LOWEST_CEILING and float(histogram[top]) > PILE_UP_RATIO * below
    return (top if piled_up else 255) - CEILING_MARGIN


FAMILY = family_over_moments("gain", version=2, judge=_judge)
