"""Families that judge what the beams look like on average over a clip: they share one look at the frames."""

from __future__ import annotations

from collections.abc import Callable

from fanlight.critique.accumulator import ClipContext, Family
from fanlight.critique.applies import none_assessable, why_not_picture
from fanlight.critique.beam_moments import BLACK_LEVEL, BeamMoments
from fanlight.study import ClipTime, Finding, PictureChunk

Judge = Callable[[ClipContext, BeamMoments], tuple[Finding, ...]]


def family_over_moments(name: str, version: int, judge: Judge) -> Family:
    """Return a family that judges the moments of the beams.

    Parameters
    ----------
    name, version : str, int
        Of the family.
    judge : callable
        Takes the context of the clip and its moments, in which there is some echo, and returns one finding a criterion.
    """

    def start(context: ClipContext) -> _OverMoments:
        return _OverMoments(context, family, judge)

    family = Family(name=name, version=version, start=start)
    return family


class _OverMoments:
    def __init__(self, context: ClipContext, family: Family, judge: Judge) -> None:
        self._context = context
        self._family = family
        self._judge = judge
        self._reason = why_not_picture(context)
        self._moments = None if self._reason else BeamMoments.of_clip(context)

    def add(self, chunk: PictureChunk) -> None:
        if self._moments is not None:
            self._moments.add(chunk)

    def finish(self, time: ClipTime) -> tuple[Finding, ...]:
        del time
        reason = self._reason if self._moments is None else _why_no_echo(self._moments)
        if self._moments is None or reason:
            return none_assessable(self._context, self._family, reason)
        return self._judge(self._context, self._moments)


def _why_no_echo(moments: BeamMoments) -> str:
    """Return why nothing can be judged in these frames, or "" when there is echo."""
    if moments.n_frames == 0:
        return "no frame could be looked at"
    if moments.peak < BLACK_LEVEL:
        return "the picture is black: there is no echo in it"
    return ""
