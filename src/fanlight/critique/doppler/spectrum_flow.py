"""Which flow a strip was laid out for: its way, its speed, how much of the beat it takes, and when in it it runs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.critique.doppler.spectrum_columns import top_px
from fanlight.critique.doppler.spectrum_frames import Envelope, SpectrumFrames
from fanlight.critique.doppler.spectrum_passed import EDGE_SHARE
from fanlight.study import Criterion, Species

TALL_SHARE = 0.5  # of the height: slow flow at the baseline goes on all the time
_LOW_SHARE = 0.35  # of the height: the feet of a wave belong to its length (engineering judgement)
_FEWEST_COLUMNS, _FEWEST_BEATS = 20, 1
# Engineering judgement: a beat that differs more from the usual one hides a missed or a false R wave, is no sinus beat,
# or comes with the breath, as in calm dogs, which are left open more often; fewer usual beats of all, faster or slower
# ones, and none of them is trusted.
_MOST_UNEQUAL_SHARE, _FEWEST_USUAL_SHARE, _RATES_BPM = 0.12, 0.6, (40.0, 300.0)
_BEFORE_R_MS, _AFTER_SYSTOLE_MS = 40.0, 80.0  # a leak begins with the R wave and outlasts ejection
_FROM_PERCENTILE, _TO_PERCENTILE = 10.0, 90.0

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Systole:
    """From the closing of the inflow valves to that of the outflow valves, ms after R."""

    start_ms: float
    end_ms: float


def systole_of(criterion: Criterion, species: Species, rr_ms: float) -> Systole:
    """Return when systole lasts at a heart rate, from the house's table: ejection shortens as the rate rises."""
    animal = "cat" if species is Species.CAT else "dog"
    rate = 60_000.0 / rr_ms
    usual = criterion.setting(f"{animal}_systole_ms")
    end = usual - criterion.setting(f"{animal}_shorter_ms_per_bpm") * (rate - criterion.setting(f"{animal}_rate_bpm"))
    return Systole(start_ms=criterion.setting("systole_starts_ms"), end_ms=max(end, criterion.setting("shortest_ms")))


@dataclass(frozen=True, slots=True, kw_only=True)
class SetFlow:
    """The higher side of a strip.

    Attributes
    ----------
    towards_probe : bool
        Which way it runs.
    room_ratio : float
        Room of its side over that of the other: a strip is laid out for the flow that has the room.
    height_share : float
        Of its room that it takes.
    peak_cm_s : float
        Its height.
    beat_share : float
        Of the time, for which it stands.
    other_is_cut : bool
        Whether flow on the other side runs out of its room.
    """

    towards_probe: bool
    room_ratio: float
    height_share: float
    peak_cm_s: float
    beat_share: float
    other_is_cut: bool


def set_flow(frames: SpectrumFrames, envelope: Envelope) -> SetFlow:
    """Return what the higher side of a strip holds, clicks left out."""
    assert frames.axes is not None
    axes = frames.axes
    other_room = axes.box.height_px - envelope.room_px
    other_top = top_px(frames.reach.down_px if envelope.is_up else frames.reach.up_px, axes)
    counted = ~frames.clicks
    stands = envelope.tall(_LOW_SHARE) & counted
    return SetFlow(
        towards_probe=envelope.towards_probe,
        room_ratio=envelope.room_px / max(other_room, 1.0),
        height_share=envelope.top_px / max(envelope.room_px, 1.0),
        peak_cm_s=envelope.top_px * axes.cm_s_per_px,
        beat_share=float(stands.sum()) / max(int(counted.sum()), 1),
        other_is_cut=other_top > 0.0 and other_top >= other_room - EDGE_SHARE * axes.box.height_px,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SignalTimes:
    """When tall columns stand in their beat."""

    after_r_ms: Floats  # (tall column,)
    rr_ms: float
    is_even: bool  # most beats are so alike that no R wave was missed

    def systolic_share(self, systole: Systole) -> float:
        """Share of the signal that runs in systole."""
        return float(((self.after_r_ms >= systole.start_ms) & (self.after_r_ms < systole.end_ms)).mean())

    def spans(self, systole: Systole) -> tuple[float, float] | None:
        """Return when systolic signal begins, ms after R, and how much of systole it lasts; None: too little of it.

        The first and the last tenth are left out: single columns of noise shift neither.
        """
        after = np.where(self.after_r_ms > self.rr_ms - _BEFORE_R_MS, self.after_r_ms - self.rr_ms, self.after_r_ms)
        there = after[after < systole.end_ms + _AFTER_SYSTOLE_MS]
        if len(there) < _FEWEST_COLUMNS // 2:
            return None
        first, last = np.percentile(there, [_FROM_PERCENTILE, _TO_PERCENTILE])
        return float(first), float(last - first) / (systole.end_ms - systole.start_ms)


def signal_times(frames: SpectrumFrames, envelope: Envelope, r_columns: Floats) -> SignalTimes | None:
    """Return when after the R wave before it each tall column stands; None with too few between two R waves.

    Where most beats are alike, the others are left out.
    """
    assert frames.axes is not None
    if len(r_columns) < _FEWEST_BEATS + 1:
        return None
    beats = np.diff(r_columns) * frames.axes.ms_per_px
    rr_ms = float(np.median(beats))
    is_usual = np.abs(beats - rr_ms) <= _MOST_UNEQUAL_SHARE * rr_ms
    is_even = float(is_usual.mean()) >= _FEWEST_USUAL_SHARE and _RATES_BPM[0] <= 60_000.0 / rr_ms <= _RATES_BPM[1]
    tall = np.flatnonzero(envelope.tall(TALL_SHARE) & ~frames.clicks)
    tall = tall[(tall >= r_columns[0]) & (tall < r_columns[-1])]
    before = np.searchsorted(r_columns, tall, side="right") - 1
    if is_even:
        tall, before = tall[is_usual[before]], before[is_usual[before]]
    if len(tall) < _FEWEST_COLUMNS:
        return None
    after_ms = (tall - r_columns[before]) * frames.axes.ms_per_px
    return SignalTimes(after_r_ms=after_ms, rr_ms=rr_ms, is_even=is_even)
