"""Loss of echo with depth: how much darker the picture becomes from the upper heart to its bottom."""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext, judged
from fanlight.critique.applies import none_assessable
from fanlight.critique.beam_moments import BLACK_LEVEL, BeamMoments
from fanlight.critique.dark_beams import beam_levels, find_dark_runs, is_in_runs
from fanlight.critique.over_moments import family_over_moments
from fanlight.critique.tissue import rows_between, smooth_beams
from fanlight.study import Evidence, Finding, Polyline

# The first quarter holds skin and near-field faults; the last rows noise. Below the heart lies lung, which may be dark
# on a good picture too, so the brighter part of all that lies deep is compared: far wall, its border, what is behind.
FROM, TO = 0.25, 0.95
N_BANDS = 28
# What is compared: the part above the first limit with the part below the second. Between them lie chambers.
NEAR_TO, FAR_FROM = 0.45, 0.6
# Tissue is this percentile of the smoothed samples: chambers and lung may fill most of either part.
TISSUE_PERCENTILE = 90.0


def _judge(context: ClipContext, moments: BeamMoments) -> tuple[Finding, ...]:
    valid = moments.valid & moments.seen
    dark = is_in_runs(find_dark_runs(beam_levels(moments.mean, valid)), valid.shape[1])
    depth, level = tissue_by_depth(moments.mean, valid & ~dark[None, :])
    if len(depth) < N_BANDS // 2:
        return none_assessable(context, FAMILY, "too little of the depth carries echo")
    if float(np.max(level)) < 2 * BLACK_LEVEL:
        return none_assessable(context, FAMILY, "tissue is too dark to tell how it changes with depth")
    near, far = level[depth < NEAR_TO], level[depth > FAR_FROM]
    if not len(near) or not len(far):
        return none_assessable(context, FAMILY, "either the middle or the bottom of the picture was not seen")
    smooth, usable = smooth_beams(moments.mean, valid & ~dark[None, :]), valid & ~dark[None, :]
    parts = (rows_between(len(smooth), FROM, NEAR_TO), rows_between(len(smooth), FAR_FROM, TO))
    reference, remaining = (float(np.percentile(smooth[rows][usable[rows]], TISSUE_PERCENTILE)) for rows in parts)
    # About the standard error of a middle value of n bands: 1.25 SD / sqrt(n).
    error = 1.25 * float(np.hypot(np.std(near) / np.sqrt(len(near)), np.std(far) / np.sqrt(len(far))))
    return (
        judged(
            context,
            FAMILY,
            "far_field_loss",
            1 - remaining / max(reference, 1.0),
            confidence=0.8,
            uncertainty=error / max(reference, 1.0),
            evidence=_evidence(context),
        ),
    )


def _evidence(context: ClipContext) -> tuple[Evidence, ...]:
    picture = context.layout.picture
    assert picture is not None
    across = np.linspace(0, 1, 13)
    top = [picture.point(FAR_FROM, float(b)) for b in across]
    bottom = [picture.point(1.0, float(b)) for b in across[::-1]]
    return (Evidence(shape=Polyline(points=(*top, *bottom), closed=True), label="far field"),)


def tissue_by_depth(
    mean: NDArray[np.float32], usable: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return depth (share) and tissue level (grey levels) of each depth band that was seen."""
    smooth = smooth_beams(mean, usable)
    limits = np.linspace(FROM, TO, N_BANDS + 1)
    depth, level = [], []
    for start, stop in itertools.pairwise(limits):
        rows = rows_between(mean.shape[0], start, stop)
        values = smooth[rows][usable[rows]]
        if values.size > 20:
            depth.append((start + stop) / 2)
            level.append(float(np.percentile(values, TISSUE_PERCENTILE)))
    return np.asarray(depth), np.asarray(level)


FAMILY = family_over_moments("penetration", version=3, judge=_judge)
