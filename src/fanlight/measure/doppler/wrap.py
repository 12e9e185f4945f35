"""A signal that wraps round the end of a pulsed scale, led on at the other end: what moving the baseline would show.

Within one span of the scale, twice the Nyquist velocity, each velocity has one place, so that a signal of one direction
can be told whole as long as it leaves room (sampling theorem). Beyond it no number is given.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.doppler.spectrum import SpectralAxes
from fanlight.measure.doppler.clicks import runs
from fanlight.measure.doppler.envelope import Envelope, envelope_of
from fanlight.measure.doppler.side import Side

ALIASED = "aliased: continuous wave needed"
# Flow that reaches the end of its side stays there for longer than a click, ms (engineering judgement).
_LEAST_MS = 10.0
_RIM_MS = 15.0  # about it, in which the other end is led on
_BEYOND_MS = 120.0  # at most, from going out to coming back: the top of a wave (engineering judgement)
_ROOM_SHARE = 0.92  # of a span, that a signal may fill and still be told from what lies at the baseline
_LINE_PX = 3  # next to the baseline, its drawn line


def passes_end(envelope: Envelope) -> bool:
    """Whether the signal runs out of its side of the strip."""
    passing = runs(envelope.at_end | envelope.end_bright)
    return any((b - a) * envelope.ms_per_px >= _LEAST_MS and envelope.at_end[a:b].any() for a, b in passing)


def led_on(own: Side, other: Side, envelope: Envelope, axes: SpectralAxes) -> Envelope | str:
    """Return the envelope with what lies beyond the end of its side, or why it cannot be told.

    Parameters
    ----------
    own, other : Side
        The side of the flow, and the other one, at whose outer end the signal goes on.
    envelope : Envelope
        Of the own side, which passes its end.
    """
    near = _passing(envelope)
    if len(other.levels) <= _LINE_PX + 2:
        return ALIASED
    whole = Side(
        levels=_joined(own.levels, other.levels, own.ground, near),
        smooth=_joined(own.smooth, other.smooth, own.ground, near), ground=own.ground, body=own.body,
        first_px=own.first_px,
    )  # fmt: skip
    found = envelope_of(whole, envelope.clicks, axes, towards_probe=envelope.towards_probe)
    top = float(np.percentile(found.edge_cm_s[near], 95)) if near.any() else 0.0
    if top >= _ROOM_SHARE * found.room_cm_s or passes_end(found) or not _goes_on(found, envelope):
        return ALIASED
    return found


def _passing(envelope: Envelope) -> NDArray[np.bool_]:
    """Return the columns in which the signal is beyond its end: where it passes, and from going out to coming back."""
    rim = max(round(_RIM_MS / envelope.ms_per_px), 1)
    near = np.zeros(len(envelope.at_end), bool)
    last = None
    for start, stop in runs(envelope.at_end | envelope.end_bright):
        if last is not None and (start - last) * envelope.ms_per_px <= _BEYOND_MS:
            near[last:start] = True
        near[max(start - rim, 0) : stop + rim] = True
        last = stop
    return near


def _joined(
    own: NDArray[np.float64], other: NDArray[np.float64], ground: float, near: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """Return the own rows and beyond them those of the other end, outside in, where the signal passes."""
    beyond = np.where(near[None], other[::-1][: len(other) - _LINE_PX], ground)
    return np.concatenate([own, cv2.GaussianBlur(beyond, (0, 0), sigmaX=0.5, sigmaY=0.5)])


def _goes_on(found: Envelope, before: Envelope) -> bool:
    """Whether the signal does go on at the other end: else it ends at the end of the scale, or is cut there."""
    return bool((found.edge_cm_s > before.room_cm_s + 2 * before.cm_s_per_px).any())
