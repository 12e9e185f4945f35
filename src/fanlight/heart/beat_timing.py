"""When the valves of one beat open and shut, and how blood flows in between: the clock that moves the heart.

Order of events (common practice, no source): mitral and tricuspid valve shut, pulmonic opens, aortic opens, aortic
shuts, pulmonic shuts, tricuspid opens, mitral opens, early filling (E), rest, atrial contraction (A).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache
from math import cos, pi, sin

from fanlight.heart.rhythm import Beat, Rhythm, usual_systole_ms
from fanlight.study import Species

# Rates up to which E and A are separate, and from which they are one wave. Dog: Small Animal Radiology and Ultrasound,
# ch. 2. Cat: doi 10.1016/j.jvc.2012.04.004 (53 healthy cats). Both seen.
FUSION_BPM = {Species.DOG: (125.0, 200.0), Species.CAT: (180.0, 190.0)}

# Length of the E wave's rise and fall and of the A wave, ms, while separate and when fused.
# Dog, separate: the tangent to the steepest fall meets zero after 0.82 of the fall: 108 ms make the published
# deceleration time of 88.7 ms (PEREIRA2009). A: 75 ms (SCHOBER1998, Vet Radiol Ultrasound 39:33, 14 dogs). All else is
# engineering judgement: what makes the waves meet and merge at the rates above.
_WAVES_APART = {Species.DOG: (48.0, 108.0, 75.0), Species.CAT: (30.0, 62.0, 50.0)}
_WAVES_FUSED = {Species.DOG: (32.0, 62.0, 56.0), Species.CAT: (38.0, 55.0, 74.0)}

# Share of ejection at which flow is fastest. Aorta: in the first third; pulmonary artery: in the middle, a symmetric
# wave (Clinical Small Animal Internal Medicine, p. 153, seen).
AORTIC_PEAK = 0.30
PULMONIC_PEAK = 0.49
# The right ventricle meets less pressure: its valve opens sooner, shuts later, and it fills sooner (common practice,
# no source; by how much: engineering judgement).
_RIGHT_OPENS_SOONER_MS = 8.0
_RIGHT_SHUTS_LATER_MS = 10.0
_RIGHT_FILLS_SOONER_MS = 10.0
# Area of the mitral ring at the peak of E over that at the peak of A: it widens as the ventricle fills, as drawn. The
# published E over A is one of velocities, what shares the filling is one of flows.
RING_AT_E = 0.83
_MIN_FILLING_FRACTION = 0.22  # of the cycle: engineering judgement, keeps the times in order at the highest rates


@dataclass(frozen=True, slots=True, kw_only=True)
class Flank:
    """How a wave rises from 0 to 1 as its share of time goes from 0 to 1; it falls as the mirror image."""

    height: Callable[[float], float]
    passed: Callable[[float], float]  # integral of the height from 0
    area: float = field(init=False)  # integral over the whole flank

    def __post_init__(self) -> None:
        object.__setattr__(self, "area", self.passed(1.0))


def _bell_height(x: float) -> float:
    return 0.5 - 0.5 * cos(pi * x)


def _bell_passed(x: float) -> float:
    return 0.5 * (x - sin(pi * x) / pi)


def _dome_height(x: float) -> float:
    return sin(0.5 * pi * x)


def _dome_passed(x: float) -> float:
    return (1.0 - cos(0.5 * pi * x)) * 2.0 / pi


# Inflow: half a cosine, gentle at both ends; half of peak times time. Ejection: a quarter of a sine, steep at once and
# blunt about the peak, as recorded flow is; 2/pi of peak times time (common practice, no source).
BELL = Flank(height=_bell_height, passed=_bell_passed)
DOME = Flank(height=_dome_height, passed=_dome_passed)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wave:
    """A rise and fall of flow, continuous everywhere; its slope is so too in a bell, not at both ends of a dome."""

    start_ms: float
    rise_ms: float
    fall_ms: float
    flank: Flank = BELL

    @property
    def end_ms(self) -> float:
        """When the flow is over."""
        return self.start_ms + self.rise_ms + self.fall_ms

    @property
    def peak_ms(self) -> float:
        """When the flow is fastest."""
        return self.start_ms + self.rise_ms

    @property
    def area_ms(self) -> float:
        """Time integral of a wave of height 1."""
        return self.flank.area * (self.rise_ms + self.fall_ms)

    def height(self, at_ms: float) -> float:
        """Flow as a share of its peak."""
        t = at_ms - self.start_ms
        if t <= 0.0 or t >= self.rise_ms + self.fall_ms:
            return 0.0
        if t < self.rise_ms:
            return self.flank.height(t / self.rise_ms)
        return self.flank.height(1.0 - (t - self.rise_ms) / self.fall_ms)

    def passed(self, at_ms: float) -> float:
        """Share of the wave's volume that has passed, 0 to 1."""
        t = min(max(at_ms - self.start_ms, 0.0), self.rise_ms + self.fall_ms)
        if t < self.rise_ms:
            return self.rise_ms * self.flank.passed(t / self.rise_ms) / self.area_ms
        to_come = self.fall_ms * self.flank.passed(1.0 - (t - self.rise_ms) / self.fall_ms)
        return 1.0 - to_come / self.area_ms


