"""Time gain compensation: a stripe that is brighter or darker over all beams, at the same depth, in all frames."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import minimum_filter1d, uniform_filter1d

from fanlight.critique.accumulator import ClipContext, judged
from fanlight.critique.applies import none_assessable
from fanlight.critique.beam_moments import FULL_SCALE, BeamMoments
from fanlight.critique.dark_beams import beam_levels, find_dark_runs, is_in_runs
from fanlight.critique.over_moments import family_over_moments
from fanlight.critique.percentiles import row_percentiles
from fanlight.critique.tissue import rows_between
from fanlight.study import Evidence, Finding, Polyline

# Beams are judged in this many groups side by side.
N_GROUPS = 16
# A group's level at a depth is this percentile across its beams: a chamber must fill most of the group to darken it.
GROUP_PERCENTILE = 60.0
# Consoles have six to ten sliders: a stripe is one slider wide (common practice, no source).
STRIPE_SHARES = (1 / 12, 1 / 9, 1 / 7)
# Share of the groups that must have a say: more of them for a dark stripe, which could be a wide chamber.
FEWEST_DARK_VOTES, FEWEST_BRIGHT_VOTES = 0.6, 0.3
# A stripe counts as high as all but this share of its groups show it: a bright far wall beside it hides some.
DISSENT_DARK, DISSENT_BRIGHT = 0.2, 0.3
# A window is tissue throughout when no row of it falls below this share of the usual level (engineering judgement).
LIT_RATIO = 0.35
ROWS_SMOOTHED = 5  # of 256, before a window's darkest row is looked for
# Share of the depth at which enough groups must show tissue before anything is said.
LEAST_TOLD_SHARE = 0.7
# Without that, only a stripe this many times over the limit is called one: walls that lie at one depth over part of the
# width reach one and a half times the limit (simulated clips, ring A).
SURE_RATIO = 1.6
# Skin and muscle lie in true stripes before this depth; noise lies behind the other.
FROM, TO = 0.16, 0.92


def _judge(context: ClipContext, moments: BeamMoments) -> tuple[Finding, ...]:
    valid = moments.valid & moments.seen
    dark = is_in_runs(find_dark_runs(beam_levels(moments.mean, valid)), valid.shape[1])
    profiles = group_profiles(moments.mean, valid & ~dark[None, :])
    if len(profiles) < N_GROUPS - 2:
        return none_assessable(context, FAMILY, "too few beams carry echo to compare them")
    stripe_found = strongest_stripe(profiles)
    height, centre, width = stripe_found.height, stripe_found.centre, stripe_found.width
    value = abs(height) / FULL_SCALE
    met_high = context.criteria["tgc_banding"].band.met_high
    if stripe_found.told_share < LEAST_TOLD_SHARE and (met_high is None or value <= SURE_RATIO * met_high):
        return none_assessable(
            context, FAMILY, "too much of the depth shows chambers and not tissue across the whole width"
        )
    picture = context.layout.picture
    assert picture is not None
    across = np.linspace(0, 1, 13)
    top = [picture.point(max(0.0, centre - width / 2), float(b)) for b in across]
    bottom = [picture.point(min(1.0, centre + width / 2), float(b)) for b in across[::-1]]
    stripe = Evidence(shape=Polyline(points=(*top, *bottom), closed=True), label="stripe")
    words = f"a {'bright' if height > 0 else 'dark'} stripe at {100 * centre:.0f} % of the displayed depth"
    return (judged(context, FAMILY, "tgc_banding", value, confidence=0.8, evidence=(stripe,), note=words),)


def group_profiles(mean: NDArray[np.float32], usable: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Return the brightness along depth of each group of beams, shape (group, depth); NaN where nothing was seen.

    See `GROUP_PERCENTILE` for a group's level.
    """
    groups = []
    for beams in np.array_split(np.arange(mean.shape[1]), N_GROUPS):
        seen = usable[:, beams]
        if seen.mean() < 0.5:
            continue
        values = np.where(seen, mean[:, beams], np.nan)
        rows = np.full(mean.shape[0], np.nan, np.float32)
        some = seen.mean(axis=1) > 0.4
        rows[some] = row_percentiles(values[some], GROUP_PERCENTILE)
        groups.append(rows)
    return np.asarray(groups, np.float32).reshape(len(groups), mean.shape[0])


