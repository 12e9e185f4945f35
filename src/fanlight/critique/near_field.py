"""The first part of the picture: too dark, or covered by a haze that stands still while the heart beats."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext, judged, not_assessable
from fanlight.critique.applies import none_assessable
from fanlight.critique.beam_moments import FULL_SCALE, BeamMoments
from fanlight.critique.dark_beams import beam_levels, find_dark_runs, is_in_runs
from fanlight.critique.over_moments import family_over_moments
from fanlight.critique.tissue import TissueSplit, rows_between, smooth_beams, split_tissue
from fanlight.study import Evidence, Finding, Polyline

# The near zone ends at 10 mm or at this share of the displayed depth, whichever comes first; without a scale at the
# share. Its first part is left out: there the transmit pulse rings and a phased array paints hardly any pixel.
NEAR_MM = 10.0
NEAR_SHARE = 0.15
RINGING_SHARE = 0.03
# Spread over time below this share of the beating part's counts as standing still. Physics: haze 5 dB above the moving
# echo (a Rician mixture) leaves 0.66 of the full spread of log-compressed speckle, 10 dB leaves 0.43.
STILL_RATIO = 0.65
# A row stands still when this share of its inner beams does; the outer ones often lie beside the heart.
STILL_BEAMS_SHARE = 0.6
INNER_BEAMS = (0.25, 0.75)
# Moving tissue lies below this share of the depth (engineering judgement: two thirds of the depth are heart).
BEATING_FROM = 0.35
# Reverberation also shows by its streaks: it comes back from the whole face at once, so its bands run straight across
# all beams and over everything, chambers too, and hardly move. Depths that are looked at first, the step by which they
# are followed on, rows of 256 whose mean is taken off, beams of 128 that are compared, and the spread over time, as
# share of the beating part's, under which this share of the rows must stay: faint tissue shines through.
STREAKS_FROM, STREAKS_TO, STREAKS_STEP, STREAKS_END = 0.12, 0.36, 0.06, 0.6
STREAK_ROWS, STREAK_BEAMS = 9, 24
CALM_RATIO, CALM_SHARE = 0.8, 0.7
STREAK_MARGIN = 8  # beams at either side of the picture, where lines are few
# Frames below which spread over time says nothing.
FEWEST_FRAMES = 8
# Spread over time, grey levels, that the livelier part of tissue must reach for the clip to count as beating.
LEAST_SPREAD_LEVELS = 6.0


def _judge(context: ClipContext, moments: BeamMoments) -> tuple[Finding, ...]:
    valid = moments.valid & moments.seen
    mean = moments.mean
    dark = is_in_runs(find_dark_runs(beam_levels(mean, valid)), mean.shape[1])
    split = split_tissue(mean, valid, dark)
    if not split.inner.any():
        return none_assessable(context, FAMILY, "no beam carries echo")
    usable = valid & ~dark[None, :]
    return _brightness(context, mean, usable, split), _clutter(context, moments, usable, split)


def _near_stop(context: ClipContext) -> float:
    depth_mm = context.layout.depth_mm
    return NEAR_SHARE if depth_mm is None else min(NEAR_SHARE, max(2 * RINGING_SHARE, NEAR_MM / depth_mm))


def _band(context: ClipContext, start: float, stop: float, label: str) -> tuple[Evidence, ...]:
    picture = context.layout.picture
    assert picture is not None
    across = np.linspace(0, 1, 13)
    near = [picture.point(start, float(b)) for b in across]
    far = [picture.point(stop, float(b)) for b in across[::-1]]
    return (Evidence(shape=Polyline(points=(*near, *far), closed=True), label=label),)


def _brightness(
    context: ClipContext, mean: NDArray[np.float32], usable: NDArray[np.bool_], split: TissueSplit
) -> Finding:
    stop = _near_stop(context)
    zone = rows_between(mean.shape[0], RINGING_SHARE, stop)
    near = mean[zone][usable[zone]]
    if near.size == 0 or split.tissue_level <= 0:
        return not_assessable(context, FAMILY, "near_field_brightness", "no echo to compare with")
    level = float(np.median(near))
    return judged(
        context,
        FAMILY,
        "near_field_brightness",
        (level - split.tissue_level) / FULL_SCALE,
        confidence=0.8,
        evidence=_band(context, RINGING_SHARE, stop, "near field"),
    )


def _clutter(context: ClipContext, moments: BeamMoments, usable: NDArray[np.bool_], split: TissueSplit) -> Finding:
    key = "near_field_clutter"
    if moments.n_frames < FEWEST_FRAMES:
        return not_assessable(context, FAMILY, key, f"needs at least {FEWEST_FRAMES} frames of a clip")
    spread = smooth_beams(moments.spread, usable, 5, 5)
    # Moving tissue is looked for below the near part and split from fluid there: haze outshines what lies under it.
    below = usable.copy()
    below[: rows_between(len(below), 0.0, BEATING_FROM).stop] = False
    deeper = split_tissue(moments.mean, below)
    moving_tissue = spread[deeper.tissue & deeper.inner]
    beating = float(np.percentile(moving_tissue, 75)) if moving_tissue.size else 0.0
    if beating < LEAST_SPREAD_LEVELS:
        return not_assessable(context, FAMILY, key, "nothing moves in this clip")
    # Bright as tissue and still: a dark still row (fluid) ends the zone, as does a beating one.
    criterion = context.criteria[key]
    bright = split.smooth > criterion.setting("haze_level_ratio") * split.tissue_level
    still = usable & bright & (spread < STILL_RATIO * beating)
    middle = slice(*(round(share * still.shape[1]) for share in INNER_BEAMS))
    counted = np.maximum(usable[:, middle].sum(axis=1), 1)
    still_rows = still[:, middle].sum(axis=1) / counted >= STILL_BEAMS_SHARE
    ringing = rows_between(len(still_rows), 0.0, RINGING_SHARE).stop
    moving = np.flatnonzero(~still_rows[ringing:])
    thickness = (ringing + (int(moving[0]) if len(moving) else len(still_rows) - ringing)) / len(still_rows)
    if thickness <= ringing / len(still_rows):
        thickness = 0.0
    words = "stand still"
    calm = np.median(spread[:, middle], axis=1) < CALM_RATIO * beating
    streaked = streaked_depth(moments.mean, split.tissue_level, calm, criterion.setting("least_streak_index"))
    if streaked > thickness:
        thickness, words = streaked, "carry streaks that run straight across"
    depth_mm = context.layout.depth_mm
    note = "" if depth_mm is None else f"the first {thickness * depth_mm:.0f} mm {words}"
    return judged(
        context,
        FAMILY,
        key,
        thickness,
        confidence=0.7,  # a thick chest wall also stands still; only its outline would tell
        uncertainty=2 / len(still_rows),
        evidence=_band(context, 0.0, max(thickness, RINGING_SHARE), "haze"),
        note=note,
    )


def streaked_depth(mean: NDArray[np.float32], tissue_level: float, calm: NDArray[np.bool_], least: float) -> float:
    """Return the share of the depth down to which the streaks of reverberation run, 0 without them.

    The index is the share of the variation along the depth that neighbouring beams have in common, times the level
    there against that of tissue: walls across the beams have only the first, a bright chest wall only the second. Most
    of the rows, shape (depth,), must be `calm`.
    """
    detail = mean - cv2.blur(mean, (1, STREAK_ROWS))
    reached, stop = 0.0, STREAKS_TO
    while stop <= STREAKS_END + 1e-6:
        rows = rows_between(mean.shape[0], stop - (STREAKS_TO - STREAKS_FROM), stop)
        shares = []
        for first in range(STREAK_MARGIN, mean.shape[1] - STREAK_MARGIN - STREAK_BEAMS + 1, STREAK_BEAMS // 2):
            part = detail[rows, first : first + STREAK_BEAMS]
            shares.append(float(part.mean(axis=1).var()) / max(float(part.var(axis=0).mean()), 1.0))
        index = float(np.mean(shares)) * float(np.median(mean[rows])) / max(tissue_level, 1.0)
        if index < least or float(np.mean(calm[rows])) < CALM_SHARE:
            break
        reached, stop = stop, stop + STREAKS_STEP
    return reached


FAMILY = family_over_moments("near_field", version=2, judge=_judge)
