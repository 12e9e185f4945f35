"""Values of a strip through a valve as measurements: the mean over beats with its error, or the reason for none."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fanlight.measure.m_mode import MModeStrip, Seen
from fanlight.measure.m_mode.spread import combined, mean_of_beats
from fanlight.measure.valve_strip.strip_beats import StripBeats
from fanlight.study import ENGINE, Measurement

# Beats that differ by more are not beats of one place on the valve (engineering judgement).
_APART_SHARE, _APART_MM = 0.5, 3.0
PIXEL_SHARE = 1 / math.sqrt(12)  # a border lies anywhere within its pixel


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """What is measured, and how.

    Attributes
    ----------
    name : str
        Key of quantities.toml, or "".
    usual_share : float
        How much beats usually differ, a share of the value.
    placement_mm : float
        Error of one beat's value that beats have in common.
    least_share : float
        Of the beats that their rhythm leaves in: so many must show it.
    """

    name: str
    label: str
    method: str
    usual_share: float
    placement_mm: float
    least_share: float


def tell(
    value: Value, mm: dict[int, float], refused: dict[int, str], beats: StripBeats, strip: MModeStrip, seen: Seen
) -> Measurement:
    """Return the mean over the beats that show a value, in mm.

    Parameters
    ----------
    mm : dict of int to float
        By number of the beat.
    refused : dict of int to str
        Why other beats do not show it.
    """
    left_out = {beat.number: beat.left_out for beat in beats.beats if beat.left_out} | refused
    if why := _why_none(value, mm, left_out, len(beats.counted)):
        return no_value(value.name, value.label, value.method, why, seen)
    values = list(mm.values())
    mean = mean_of_beats(values, value.usual_share * sum(values) / len(values))
    spread = "" if mean.sd is None else f", SD {mean.sd:.2g} mm"
    which = ", ".join(map(str, mm))
    left = "".join(f"; beat {number} left out: {why}" for number, why in sorted(left_out.items()))
    of = "beat" if mean.n == 1 else "mean of beats"
    return Measurement(
        name=value.name, label=value.label, value=mean.value, unit="mm",
        uncertainty=combined(strip.mm_share * mean.value, value.placement_mm, mean.error),
        clip=seen.clip, frames=(seen.frame,), given_by=ENGINE, reason=beats.note,
        method=f"{value.method}; {of} {which} of {len(beats.beats)}{spread}; timed by R waves{left}",
    )  # fmt: skip


def no_value(name: str, label: str, method: str, reason: str, seen: Seen) -> Measurement:
    """Return a measurement without a value."""
    return Measurement(
        name=name, label=label, value=None, unit="mm", clip=seen.clip, frames=(seen.frame,), method=method,
        given_by=ENGINE, reason=reason,
    )  # fmt: skip


def _why_none(value: Value, mm: dict[int, float], left_out: dict[int, str], asked: int) -> str:
    """Return why there is no mean, "" where there is one."""
    by_beat = "; ".join(f"beat {number}: {why}" for number, why in sorted(left_out.items()))
    if not mm:
        return next(iter(left_out.values())) if len(set(left_out.values())) == 1 else by_beat
    if len(mm) < value.least_share * asked:
        return f"only {len(mm)} of {asked} beats show it; {by_beat}"
    low, high = min(mm.values()), max(mm.values())
    if high - low > max(_APART_SHARE * (low + high) / 2, _APART_MM):
        return f"the beats differ too much, {low:.1f} to {high:.1f} mm: the cursor does not stay at one place"
    return ""
