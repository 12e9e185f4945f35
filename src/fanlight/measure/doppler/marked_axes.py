"""Axes of a spectrum of which there is only a picture, from points that a person marked on its scales."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from fanlight.frames.doppler.spectrum import SpectralAxes
from fanlight.measure.areas import HAND_PX
from fanlight.measure.doppler.case import AxisError
from fanlight.study import Box, MarkedAxis, StripAxis

_BESIDE_PX = 5.0  # that a hand may mark the baseline off a strip at whose rim it is drawn (engineering judgement)


class AxesError(ValueError):
    """What is marked does not make axes; the message says what is missing."""


def axes_from_marks(
    marks: Sequence[MarkedAxis], strip: Box, *, is_inverted: bool = False
) -> tuple[SpectralAxes, AxisError]:
    """Return the axes of a spectrum and how sure they are.

    Parameters
    ----------
    marks : sequence of MarkedAxis
        One of time, one of velocity and one of the baseline; each point errs by a pixel.
    strip : Box
        Where the strip lies, in pixels of the picture.
    is_inverted : bool
        Whether flow away from the probe is shown upwards.

    Raises
    ------
    AxesError
        If a mark is missing or given twice, or the baseline lies far from the strip.

    Notes
    -----
    A scale of an amount over L pixels has the relative standard deviation √2·h/L, with h the error of a hand (JCGM
    100:2008, 5.1.2).
    """
    time, velocity, baseline = (_only(marks, axis) for axis in (StripAxis.TIME, StripAxis.VELOCITY, StripAxis.BASELINE))
    row = baseline.start[0]
    if not strip.row0 - _BESIDE_PX <= row <= strip.row1 + _BESIDE_PX:
        raise AxesError(
            f"the baseline is marked at row {row:g}, the strip spans rows {strip.row0} to {strip.row1}; mark the "
            "baseline of this strip"
        )
    for mark in (time, velocity):
        if mark.length_px <= 0 or not math.isfinite(mark.per_px):
            raise AxesError(f"the two points of the {mark.axis.value} scale lie on each other; mark them apart")
    plain = SpectralAxes(box=strip, baseline_row_px=row, cm_s_per_px=1.0, is_inverted=is_inverted, ms_per_px=1.0)
    return laid_over(plain, (time, velocity, baseline))


def laid_over(axes: SpectralAxes, marks: Sequence[MarkedAxis]) -> tuple[SpectralAxes, AxisError]:
    """Return axes with what was marked in their place, and how sure that is; the last mark of an axis counts."""
    error = AxisError()
    for mark in marks:
        if mark.axis is StripAxis.BASELINE:
            axes, error = replace(axes, baseline_row_px=mark.start[0]), replace(error, baseline_px=HAND_PX)
            continue
        share = math.sqrt(2) * HAND_PX / mark.length_px
        if mark.axis is StripAxis.TIME:
            axes, error = replace(axes, ms_per_px=mark.per_px), replace(error, time_share=share)
        else:
            axes, error = replace(axes, cm_s_per_px=mark.per_px), replace(error, velocity_share=share)
    return axes, error


def _only(marks: Sequence[MarkedAxis], axis: StripAxis) -> MarkedAxis:
    found = [mark for mark in marks if mark.axis is axis]
    if not found:
        what = {
            StripAxis.TIME: "two points of the time scale and the milliseconds between them",
            StripAxis.VELOCITY: "two points of the velocity scale and the cm/s between them",
            StripAxis.BASELINE: "a point of the baseline, where the velocity is 0",
        }[axis]
        raise AxesError(f"a spectrum without a scale in its file needs marks: {axis.value} is missing; mark {what}")
    if len(found) > 1:
        raise AxesError(f"{axis.value} is marked {len(found)} times; keep one of the marks")
    return found[0]
