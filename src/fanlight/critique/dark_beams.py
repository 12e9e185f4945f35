"""Beams that carry no echo from some depth to the bottom of the picture: behind a rib, or without contact."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.critique.percentiles import row_percentiles
from fanlight.critique.tissue import rows_between, smooth_beams

# Depths between which a beam must be dark; nearer lies the tissue in front of a rib, further the noise.
DARK_FROM, DARK_TO = 0.22, 0.88
# A beam's level is this percentile over depth: a far wall of one tenth of the depth behind a very large chamber is
# enough to show that the beam passed (disease is not a fault).
LEVEL_PERCENTILE = 92.0
# A beam is dark when its level lies below this share of the usual beam's (engineering judgement).
DARK_RATIO = 0.45
# A wedge narrower than this share of the width is not told from a gap between speckles.
NARROWEST_SHARE = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class DarkRun:
    """Neighbouring dark beams, half-open."""

    first: int
    stop: int


def beam_levels(
    mean: NDArray[np.float32],
    valid: NDArray[np.bool_],
    start: float = DARK_FROM,
    stop: float = DARK_TO,
    percentile: float = LEVEL_PERCENTILE,
) -> NDArray[np.float32]:
    """Return how bright each beam gets between these depths, in grey levels; NaN where it lies off the screen."""
    rows = rows_between(mean.shape[0], start, stop)
    smooth = smooth_beams(mean, valid, 7, 1)[rows]
    usable = valid[rows]
    enough = usable.mean(axis=0) > 0.5
    levels = np.full(mean.shape[1], np.nan, np.float32)
    levels[enough] = row_percentiles(np.where(usable, smooth, np.nan).T[enough], percentile)
    return levels


def find_dark_runs(levels: NDArray[np.float32]) -> tuple[DarkRun, ...]:
    """Return the runs of dark beams. Dark is meant against the brighter half of the beams of the same picture."""
    seen = np.isfinite(levels)
    if not seen.any():
        return ()
    usual = float(np.percentile(levels[seen], 75))
    dark = seen & (np.nan_to_num(levels, nan=0.0) < DARK_RATIO * usual)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], dark.view(np.int8), [0]])))
    narrowest = max(2, round(NARROWEST_SHARE * len(levels)))
    return tuple(
        DarkRun(first=int(a), stop=int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a >= narrowest
    )


def is_in_runs(runs: tuple[DarkRun, ...], n_beams: int) -> NDArray[np.bool_]:
    """Return which beams lie in a run."""
    inside = np.zeros(n_beams, np.bool_)
    for run in runs:
        inside[run.first : run.stop] = True
    return inside
