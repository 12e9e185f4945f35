"""Axes of a spectrum with what a person marked on its scales: laid over what the file says, or in its place."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fanlight.frames.doppler.marked_strip import find_marked_strip
from fanlight.frames.doppler.spectrum import SpectralAxes, find_axes
from fanlight.study import Box, Layout, MarkedAxis, StripAxis

_BESIDE_PX = 5.0  # that a hand may mark the baseline off a strip at whose rim it is drawn (engineering judgement)
_REMEDY = "mark two points of its time scale, two of its velocity scale, and its baseline"


class AxesError(ValueError):
    """What is marked does not make axes; the message says what is missing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpectrumOnScreen:
    """A spectrum with its axes."""

    axes: SpectralAxes
    note: str = ""  # what was taken for the strip, where no file says it
    is_open: tuple[bool, bool] = (False, False)  # above, below: the rim is not seen, flow may have run on


def place_spectrum_axes(
    layout: Layout, marks: Sequence[MarkedAxis], pixels: NDArray[np.uint8]
) -> SpectrumOnScreen | str:
    """Return where a spectrum lies and how it is scaled, or why that is not known.

    Parameters
    ----------
    layout : Layout
        What was found on the screen, with what the file says of it.
    marks : sequence of MarkedAxis
        Points that a person marked; they go before the file.
    pixels : ndarray of shape (row, col) or (row, col, 3)
        The picture: by it a strip is found of which no file tells.
    """
    told = find_axes(layout)
    if isinstance(told, SpectralAxes):
        return SpectrumOnScreen(axes=laid_over(told, marks))
    if not marks:
        return f"{told}; {_REMEDY}"
    strip = find_marked_strip(pixels, layout, marks)
    if isinstance(strip, str):
        return strip
    try:
        axes = axes_from_marks(marks, strip.box)
    except AxesError as error:
        return str(error)
    box = strip.box
    return SpectrumOnScreen(
        axes=axes,
        note=f"the strip is what is painted about the marks: rows {box.row0} to {box.row1 - 1}, columns {box.col0} to "
        f"{box.col1 - 1} of the picture",
        is_open=strip.is_open,
    )


def axes_from_marks(marks: Sequence[MarkedAxis], strip: Box, *, is_inverted: bool = False) -> SpectralAxes:
    """Return the axes of a spectrum from marks alone.

    Parameters
    ----------
    marks : sequence of MarkedAxis
        One of time, one of velocity and one of the baseline.
    strip : Box
        Where the strip lies, in pixels of the picture.
    is_inverted : bool
        Whether flow away from the probe is shown upwards.

    Raises
    ------
    AxesError
        If a mark is missing or given twice, or the baseline lies far from the strip.
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


def laid_over(axes: SpectralAxes, marks: Sequence[MarkedAxis]) -> SpectralAxes:
    """Return axes with what was marked in their place; the last mark of an axis counts."""
    for mark in marks:
        if mark.axis is StripAxis.BASELINE:
            axes = replace(axes, baseline_row_px=mark.start[0])
        elif mark.axis is StripAxis.TIME:
            axes = replace(axes, ms_per_px=mark.per_px)
        else:
            axes = replace(axes, cm_s_per_px=mark.per_px)
    return axes


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
