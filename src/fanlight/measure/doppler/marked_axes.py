"""How sure the axes of a spectrum are that a person marked."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

from fanlight.measure.areas import HAND_PX
from fanlight.measure.doppler.case import AxisError
from fanlight.study import MarkedAxis, StripAxis


def error_of_marks(marks: Iterable[MarkedAxis]) -> AxisError:
    """Return one standard deviation of what marks say of axes; the last mark of an axis counts.

    Each point errs by a pixel. A scale of an amount over L pixels has the relative standard deviation √2·h/L, with h
    the error of a hand (JCGM 100:2008, 5.1.2).
    """
    error = AxisError()
    for mark in marks:
        if mark.axis is StripAxis.BASELINE:
            error = replace(error, baseline_px=HAND_PX)
            continue
        share = math.sqrt(2) * HAND_PX / mark.length_px
        error = (
            replace(error, time_share=share) if mark.axis is StripAxis.TIME else replace(error, velocity_share=share)
        )
    return error