@dataclass(frozen=True, slots=True, kw_only=True)
class Filling:
    """How one ventricle fills: early wave, atrial wave if the atria contract, and how much of the way each fills it."""

    early: Wave
    atrial: Wave | None
    early_share: float  # of what would fill it wholly
    atrial_share: float

    def passed(self, at_ms: float) -> tuple[float, float]:
        """Share of the early and of the atrial wave's volume that has passed, 0 to 1 each."""
        return self.early.passed(at_ms), self.atrial.passed(at_ms) if self.atrial else 0.0

    def filled(self, passed: tuple[float, float], *, early_share: float | None = None) -> float:
        """Share filled by what has `passed`; `early_share` may set another split between E and A (wall motion)."""
        total = self.early_share + self.atrial_share
        first = self.early_share if early_share is None or self.atrial is None else early_share * total
        second = 0.0 if self.atrial is None else total - first
        return first * passed[0] + (second * passed[1] if self.atrial else 0.0)

    @property
    def end_ms(self) -> float:
        """When the atrioventricular valve has shut."""
        return self.early.end_ms if self.atrial is None else self.atrial.end_ms


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """One beat's waves of flow; times count from the onset of its QRS complex, ms."""

    aortic: Wave
    pulmonic: Wave
    mitral: Filling
    tricuspid: Filling


@lru_cache(maxsize=256)  # a beat is asked about at every moment of it
def time_beat(rhythm: Rhythm, beat: Beat) -> Timing:
    """Return when the valves of a beat move.

    Parameters
    ----------
    rhythm : Rhythm
        The animal's own intervals at its usual rate.
    beat : Beat
        Systole follows the interval before it, filling the interval after it.

    Notes
    -----
    Simplifications: the mitral and tricuspid valve shut at the very onset of QRS (in life some 20 to 30 ms later, from
    memory); the atrial contraction that falls into a premature beat's systole is left out.
    """
    pre, ejection, relaxation = _systole_ms(rhythm, beat)
    full_mitral = pre + ejection + relaxation
    aortic = _ejection(pre, ejection, AORTIC_PEAK)
    right_start = max(pre - _RIGHT_OPENS_SOONER_MS, 0.4 * pre)
    right_end = pre + ejection + min(_RIGHT_SHUTS_LATER_MS, 0.3 * relaxation)
    pulmonic = _ejection(right_start, right_end - right_start, PULMONIC_PEAK)
    tricuspid_opens = full_mitral - min(_RIGHT_FILLS_SOONER_MS, 0.3 * relaxation)
    return Timing(
        aortic=aortic,
        pulmonic=pulmonic,
        mitral=_filling(rhythm, beat, full_mitral),
        tricuspid=_filling(rhythm, beat, tricuspid_opens),
    )


def _systole_ms(rhythm: Rhythm, beat: Beat) -> tuple[float, float, float]:
    """Pre-ejection, ejection and relaxation of this beat, shortened with the interval before it, within the cycle."""
    now = usual_systole_ms(rhythm.species, 60_000.0 / beat.before_ms)
    usual = usual_systole_ms(rhythm.species, rhythm.rate_bpm)
    own = (rhythm.pre_ejection_ms, rhythm.ejection_ms, rhythm.relaxation_ms)
    pre, ejection, relaxation = (mine * a / b for mine, a, b in zip(own, now, usual, strict=True))
    if beat.early:  # a ventricle that holds little blood takes longer to open the valve and shuts it sooner
        pre, ejection = 1.25 * pre, (0.6 + 0.4 * beat.strength) * ejection  # engineering judgement
    room = (1.0 - _MIN_FILLING_FRACTION) * beat.rr_ms
    fit = min(1.0, room / (pre + ejection + relaxation))
    return fit * pre, fit * ejection, fit * relaxation


def _ejection(start_ms: float, length_ms: float, peak: float) -> Wave:
    return Wave(start_ms=start_ms, rise_ms=peak * length_ms, fall_ms=(1.0 - peak) * length_ms, flank=DOME)


def _filling(rhythm: Rhythm, beat: Beat, opens_ms: float) -> Filling:
    """E and A wave between the opening of the valve and the next QRS complex."""
    room = beat.rr_ms - opens_ms
    apart, fused = FUSION_BPM[rhythm.species]
    x = min(max((60_000.0 / beat.rr_ms - apart) / (fused - apart), 0.0), 1.0)
    rise, fall, atrial_ms = (
        a + (b - a) * x for a, b in zip(_WAVES_APART[rhythm.species], _WAVES_FUSED[rhythm.species], strict=True)
    )
    if beat.cut_short:
        usual = Wave(start_ms=opens_ms, rise_ms=rise, fall_ms=fall)
        atrial_area = 0.5 * _WAVES_APART[rhythm.species][2] / (RING_AT_E * rhythm.e_a_ratio)
        fit = min(1.0, room / (rise + fall))
        early = Wave(start_ms=opens_ms, rise_ms=fit * rise, fall_ms=fit * fall)
        share = usual.area_ms / (usual.area_ms + atrial_area) * usual.passed(opens_ms + room)
        return Filling(early=early, atrial=None, early_share=share, atrial_share=0.0)
    rise = min(rise, 0.45 * room)
    fall = min(fall, room - rise)
    atrial_ms = min(atrial_ms, 0.9 * room)
    early = Wave(start_ms=opens_ms, rise_ms=rise, fall_ms=fall)
    atrial = Wave(start_ms=beat.rr_ms - atrial_ms, rise_ms=0.5 * atrial_ms, fall_ms=0.5 * atrial_ms)
    ratio = RING_AT_E * rhythm.e_a_ratio
    total = ratio * early.area_ms + atrial.area_ms
    share = ratio * early.area_ms / total
    return Filling(early=early, atrial=atrial, early_share=share, atrial_share=1.0 - share)
