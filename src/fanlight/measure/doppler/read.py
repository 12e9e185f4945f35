"""A spectrum read once for all its values: both envelopes, those of blood unwrapped, and the beats that count."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.measure.doppler.beats import Beats, beats_from_r, period_ms
from fanlight.measure.doppler.case import SpectrumCase
from fanlight.measure.doppler.clicks import click_columns
from fanlight.measure.doppler.envelope import Envelope, envelope_of
from fanlight.measure.doppler.missed_r import WHY, hides_a_beat
from fanlight.measure.doppler.side import sides_of
from fanlight.measure.doppler.wall_band import with_wall_velocity
from fanlight.measure.doppler.wrap import RING_PASSES, led_on, passes_end, with_other_side
from fanlight.study import Mode

_FEWEST_R = 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReadSpectrum:
    """What the values of a spectrum are taken from."""

    case: SpectrumCase
    towards: Envelope  # of what runs towards the probe
    away: Envelope
    beats: Beats
    aliased: tuple[str, str]  # why the velocities of each of both cannot be told, ""
    unwrapped: tuple[bool, bool]

    def side(self, *, towards: bool) -> Envelope:
        """Return one of the envelopes."""
        return self.towards if towards else self.away

    def why_aliased(self, *, towards: bool) -> str:
        """Return why velocities of a direction cannot be told, or ""."""
        return self.aliased[0 if towards else 1]

    def is_unwrapped(self, *, towards: bool) -> bool:
        """Whether a part of this direction's signal was found at the other end of the scale."""
        return self.unwrapped[0 if towards else 1]


def read_spectrum(case: SpectrumCase) -> ReadSpectrum | str:
    """Return envelopes and beats of a spectrum, or why there are none."""
    sides = sides_of(case.grey, case.axes)
    if not any(side.has_signal for side in sides):
        return "no signal stands out from the ground of the strip"
    clicks = click_columns(sides, case.axes.ms_per_px)
    is_tissue = case.mode is Mode.TISSUE_DOPPLER
    up_is_towards = not case.axes.is_inverted
    side = {up_is_towards: sides[0], not up_is_towards: sides[1]}
    plain = {
        way: envelope_of(side[way], clicks, case.axes, towards_probe=way, is_tissue=is_tissue) for way in (True, False)
    }
    if is_tissue:
        plain = {way: with_wall_velocity(own, side[way], side[not way]) for way, own in plain.items()}
    found, why, wrapped = dict(plain), {True: "", False: ""}, {True: False, False: False}
    for way, envelope in plain.items():
        if case.mode is not Mode.CONTINUOUS_WAVE and passes_end(envelope):
            # How blood is led on holds for the edge of its signal; a wall is read at the middle of its band.
            longer = RING_PASSES if is_tissue else led_on(side[way], side[not way], envelope, plain[not way], case.axes)
            if isinstance(longer, str):
                why[way] = longer
            else:
                found[way], wrapped[way] = longer, True
    if case.mode is not Mode.CONTINUOUS_WAVE and not any(wrapped.values()):
        found = {way: with_other_side(own, plain[not way]) for way, own in plain.items()}
    return ReadSpectrum(
        case=case, towards=found[True], away=found[False], beats=_beats(case, found[True], found[False]),
        aliased=(why[True], why[False]), unwrapped=(wrapped[True], wrapped[False]),
    )  # fmt: skip


def _beats(case: SpectrumCase, towards: Envelope, away: Envelope) -> Beats:
    why = "there is no ECG"
    if case.r_times_ms is not None and len(case.r_times_ms) >= _FEWEST_R:
        if not hides_a_beat(case.r_times_ms, (towards, away)):
            return beats_from_r(case.r_times_ms, case.strip_ms)
        why = WHY
    return Beats(
        beats=(), begun=(), has_r_waves=False, n_left_out=0, rr_ms=period_ms((towards, away)), without_r=why
    )  # fmt: skip
