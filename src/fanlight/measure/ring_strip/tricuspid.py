"""What a strip through the ring of the tricuspid valve measures: its excursion towards the apex in systole (TAPSE)."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fanlight.measure.m_mode import MModeStrip, Seen
from fanlight.measure.m_mode.spread import combined
from fanlight.measure.ring_strip.ring import RingBeat, find_ring
from fanlight.measure.valve_strip.strip_beats import tissue_and_beats
from fanlight.measure.valve_strip.told import PIXEL_SHARE, Value, no_value, tell
from fanlight.study import Measurement

METHOD = "M-mode of the tricuspid ring, leading edge, R wave to its nearest place to the apex/1"
TAPSE = "tapse"
_LABEL = "TAPSE"
# Simulated strips of ring A, seeds 300 to 325: the tissue that is followed goes less far than the hinge of the leaflet,
# which comes towards the septum as well, and beats differ with the breath.
_FOLLOWING_MM, _FOLLOWING_SHARE = 0.35, 0.1
_USUAL_SHARE = 0.08
_LEAST_SHARE = 0.5  # of the beats; fewer may be chance
_APART_SHARE, _APART_MM = 0.35, 1.0  # of the mean: beats that differ by more were not all followed rightly


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RingReading:
    """Everything that was read off a strip; `beats` is empty where no beat shows the ring."""

    beats: tuple[RingBeat, ...]
    measurements: tuple[Measurement, ...]


def measure_ring(strip: MModeStrip, seen: Seen | None = None) -> RingReading:
    """Return how far the ring of the tricuspid valve comes towards the apex, or why there is no number.

    Parameters
    ----------
    strip : MModeStrip
        From the left apex through the ring at the free wall of the right ventricle, with its R waves.
    seen : Seen or None
        Where the strip was seen.

    Notes
    -----
    The leading edge of the ring's echo, from the R wave to where it is nearest to the apex in systole (common practice,
    no source). One number a beat, the mean of the beats that show it. A cursor that does not run along the ring's way
    reads too small by the cosine between them; that is not in the uncertainty. No interval of healthy animals was seen
    for it.
    """
    seen = seen or Seen()
    ready = tissue_and_beats(strip)
    if isinstance(ready, str):
        return _refused(ready, seen)
    tissue, beats = ready
    found = {beat.number: find_ring(strip, tissue, beat) for beat in beats.counted}
    ring = tuple(item for item in found.values() if isinstance(item, RingBeat))
    refused = {number: item for number, item in found.items() if isinstance(item, str)}
    mm = {item.number: item.mm for item in ring}
    if why := _unlike(mm):
        return RingReading(beats=ring, measurements=(no_value(TAPSE, _LABEL, METHOD, why, seen),))
    mean = sum(mm.values()) / max(len(mm), 1)
    value = Value(
        name=TAPSE, label=_LABEL, method=METHOD, usual_share=_USUAL_SHARE, least_share=_LEAST_SHARE,
        placement_mm=combined(
            math.sqrt(2) * PIXEL_SHARE * strip.mm_per_row, _FOLLOWING_MM, _FOLLOWING_SHARE * mean
        ),
    )  # fmt: skip
    return RingReading(beats=ring, measurements=(tell(value, mm, refused, beats, strip, seen),))


def _unlike(mm: dict[int, float]) -> str:
    """Return that beats differ by more than a heart's do, "" where they agree or there are none."""
    if not mm:
        return ""
    low, high = min(mm.values()), max(mm.values())
    if high - low <= max(_APART_SHARE * (low + high) / 2, _APART_MM):
        return ""
    return f"the beats differ too much, {low:.1f} to {high:.1f} mm: the ring is not followed for certain"


def _refused(reason: str, seen: Seen) -> RingReading:
    return RingReading(beats=(), measurements=(no_value(TAPSE, _LABEL, METHOD, reason, seen),))
