"""A spectrum read once for all families: its axes, its last picture, its outer edge, and what stands beside it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext
from fanlight.critique.doppler.spectrum_columns import top_px, without_clicks
from fanlight.critique.doppler.spectrum_ends import StripEnds, end_to_end, read_ends
from fanlight.critique.doppler.told import told
from fanlight.frames.doppler.marked_axes import SpectrumOnScreen, place_spectrum_axes
from fanlight.frames.doppler.spectrum import SpectralAxes, SpectralReach, read_reach
from fanlight.frames.doppler.strip_beats import strip_r_columns
from fanlight.study import ClipTime, PictureChunk

_NAME = "doppler.spectrum_frames"
_USUAL_BEAT_MS = 500.0  # 120 a minute (engineering judgement)
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Envelope:
    """The side of the baseline on which the signal stands higher."""

    is_up: bool  # above the baseline on the screen
    towards_probe: bool
    reach_px: Floats  # (column,) from the baseline to the edge; 0: none
    top_px: float
    room_px: float

    def tall(self, share: float) -> NDArray[np.bool_]:
        """Return the columns that reach this share of the height."""
        return np.asarray(self.reach_px >= share * self.top_px)


class SpectrumFrames:
    """What families of one spectrum share. Give it every chunk; the last picture shows the whole strip."""

    def __init__(self, context: ClipContext) -> None:
        self.is_asked = context.mode.is_spectrum
        marks = told(context).marks
        self._layout, self._marked = context.layout, () if marks is None else marks.axes
        self._pixels: NDArray[np.uint8] | None = None
        self._grey: NDArray[np.uint8] | None = None

    def add(self, chunk: PictureChunk) -> None:
        """Keep the last picture."""
        if self.is_asked:
            self._pixels, self._grey = chunk.pixels[-1].copy(), chunk.grey[-1].copy()

    @cached_property
    def _place(self) -> SpectrumOnScreen | str:
        """Return where the strip lies, by file and marks; asked after the last frame."""
        return (
            "there is no frame"
            if self._pixels is None
            else place_spectrum_axes(self._layout, self._marked, self._pixels)
        )

    @property
    def axes(self) -> SpectralAxes | None:
        """Return where the strip lies and how it is scaled; None where that is not known."""
        return None if isinstance(self._place, str) else self._place.axes

    @property
    def has_open_end(self) -> bool:
        """Whether a rim of the strip is not seen, so that nothing can be said of how its scale is used."""
        return not isinstance(self._place, str) and any(self._place.is_open)

    @property
    def why_not(self) -> str:
        """Why the strip cannot be read, or ""."""
        return self._place if isinstance(self._place, str) else ""

    @property
    def pixels(self) -> NDArray[np.uint8]:
        """The last picture as stored, (row, col) or (row, col, 3)."""
        assert self._pixels is not None
        return self._pixels

    @property
    def grey(self) -> NDArray[np.uint8]:
        """The last picture in grey, (row, col)."""
        assert self._grey is not None
        return self._grey

    @cached_property
    def clicks(self) -> NDArray[np.bool_]:
        """Columns that clicks of valves fill."""
        assert self.axes is not None
        return end_to_end(self.ends, self.axes)

    @cached_property
    def ends(self) -> StripEnds:
        """What stands at the ends of the strip."""
        assert self.axes is not None
        return read_ends(self.grey, self.axes)

    @cached_property
    def reach(self) -> SpectralReach:
        """How far the signal reaches, clicks left out."""
        assert self.axes is not None
        return without_clicks(read_reach(self.grey, self.axes), self.clicks)

    @cached_property
    def envelope(self) -> Envelope | None:
        """The higher side; None where no signal stands out."""
        assert self.axes is not None
        axes, reach = self.axes, self.reach
        tops = [top_px(side, axes) for side in (reach.up_px, reach.down_px)]
        if max(tops) == 0.0:
            return None
        is_up = tops[0] >= tops[1]
        return Envelope(
            is_up=is_up, towards_probe=is_up != axes.is_inverted, reach_px=reach.up_px if is_up else reach.down_px,
            top_px=max(tops), room_px=axes.above_px if is_up else axes.below_px,
        )  # fmt: skip

    @cached_property
    def r_columns(self) -> Floats | str:
        """Columns of the strip (0 at its left end) in which R waves stand, or why there are none."""
        assert self.axes is not None
        found = strip_r_columns(self.pixels, self.axes.box)
        return found if isinstance(found, str) else found - self.axes.box.col0

    def beat_ms(self, time: ClipTime) -> float | None:
        """Return the length of a beat: between the R waves beside the strip, else as the clip tells; None: neither."""
        assert self.axes is not None
        columns = self.r_columns
        if not isinstance(columns, str):
            return float(np.median(np.diff(columns))) * self.axes.ms_per_px
        return time.beat_period_ms

    def beat_px(self, time: ClipTime) -> float:
        """Return the width of a beat on the strip; of a usual one where the heart rate is not known."""
        assert self.axes is not None
        return (self.beat_ms(time) or _USUAL_BEAT_MS) / self.axes.ms_per_px


def spectrum_frames(context: ClipContext) -> SpectrumFrames:
    """Return the reader that all families of this clip share."""
    if _NAME not in context.shared:
        context.shared[_NAME] = SpectrumFrames(context)
    found = context.shared[_NAME]
    assert isinstance(found, SpectrumFrames)
    return found
