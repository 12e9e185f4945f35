"""From what each beat gave to one value with its uncertainty, or to the reason why there is none. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fanlight.measure.doppler.case import METHOD, SpectrumCase
from fanlight.measure.doppler.envelope import Envelope
from fanlight.measure.doppler.propagated import VelocityError
from fanlight.measure.doppler.read import ReadSpectrum
from fanlight.study import ENGINE, Measurement, Mode

# One standard deviation of how far the fastest blood lies from where the edge is read, as a share; more where the
# dense signal is white, and for walls, whose band is broad against their speed. From simulated spectra of ring A.
EDGE_SHARE, EDGE_SHARE_WHITE, EDGE_SHARE_UNREAD, EDGE_SHARE_TISSUE = 0.028, 0.04, 0.06, 0.08
_PIXEL = 1 / math.sqrt(12)  # a row is as high as it is: a uniform distribution (JCGM 100:2008, 4.3.7)
# Of one beat where only one was read, as a share of the value (engineering judgement: breath and speckle).
ONE_BEAT_SHARE = 0.04
# By how much inflow of the right heart differs from beat to beat as the animal breathes, as a share. Engineering
# judgement, held against ring A: single beats of three animals lie off by 18 %, root mean square, some of them misread;
# with 15 % as known beforehand 86 % of all lie inside the band. Averaging several is common practice, no source.
BREATH_SHARE = 0.15
LOWER_BOUND = "the beam's angle is not corrected, so the {what} is at least this"
# Criteria of a spectrum that each of its values stands on; what a miss of one does is the room of validity's to say.
STANDS_ON = (
    "spectrum_wrong_signal", "spectrum_open_edge", "spectrum_faint", "spectrum_blooming", "spectrum_wrap",
    "spectrum_angle", "spectrum_angle_corrected", "spectrum_gate_in_tissue", "spectrum_gate_place", "spectrum_sweep",
    "spectrum_filter_gap",
)  # fmt: skip
GRADIENT = "4·v² (simplified Bernoulli, QUINONES2002)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a value is called."""

    name: str
    label: str
    unit: str
    how: str = ""  # words on the method, e.g. "mean of 4·v² over ejection"


def velocity_error(case: SpectrumCase, envelope: Envelope) -> VelocityError:
    """Return how unsure the velocities of one side are: scale, baseline, row and edge."""
    if case.mode is Mode.TISSUE_DOPPLER:
        edge = EDGE_SHARE_TISSUE
    elif envelope.breadth is None:
        edge = EDGE_SHARE_UNREAD
    else:
        edge = EDGE_SHARE + envelope.breadth.white_share * (EDGE_SHARE_WHITE - EDGE_SHARE)
    shift_px = math.hypot(_PIXEL, case.axis_error.baseline_px)
    return VelocityError(
        scale_share=case.axis_error.velocity_share, edge_share=edge, shift_cm_s=shift_px * case.axes.cm_s_per_px
    )


def averaged(
    case: SpectrumCase, asked: Asked, values: Sequence[float], common: float, *, notes: Sequence[str] = (),
    each: float | None = None, known_share: float = 0.0,
) -> Measurement:  # fmt: skip
    """Return the mean of the beats.

    Parameters
    ----------
    case, asked
        What was read and what it is called.
    values : sequence of float
        Of the beats, in the value's unit; none: see `refused`.
    common : float
        Standard deviation that all beats share, in the value's unit.
    notes : sequence of str
        What holds for the value.
    each : float or None
        Standard deviation of a single beat by its reading alone; the scatter between beats counts where it is larger.
    known_share : float
        By how much such values are known to differ from beat to beat, as a share; 0: not known.

    Notes
    -----
    u² = common² + s²/n, with s the scatter between beats (JCGM 100:2008, 4.2 and 5.1.2). Of few beats the scatter is
    not well known: it is not taken for smaller than that of reading one beat, and what is known beforehand counts as
    one beat's worth of it, s² = ((n - 1)·s² + k²) / n.
    """
    n = len(values)
    mean = float(np.mean(values))
    floor = ONE_BEAT_SHARE * abs(mean) if each is None else each
    scatter = float(np.std(values, ddof=1)) if n > 1 else 0.0
    if known_share:
        scatter = math.sqrt(((n - 1) * scatter**2 + (known_share * mean) ** 2) / n)
    beats = max(scatter, floor) / math.sqrt(n)
    words = f"mean of {n} beats" if n > 1 else "one beat"
    return _measured(case, asked, mean, math.hypot(common, beats), words, notes)


def highest(
    case: SpectrumCase,
    asked: Asked,
    values: Sequence[float],
    common_share: float,
    *,
    power: int = 1,
    notes: Sequence[str] = (),
) -> Measurement:
    """Return the highest of the beats: a jet is as fast as its best aligned envelope shows, never a mean.

    `common_share` is the relative standard deviation of the velocity; a value that goes with its square has twice the
    share (`power` 2; JCGM 100:2008, 5.1.2).
    """
    best = float(max(values))
    share = power * math.hypot(common_share, ONE_BEAT_SHARE / 2)
    words = f"highest of {len(values)} whole envelopes" if len(values) > 1 else "one whole envelope"
    return _measured(case, asked, best, share * best, words, notes)


def refused(case: SpectrumCase, asked: Asked, reason: str) -> Measurement:
    """Return a value that is none, and why."""
    return Measurement(
        name=asked.name, label=asked.label, value=None, unit=asked.unit, clip=case.clip, frames=(case.frame,),
        method=METHOD, given_by=ENGINE, reason=reason, stands_on=STANDS_ON,
    )  # fmt: skip


def common_notes(read: ReadSpectrum, *, towards: bool) -> list[str]:
    """Return what holds for all values of one side: how it was read, and which beats do not count."""
    unwrapped = ("unwrapped within one span of the scale",) if read.is_unwrapped(towards=towards) else ()
    return [*unwrapped, *read.beats.notes]


def angle_note(case: SpectrumCase, what: str = "speed") -> str:
    """Return what the beam's angle means for a speed, and for what follows from it.

    `what` is the word for the value; a "gradient" goes with the square of the speed and loses twice the share.
    """
    bound = LOWER_BOUND.format(what=what)
    if case.beam_angle_deg is None:
        return bound
    lost = math.cos(math.radians(min(case.beam_angle_deg, 89.0))) ** (2 if what.endswith("gradient") else 1)
    return (
        f"{bound}: {100 * (1 / lost - 1):.0f} % more at the {case.beam_angle_deg:.0f} degrees that the picture shows, "
        "itself a lower bound"
    )


def _measured(
    case: SpectrumCase, asked: Asked, value: float, uncertainty: float, words: str, notes: Sequence[str]
) -> Measurement:
    said = "; ".join(part for part in (words, asked.how, *notes) if part)
    return Measurement(
        name=asked.name, label=asked.label, value=value, unit=asked.unit, uncertainty=uncertainty, clip=case.clip,
        frames=(case.frame,), method=METHOD, given_by=ENGINE, reason=said, stands_on=STANDS_ON,
    )  # fmt: skip
