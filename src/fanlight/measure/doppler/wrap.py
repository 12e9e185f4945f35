"""A signal that wraps round the end of a pulsed scale, led on at the other end: what moving the baseline would show.

Within one span of the scale, twice the Nyquist velocity, each velocity has one place, so that a signal of one direction
can be told whole as long as it leaves room (sampling theorem). Beyond it no number is given.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.doppler.spectrum import SpectralAxes
from fanlight.measure.doppler.clicks import near_clicks, runs
from fanlight.measure.doppler.envelope import Envelope, envelope_of
from fanlight.measure.doppler.side import Side

ALIASED = "aliased: continuous wave needed"
RING_PASSES = "the ring passes the end of the scale: a higher scale is needed"
# Signal at the end of a side for so long passes it; steep flanks pass quickly (engineering judgement).
_LEAST_MS = 4.5
_RIM_MS = 15.0  # about it, in which the other end is led on
_BEYOND_MS = 120.0  # at most, from going out to coming back: the top of a wave (engineering judgement)
_ROOM_SHARE = 0.92  # of a span, that a signal may fill and still be told from what lies at the baseline
# Of the room of the other side and at least: walls and what is left of other flow lie lower (engineering judgement).
_FAR_SHARE, _FAR_CM_S = 0.6, 15.0
_FEWEST_AGREEING, _ALIKE = 2, 1.25  # beats, and the highest over the lowest of them (engineering judgement)
_LINE_PX = 3  # next to the baseline, its drawn line


def passes_end(envelope: Envelope) -> bool:
    """Whether the signal runs out of its side of the strip."""
    passing = runs(envelope.at_end | envelope.end_bright)
    return any((b - a) * envelope.ms_per_px >= _LEAST_MS and envelope.at_end[a:b].any() for a, b in passing)


def agree(peaks: Sequence[float]) -> bool:
    """Whether peaks that were led on are told by more than one beat: a single one may be pieced together wrongly."""
    return len(peaks) >= _FEWEST_AGREEING and max(peaks) <= _ALIKE * min(peaks)


def with_other_side(own: Envelope, other: Envelope) -> Envelope:
    """Return an envelope of a pulsed spectrum that knows when the other side holds signal far out."""
    return replace(own, other_far=_far_out(other) & ~near_clicks(own.clicks, own.ms_per_px))


def _far_out(envelope: Envelope) -> NDArray[np.bool_]:
    """Return the columns in which signal reaches far out on a side."""
    edge = envelope.edge_cm_s
    return np.asarray((edge > _FAR_SHARE * envelope.room_cm_s) & (edge > _FAR_CM_S))


def led_on(own: Side, other: Side, envelope: Envelope, across: Envelope, axes: SpectralAxes) -> Envelope | str:
    """Return the envelope with what lies beyond the end of its side, or why it cannot be told.

    Parameters
    ----------
    own, other : Side
        The side of the flow, and the other one, at whose outer end the signal goes on.
    envelope : Envelope
        Of the own side, which passes its end.
    across : Envelope
        Of the other side.
    """
    near = _passing(envelope, across)
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


def _passing(envelope: Envelope, across: Envelope) -> NDArray[np.bool_]:
    """Return the columns in which the signal is beyond its end: where it passes, and from going out to coming back."""
    rim = max(round(_RIM_MS / envelope.ms_per_px), 1)
    near = np.zeros(len(envelope.at_end), bool)
    last = None
    for start, stop in runs(envelope.at_end | envelope.end_bright):
        if last is not None and (start - last) * envelope.ms_per_px <= _BEYOND_MS:
            near[last:start] = True
        near[max(start - rim, 0) : stop + rim] = True
        last = stop
    for start, stop in runs(_far_out(across) & ~near_clicks(envelope.clicks, envelope.ms_per_px)):
        if near[start:stop].any():  # what lies far out there, as the signal passes here, is its rest
            near[max(start - rim, 0) : stop + rim] = True
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
