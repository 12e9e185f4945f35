"""Whether a spectrum passes its scale: in how many of its beats, and on which side of the baseline."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.critique.doppler.spectrum_columns import EMPTY_SHARE, top_px
from fanlight.critique.doppler.spectrum_ends import crossing, cut_beats, wrapped_beats
from fanlight.critique.doppler.spectrum_frames import SpectrumFrames
from fanlight.frames.doppler.spectrum import SpectralAxes
from fanlight.study import ClipTime, Mode, Valve

# Of the beats: from here on the scale is passed; a single beat among several is a click that looks like flow, or an
# extrasystole (engineering judgement).
PASSED_FROM_SHARE = 0.4
# The smaller side of a strip is room for what comes back: that may be cut off while the larger side holds the flow.
_SMALL_SIDE_SHARE = 0.5  # of the other side's room (engineering judgement)
_NEARLY_EMPTY_SHARE = 0.15  # of the larger side: so little is no flow that a strip is set for (engineering judgement)
_WHICH_FLOW = (
    "flow is cut off on the smaller side, while the larger holds flow as well: which of the two was looked for is not "
    "known"
)
_WHICH_WRAPS = (
    "flow on the smaller side passes its end, while that on the larger stays within: which of the two was looked for "
    "is not known"
)
# Of the columns that cross: in so many the signal runs from the baseline to the end of the smaller side. Flow of the
# larger side would come near its own end before it wraps (physics; shares by engineering judgement).
_FROM_SMALL_SHARE, _NEAR_END_SHARE = 0.7, 0.85
EDGE_SHARE = 0.03  # of the height of the strip: nearer to its end than this a signal is cut off
_OUTFLOW = (Valve.AORTIC, Valve.PULMONIC)  # runs away from the probe in every view of its rung (anatomy)


@dataclass(frozen=True, slots=True, kw_only=True)
class Passed:
    """How often a spectrum passes its scale.

    Attributes
    ----------
    share : float
        Of the beats.
    n_beats : int
        On the strip.
    wraps : bool
        Whether it comes in at the other end; else it is cut off.
    unsure : str
        Why that cannot be told, or "".
    """

    share: float
    n_beats: int
    wraps: bool
    unsure: str = ""

    @property
    def is_passed(self) -> bool:
        """Whether enough beats pass the scale for its peaks to be unknown."""
        return self.share >= PASSED_FROM_SHARE


def passed(frames: SpectrumFrames, mode: Mode | None, valve: Valve | None, time: ClipTime) -> Passed:
    """Return how often the flow that the strip was set for passes its scale.

    Pulsed wave wraps: both ends are one velocity. Of other spectra, or where the kind is not known, an end is an end.
    """
    assert frames.axes is not None
    axes, beat_px = frames.axes, frames.beat_px(time)
    if mode is Mode.PULSED_WAVE:
        wrapped = wrapped_beats(frames.ends, axes, beat_px)
        share = float(wrapped.mean())
        is_back = share >= PASSED_FROM_SHARE and _small_side_wraps(frames, axes, valve)
        return Passed(share=share, n_beats=len(wrapped), wraps=True, unsure=_WHICH_WRAPS if is_back else "")
    top, bottom = (cut_beats(side, axes, beat_px) for side in _cut_off(frames, axes))
    small_is_up = axes.above_px < _SMALL_SIDE_SHARE * axes.below_px
    small_is_down = axes.below_px < _SMALL_SIDE_SHARE * axes.above_px
    if not small_is_up and not small_is_down:
        cut_share = float((top | bottom).mean())
        return Passed(share=cut_share, n_beats=len(top), wraps=False)
    small, large = (top, bottom) if small_is_up else (bottom, top)
    room = axes.below_px if small_is_up else axes.above_px
    filled = top_px(frames.reach.down_px if small_is_up else frames.reach.up_px, axes) / room
    small_is_away = small_is_up == axes.is_inverted
    both = float((small | large).mean())
    if filled <= _NEARLY_EMPTY_SHARE or (valve in _OUTFLOW and small_is_away):
        return Passed(share=both, n_beats=len(top), wraps=False)
    share = float(large.mean())
    is_open = filled <= EMPTY_SHARE or valve not in _OUTFLOW
    unsure = _WHICH_FLOW if is_open and share < PASSED_FROM_SHARE <= both else ""
    return Passed(share=share, n_beats=len(top), wraps=False, unsure=unsure)


def _small_side_wraps(frames: SpectrumFrames, axes: SpectralAxes, valve: Valve | None) -> bool:
    """Return whether what crosses the ends is what comes back through a gate at an inflow valve, or its walls."""
    small_is_up = axes.above_px < _SMALL_SIDE_SHARE * axes.below_px
    if valve in _OUTFLOW or not (small_is_up or axes.below_px < _SMALL_SIDE_SHARE * axes.above_px):
        return False
    up, down = (frames.reach.up_px, axes.above_px), (frames.reach.down_px, axes.below_px)
    (small_px, small_room), (large_px, large_room) = (up, down) if small_is_up else (down, up)
    crosses = crossing(frames.ends)
    ends_there = small_px[crosses] >= small_room - EDGE_SHARE * axes.box.height_px
    filled = top_px(large_px, axes) / large_room
    return bool(
        crosses.any() and ends_there.mean() >= _FROM_SMALL_SHARE and EMPTY_SHARE <= filled < _NEAR_END_SHARE
    )  # fmt: skip


def _cut_off(frames: SpectrumFrames, axes: SpectralAxes) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return the columns in which signal goes from the baseline to the upper and to the lower end, clicks left out."""
    margin, reach, ends = EDGE_SHARE * axes.box.height_px, frames.reach, frames.ends
    up = (axes.above_px > margin) & (reach.up_px >= axes.above_px - margin) & ends.top
    down = (axes.below_px > margin) & (reach.down_px >= axes.below_px - margin) & ends.bottom
    return np.asarray(up), np.asarray(down)
