"""Time gain compensation: a stripe that is brighter or darker over all beams, at the same depth, in all frames."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext, Family, judged
from fanlight.critique.applies import none_assessable, why_not_picture
from fanlight.critique.beam_moments import BeamMoments
from fanlight.critique.dark_beams import beam_levels, find_dark_runs, is_in_runs
from fanlight.critique.gain import FULL_SCALE, why_no_echo
from fanlight.critique.tissue import rows_between
from fanlight.study import ClipTime, Evidence, Finding, PictureChunk, Polyline

# Beams are judged in this many groups side by side; a stripe must show in all but one of them.
N_GROUPS = 8
# Consoles have six to ten sliders: a stripe is one slider wide (common practice, no source).
STRIPE_SHARES = (1 / 12, 1 / 9, 1 / 7)
# Groups that must have a say: a dark stripe could be a wide chamber, so nearly all; a bright one half of them.
FEWEST_DARK_VOTES = 6
FEWEST_BRIGHT_VOTES = 4
# A bright stripe counts as high as this percentile of its groups shows it: a bright far wall beside it hides some.
BRIGHT_PERCENTILE = 25.0
# Below this share of the usual level a group shows fluid, or partly fluid, and not tissue (engineering judgement).
LIT_RATIO = 0.6
# Skin and muscle lie in true stripes before this depth; noise lies behind the other.
FROM, TO = 0.16, 0.92


class _Tgc:
    def __init__(self, context: ClipContext) -> None:
        self._context = context
        self._reason = why_not_picture(context)
        self._moments = None if self._reason else BeamMoments(context)

    def add(self, chunk: PictureChunk) -> None:
        if self._moments is not None:
            self._moments.add(chunk)

    def finish(self, time: ClipTime) -> tuple[Finding, ...]:
        del time
        moments = self._moments
        if moments is None:
            return none_assessable(self._context, FAMILY, self._reason)
        if reason := why_no_echo(moments):
            return none_assessable(self._context, FAMILY, reason)
        valid = moments.valid & moments.seen
        dark = is_in_runs(find_dark_runs(beam_levels(moments.mean, valid)), valid.shape[1])
        profiles = group_profiles(moments.mean, valid & ~dark[None, :])
        if len(profiles) < N_GROUPS - 2:
            return none_assessable(self._context, FAMILY, "too few beams carry echo to compare them")
        height, centre, width = strongest_stripe(profiles)
        picture = self._context.layout.picture
        assert picture is not None
        across = np.linspace(0, 1, 13)
        top = [picture.point(max(0.0, centre - width / 2), float(b)) for b in across]
        bottom = [picture.point(min(1.0, centre + width / 2), float(b)) for b in across[::-1]]
        stripe = Evidence(shape=Polyline(points=(*top, *bottom), closed=True), label="stripe")
        value = abs(height) / FULL_SCALE
        words = f"a {'bright' if height > 0 else 'dark'} stripe at {100 * centre:.0f} % of the displayed depth"
        return (judged(self._context, FAMILY, "tgc_banding", value, confidence=0.8, evidence=(stripe,), note=words),)


def group_profiles(mean: NDArray[np.float32], usable: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Return the brightness along depth of each group of beams, shape (group, depth); NaN where nothing was seen.

    A group's level at a depth is its upper quartile across the beams: a chamber has to fill three quarters of the
    group before it darkens it.
    """
    groups = []
    for beams in np.array_split(np.arange(mean.shape[1]), N_GROUPS):
        seen = usable[:, beams]
        if seen.mean() < 0.5:
            continue
        values = np.where(seen, mean[:, beams], np.nan)
        rows = np.full(mean.shape[0], np.nan, np.float32)
        some = seen.mean(axis=1) > 0.4
        rows[some] = np.nanpercentile(values[some], 75, axis=1)
        groups.append(rows)
    return np.asarray(groups, np.float32).reshape(len(groups), mean.shape[0])


def strongest_stripe(profiles: NDArray[np.float32]) -> tuple[float, float, float]:
    """Return height in grey levels (negative: dark), centre and width (shares of the depth) of the clearest stripe.

    A stripe's height is its level less the mean of its two neighbours, so that a steady fall or a single border
    counts little. See `agreed_height` for what makes it a stripe and not anatomy.
    """
    n_depths = profiles.shape[1]
    inside = profiles[:, rows_between(n_depths, FROM, TO)]
    lit_from = LIT_RATIO * float(np.nanpercentile(inside, 60)) if np.isfinite(inside).any() else 0.0
    best, where, width = 0.0, 0.5, STRIPE_SHARES[0]
    for share in STRIPE_SHARES:
        size = max(3, round(share * n_depths))
        padded = np.nan_to_num(profiles, nan=0.0)
        known = np.isfinite(profiles).astype(np.float32)
        box = np.ones(size, np.float32)
        sums = np.array([np.convolve(p, box, "same") for p in padded])
        counts = np.array([np.convolve(k, box, "same") for k in known])
        level = np.where(counts > 0.6 * size, sums / np.maximum(counts, 1), np.nan)
        rows = rows_between(n_depths, FROM + share, TO - share)
        for row in range(rows.start, rows.stop, 2):
            height = agreed_height(level[:, row], level[:, row - size], level[:, row + size], lit_from)
            if abs(height) > abs(best):
                best, where, width = height, row / n_depths, share
    return best, where, width


def agreed_height(
    here: NDArray[np.float32], above: NDArray[np.float32], below: NDArray[np.float32], lit_from: float
) -> float:
    """Return how high a stripe the groups agree on, in grey levels; 0 when they do not.

    Anatomy does not lie at one depth over the whole width, a slider does. A group abstains where the stripe's
    neighbours are fluid (both must be lit), and where it cannot show a bright stripe because it is fluid itself. It
    must vote on a dark stripe: that is where a chamber would pass for one.
    """
    height = here - 0.5 * (above + below)
    known = np.isfinite(height) & (above > lit_from) & (below > lit_from)
    dark_votes = np.sort(height[known])
    if len(dark_votes) >= FEWEST_DARK_VOTES and dark_votes[-2] < 0:
        return float(dark_votes[-2])
    bright_votes = np.sort(height[known & (here > lit_from)])
    if len(bright_votes) >= FEWEST_BRIGHT_VOTES:
        return max(0.0, float(np.percentile(bright_votes, BRIGHT_PERCENTILE)))
    return 0.0


FAMILY = Family(name="tgc", version=1, start=_Tgc)