@dataclass(frozen=True, slots=True, kw_only=True)
class Stripe:
    """The clearest stripe of a picture."""

    height: float  # grey levels, negative: dark
    centre: float  # share of the depth
    width: float
    told_share: float  # of the depths looked at: where enough groups had a say


def strongest_stripe(profiles: NDArray[np.float32]) -> Stripe:
    """Return the clearest stripe in the profiles of the groups, shape (group, depth).

    A stripe's height is its level less the mean of its two neighbours, so that a steady fall or a single border
    counts little. See `agreed_height` for what makes it a stripe and not anatomy.
    """
    n_depths = profiles.shape[1]
    levels = np.nan_to_num(profiles, nan=0.0)
    usual = float(np.percentile(levels[:, rows_between(n_depths, FROM, TO)], 60))
    smooth = uniform_filter1d(levels, ROWS_SMOOTHED, axis=1)
    best, where, width = 0.0, 0.5, STRIPE_SHARES[0]
    told: set[int] = set()
    asked: set[int] = set()
    for share in STRIPE_SHARES:
        size = max(3, round(share * n_depths))
        level = uniform_filter1d(levels, size, axis=1)
        is_tissue = minimum_filter1d(smooth, size, axis=1) > LIT_RATIO * usual
        rows = rows_between(n_depths, FROM + share, TO - share)
        for row in range(rows.start, rows.stop, 2):
            asked.add(row)
            height = level[:, row] - 0.5 * (level[:, row - size] + level[:, row + size])
            between = is_tissue[:, row - size] & is_tissue[:, row + size]
            agreed = agreed_height(height, between, is_tissue[:, row])
            if agreed is None:
                continue
            told.add(row)
            if abs(agreed) > abs(best):
                best, where, width = agreed, row / n_depths, share
    return Stripe(height=best, centre=where, width=width, told_share=len(told) / max(1, len(asked)))


def agreed_height(
    height: NDArray[np.float32], between_tissue: NDArray[np.bool_], is_tissue: NDArray[np.bool_]
) -> float | None:
    """Return how high a stripe the groups agree on, in grey levels; 0 when they disagree, None when too few can tell.

    Anatomy does not lie at one depth over the whole width, a slider does. A group abstains where the stripe's
    neighbours are not tissue throughout, and where it cannot show a bright stripe because it is fluid itself. It must
    vote on a dark stripe: that is where a chamber would pass for one.

    Parameters
    ----------
    height : ndarray of shape (group,)
        Level within the stripe less that beside it.
    between_tissue, is_tissue : ndarray of shape (group,)
        Whether the windows above and below, and the stripe itself, are tissue throughout.
    """
    dark_votes = np.sort(height[between_tissue])
    if len(dark_votes) >= FEWEST_DARK_VOTES * len(height):
        dark = _at_share(dark_votes, 1 - DISSENT_DARK)
        if dark < 0:
            return dark
    bright_votes = np.sort(height[between_tissue & is_tissue])
    if len(bright_votes) >= FEWEST_BRIGHT_VOTES * len(height):
        return max(0.0, _at_share(bright_votes, DISSENT_BRIGHT))
    return None


def _at_share(ordered: NDArray[np.float32], share: float) -> float:
    """Value at a share (0 first, 1 last) of ordered numbers, interpolated."""
    return float(np.interp(share * (len(ordered) - 1), np.arange(len(ordered)), ordered))


FAMILY = family_over_moments("tgc", version=3, judge=_judge)
