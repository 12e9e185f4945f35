"""Which beats count by their rhythm: one rule for every strip, whether M-mode or spectrum."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

# Common practice, no source: what comes a fifth before its time, with a pause behind it, is ectopic. A sinus arrhythmia
# shortens and lengthens beats in turn, and as far as that; without the pause an early beat counts.
PREMATURE_SHARE = 0.8
PAUSE_SHARE = 1.1
_BETWEEN_SHARE = 0.15  # of the usual interval, by which two may differ from it that make up one (engineering judgement)
# Coefficient of variation up to which a rhythm has a usual interval: a clip counts as uneven above a tenth, and few
# beats scatter (engineering judgement).
_EVEN_SHARE = 0.12
_FEWEST_TO_COMPARE = 3  # intervals: with fewer there is no usual one
_FEWEST_IRREGULAR = 4  # with fewer an ectopic beat alone looks irregular

CUT_SHORT = "an early beat cuts it short"
ECTOPIC = "it comes early, and a pause follows: ectopic"
AFTER_ECTOPIC = "it follows an ectopic beat"
# DUBREY1997: in people about 13 beats are as exact as four of a sinus rhythm.
IRREGULAR = (
    "the beats differ in length throughout: an irregular rhythm, such as atrial fibrillation or a marked sinus "
    "arrhythmia, needs many beats averaged"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rhythm:
    """What the intervals of a strip tell.

    Attributes
    ----------
    left_out : tuple of str
        For each interval why the beat in it does not count, "" where it does.
    note : str
        What holds for the mean of the beats, "" where nothing does. It names no disease of this animal.
    """

    left_out: tuple[str, ...]
    note: str = ""


def judge_rhythm(intervals_ms: Sequence[float]) -> Rhythm:
    """Return which beats count.

    Parameters
    ----------
    intervals_ms : sequence of float
        From each beat's start to the next one's, in order.

    Notes
    -----
    The beat that an early one cuts short, the early one itself and the next, which has filled for another time, do not
    count. Early is an interval below `PREMATURE_SHARE` of the usual one (the median of the others) with a pause above
    `PAUSE_SHARE` of it behind, or that makes up one usual interval with the next (a beat between two regular ones).
    Where the others have no usual interval no beat is called ectopic and all of them count.
    """
    n = len(intervals_ms)
    counted = Rhythm(left_out=("",) * n)
    if n < _FEWEST_TO_COMPARE:
        return counted
    early = [k for k in range(n - 1) if _is_early(intervals_ms, k)]
    apart = {k for first in early for k in (first, first + 1)}
    others = [value for k, value in enumerate(intervals_ms) if k not in apart]
    if n >= _FEWEST_IRREGULAR and not _is_even(others):
        return Rhythm(left_out=counted.left_out, note=IRREGULAR)
    left_out = [""] * n
    for first in early:
        for k, why in ((first, CUT_SHORT), (first + 2, AFTER_ECTOPIC)):
            if k < n:
                left_out[k] = left_out[k] or why
    for first in early:
        left_out[first + 1] = ECTOPIC
    return Rhythm(left_out=tuple(left_out))


def _is_early(intervals_ms: Sequence[float], k: int) -> bool:
    usual = float(np.median([value for place, value in enumerate(intervals_ms) if place not in (k, k + 1)]))
    early, behind = intervals_ms[k], intervals_ms[k + 1]
    has_pause = behind > PAUSE_SHARE * usual
    lies_between = abs(early + behind - usual) < _BETWEEN_SHARE * usual
    return early < PREMATURE_SHARE * usual and (has_pause or lies_between)


def _is_even(intervals_ms: Sequence[float]) -> bool:
    """Return whether the intervals that nothing early disturbs are of one length; a single one does not show it."""
    if len(intervals_ms) < 2:
        return False
    return float(np.std(intervals_ms, ddof=1)) <= _EVEN_SHARE * float(np.mean(intervals_ms))
