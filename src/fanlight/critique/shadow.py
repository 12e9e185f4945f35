"""Beams lost near the probe: the shadow of a rib, or a part of the face that does not touch."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext, judged
from fanlight.critique.applies import none_assessable
from fanlight.critique.beam_moments import BeamMoments
from fanlight.critique.dark_beams import DarkRun, beam_levels, find_dark_runs
from fanlight.critique.over_moments import family_over_moments
from fanlight.critique.tissue import rows_between
from fanlight.critique.wedges import find_wedges
from fanlight.study import Evidence, Finding, Polyline

# Where the tissue between skin and rib is looked for, as shares of the displayed depth.
SURFACE_FROM, SURFACE_TO = 0.02, 0.12
# Above a rib lies the same tissue as beside it, so both are alike in brightness down to the rib. Ring-down in air fades
# and swings instead. Mean difference (natural logarithm of the ratio) from which it is not the same tissue, and share
# of the neighbours' level under which a row is dark (engineering judgement).
SAME_TISSUE_LOG = 0.35
DARK_ROW_RATIO = 0.5
DARK_ROWS = 3  # rows in a row (of 256) that must be dark: ring-down swings faster
FEWEST_LIT_ROWS = 3
# A rib's shadow begins in the chest wall: between these depths its beams are dark already, against the beams on both of
# its sides, wherever those are lit. A chamber, or what lies beside the heart, begins deeper or on one side only.
UNDER_FROM, UNDER_TO = 0.2, 0.45
BESIDE_SHARE = 0.08  # of the width, on either side
# Rows in which tissue lies beside and shows whether it is darker here: grey levels, share of the brighter rows' level.
LIT_LEVEL, LIT_SHARE = 20.0, 0.5
UNDER_DARK_RATIO = 0.55
UNDER_SHARE = 0.8  # of the lit rows
FEWEST_ROWS_BESIDE = 8
# A shadow is dark in the upper part of the heart as well as below: a beam's level is the brighter of the two, each
# against what is usual there, so that what is dark in one part only does not join it.
NEAR_FROM, NEAR_TO, NEAR_PERCENTILE = 0.15, 0.4, 75.0
# Ring-down under a lifted edge: its bands run through all of these beams alike, and not on into those beside. Depths in
# which they are looked for, rows (of 256) whose mean is taken off, share of the variation that the beams have in
# common, and by how much more than the beams beside (simulated clips, ring A: 0.95 to 1 against 0.25 to 0.85). They may
# reach down to the middle of the picture.
RING_FROM, RING_UNTIL, RING_TO = 0.03, 0.15, 0.5
RING_ROWS = 7
RING_LIKENESS, RING_MORE = 0.9, 0.08
FEWEST_RINGING_BEAMS, FEWEST_RINGING_ROWS = 6, 9
# Over how many beams (share of the width) the edge of a shadow may spread and still be called sharp.
EDGE_SHARE = 0.05
# A run that begins within this share of the width from the edge of the picture reaches the edge.
AT_EDGE_SHARE = 0.03
# With fewer beams than this on the screen nothing is told about their neighbours.
FEWEST_BEAMS = 24


def _judge(context: ClipContext, moments: BeamMoments) -> tuple[Finding, ...]:
    valid = moments.valid & moments.seen
    levels = shadow_levels(moments.mean, valid)
    if np.count_nonzero(np.isfinite(levels)) < FEWEST_BEAMS:
        return none_assessable(context, FAMILY, "too little of the picture lies on the screen")
    runs = find_dark_runs(levels)
    ringing = tuple(
        run for run in find_dark_runs(beam_levels(moments.mean, valid, RING_TO)) if rings(run, moments.mean)
    )
    silent = tuple(run for run in runs if not touches_skin(run, moments.mean, moments.valid, levels))
    lifted = ringing + tuple(run for run in silent if not any(overlap(run, other) for other in ringing))
    wedges = find_wedges(moments.mean, valid)
    ribs = wedges + tuple(
        run
        for run in runs
        if not any(overlap(run, other) for other in wedges)
        and is_sharp(run, levels)
        and is_dark_from_the_skin(run, moments.mean, moments.valid)
    )
    ribs = tuple(run for run in ribs if not any(overlap(run, other) for other in lifted))
    seen = int(np.count_nonzero(np.isfinite(levels)))
    return (
        _finding(context, "rib_shadow", ribs, seen, len(levels), SURFACE_TO),
        _finding(context, "poor_contact", lifted, seen, len(levels), 0.0),
    )


def _finding(
    context: ClipContext, key: str, runs: tuple[DarkRun, ...], seen: int, n_beams: int, start: float
) -> Finding:
    share = sum(run.stop - run.first for run in runs) / seen
    picture = context.layout.picture
    assert picture is not None
    title = context.criteria[key].title.lower()
    evidence = []
    for run in runs:
        across = np.linspace(run.first / n_beams, run.stop / n_beams, 7)
        top = [picture.point(start, float(b)) for b in across]
        bottom = [picture.point(1.0, float(b)) for b in across[::-1]]
        evidence.append(Evidence(shape=Polyline(points=(*top, *bottom), closed=True), label=title))
    return judged(
        context,
        FAMILY,
        key,
        share,
        confidence=0.85,
        uncertainty=max(1, len(runs)) * 2 / seen,  # one beam at either side of each wedge
        evidence=tuple(evidence),
    )


def shadow_levels(mean: NDArray[np.float32], valid: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Return the level of each beam against the usual one (1), the brighter of its upper and its whole part."""
    parts = (beam_levels(mean, valid), beam_levels(mean, valid, NEAR_FROM, NEAR_TO, NEAR_PERCENTILE))
    if not np.isfinite(parts[0]).any():
        return parts[0]
    against = [part / max(float(np.nanpercentile(part, 75)), 1.0) for part in parts]
    return np.asarray(np.fmax(*against), np.float32)


