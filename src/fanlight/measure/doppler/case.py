"""What is asked of one spectrum: its picture, what flow it is of, and how sure its axes are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from fanlight.frames.doppler.spectrum import SpectralAxes
from fanlight.study import Mode, Valve

METHOD = "spectrum from pixels/1"


class Signal(StrEnum):
    """What a spectrum is of."""

    FORWARD = "forward flow"
    LEAK = "leak"
    ANNULUS = "movement of the annulus"


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisError:
    """One standard deviation of what the axes say; steps that the file states of a strip count as exact."""

    velocity_share: float = 0.0
    time_share: float = 0.0
    baseline_px: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpectrumCase:
    """One spectrum and what is told of it.

    Attributes
    ----------
    grey : ndarray of shape (row, col), uint8
        The whole screen.
    axes : SpectralAxes
        Where the strip lies and what its pixels mean.
    mode : Mode
        Pulsed wave, continuous wave or tissue Doppler.
    valve : Valve
        Whose flow or ring it is.
    signal : Signal
        Forward flow, a leak, or the ring.
    r_times_ms : sequence of float or None
        R waves, ms from the left edge of the strip; None: there is no ECG to go by.
    axis_error : AxisError
        How sure the axes are.
    beam_angle_deg : float or None
        Between beam and flow as the picture shows it: a lower bound of the true one.
    clip : str
        Key of the clip.
    frame : int
        That was read.
    """

    grey: NDArray[np.uint8]
    axes: SpectralAxes
    mode: Mode
    valve: Valve
    signal: Signal
    r_times_ms: Sequence[float] | None = None
    axis_error: AxisError = AxisError()
    beam_angle_deg: float | None = None
    clip: str = ""
    frame: int = 0

    def __post_init__(self) -> None:
        if self.mode not in (Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE, Mode.TISSUE_DOPPLER):
            raise ValueError(f"a spectrum is pulsed wave, continuous wave or tissue Doppler, got {self.mode}")
        if (self.mode is Mode.TISSUE_DOPPLER) != (self.signal is Signal.ANNULUS):
            raise ValueError(f"tissue Doppler shows the annulus and nothing else does, got {self.mode}, {self.signal}")
        if not 0 <= self.axes.box.row0 < self.axes.box.row1 <= self.grey.shape[0]:
            raise ValueError(f"the strip, {self.axes.box}, leaves the picture of {self.grey.shape[0]} rows")
        if not 0 <= self.axes.box.col0 < self.axes.box.col1 <= self.grey.shape[1]:
            raise ValueError(f"the strip, {self.axes.box}, leaves the picture of {self.grey.shape[1]} columns")

    @property
    def is_inflow(self) -> bool:
        """Whether the valve is one that fills a ventricle."""
        return self.valve in (Valve.MITRAL, Valve.TRICUSPID)

    @property
    def runs_towards_probe(self) -> bool:
        """Which way the flow runs in the windows where it is met (common practice, no source).

        Inflow runs towards a probe at the apex, outflow away from it and from the right windows; a leak the other way.
        """
        return self.is_inflow != (self.signal is Signal.LEAK)

    @property
    def strip_ms(self) -> float:
        """Length of the strip."""
        return self.axes.box.width_px * self.axes.ms_per_px