def overlap(one: DarkRun, other: DarkRun) -> bool:
    """Whether two runs have beams in common."""
    return one.first < other.stop and other.first < one.stop


def rings(run: DarkRun, mean: NDArray[np.float32]) -> bool:
    """Whether these beams at the edge of the picture show the bands of ring-down in air, and not tissue."""
    width = run.stop - run.first
    if not _at_edge(run, mean.shape[1]) or width < FEWEST_RINGING_BEAMS:
        return False
    rows = mean[rows_between(mean.shape[0], RING_FROM, RING_UNTIL)]
    beams = slice(run.first + width // 5, run.stop - width // 5)
    level = rows[:, beams].mean(axis=1)
    # the step down to the shadow of a rib is common to its beams as well, and no band
    ended = np.flatnonzero(level < DARK_ROW_RATIO * float(np.percentile(level, 75)))
    rows = rows[: int(ended[0]) - RING_ROWS if len(ended) else len(rows)]
    if len(rows) < FEWEST_RINGING_ROWS:
        return False
    detail = rows - cv2.blur(rows, (1, RING_ROWS))
    inner = detail[:, beams]
    is_left = run.first < mean.shape[1] - run.stop
    start = run.stop + FEWEST_LIT_ROWS if is_left else run.first - FEWEST_LIT_ROWS - inner.shape[1]
    beside = detail[:, max(0, start) : max(0, start) + inner.shape[1]]
    alike = _common_share(inner)
    return alike > RING_LIKENESS and alike > _common_share(beside) + RING_MORE


def _at_edge(run: DarkRun, n_beams: int) -> bool:
    """Whether a run reaches the left or the right edge of the picture."""
    margin = round(AT_EDGE_SHARE * n_beams)
    return run.first <= margin or run.stop >= n_beams - margin


def _common_share(detail: NDArray[np.float32]) -> float:
    """Share of the variation along the depth that all beams have in common."""
    if detail.shape[1] == 0:
        return 1.0
    return float(detail.mean(axis=1).var() / max(1.0, float(detail.var(axis=0).mean())))


def touches_skin(
    run: DarkRun, mean: NDArray[np.float32], valid: NDArray[np.bool_], levels: NDArray[np.float32]
) -> bool:
    """Whether the dark beams begin in tissue (a rib follows) and not in air (nothing, or ring-down only)."""
    rows = rows_between(mean.shape[0], SURFACE_FROM, SURFACE_TO)
    inner = slice(run.first + (run.stop - run.first) // 5, run.stop - (run.stop - run.first) // 5)
    rest = np.isfinite(levels)
    rest[max(0, run.first - 3) : run.stop + 3] = False
    usable = valid[rows, inner]
    if not usable.any() or not rest.any():
        return True
    here = np.where(usable, mean[rows, inner], 0).sum(axis=1) / np.maximum(usable.sum(axis=1), 1)
    beside = np.maximum(np.median(mean[rows][:, rest], axis=1), 1.0)
    ratio = here / beside
    dark = np.convolve(ratio < DARK_ROW_RATIO, np.ones(DARK_ROWS), "valid") == DARK_ROWS
    depth = int(np.argmax(dark)) if dark.any() else len(ratio)  # row of the rib's surface
    if depth < FEWEST_LIT_ROWS:
        return False
    if not _at_edge(run, mean.shape[1]):
        return (
            True  # a face lifts off from an edge; between lit beams the little tissue above a rib may differ by chance
        )
    above_rib = np.clip(ratio[:depth], 0.1, 10.0)
    return float(np.mean(np.abs(np.log(above_rib)))) < SAME_TISSUE_LOG


def is_dark_from_the_skin(run: DarkRun, mean: NDArray[np.float32], valid: NDArray[np.bool_]) -> bool:
    """Whether the beams are dark against those beside them from the chest wall on, on every side that is seen."""
    rows, n_beams = rows_between(mean.shape[0], UNDER_FROM, UNDER_TO), mean.shape[1]
    reach = max(3, round(BESIDE_SHARE * n_beams))
    margin = (run.stop - run.first) // 5
    here = mean[rows, run.first + margin : run.stop - margin].mean(axis=1)
    told = []
    for start, stop in ((max(0, run.first - reach), run.first), (run.stop, min(n_beams, run.stop + reach))):
        if stop - start < FEWEST_LIT_ROWS or not valid[rows, start:stop].any():
            continue  # the edge of the picture
        beside = mean[rows, start:stop].mean(axis=1)
        lit = beside > max(LIT_LEVEL, LIT_SHARE * float(np.percentile(beside, 75)))
        if np.count_nonzero(lit) >= FEWEST_ROWS_BESIDE:
            told.append(float(np.mean(here[lit] < UNDER_DARK_RATIO * beside[lit])))
    return bool(told) and min(told) >= UNDER_SHARE


def is_sharp(run: DarkRun, levels: NDArray[np.float32]) -> bool:
    """Whether the beams beside the run are bright within a few beams: a rib's edge, not a gradual fall-off."""
    width = len(levels)
    reach = max(2, round(EDGE_SHARE * width))
    at_edge = round(AT_EDGE_SHARE * width)
    inside = float(np.nanmedian(levels[run.first : run.stop]))
    usual = float(np.nanpercentile(levels, 75))
    beside = []
    if run.first > at_edge:
        beside.append(levels[max(0, run.first - reach) : run.first])
    if run.stop < width - at_edge:
        beside.append(levels[run.stop : run.stop + reach])
    # Half way between the shadow and the usual level must be crossed within the reach, on every side that there is.
    return bool(beside) and all(float(np.nanmax(side)) > 0.5 * (inside + usual) for side in beside if side.size)


FAMILY = family_over_moments("shadow", version=3, judge=_judge)
