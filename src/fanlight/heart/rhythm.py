"""When the heart beats and the animal breathes: rate, sinus arrhythmia, early beats, intervals of the ECG.

Sources, seen in copies unless said
-----------------------------------
- LAMB2013, J Small Anim Pract 54:318, doi 10.1111/jsap.12079: in 5000 healthy dogs a dog of 5 kg beat 10.5/min faster
  than one of 55 kg; weight explains little of the spread. FERASIN2010, doi 10.1111/j.1748-5827.2010.00954.x, found no
  effect of weight.
- WARE6, Small Animal Internal Medicine, 6th ed., Table 2.4: heart rate, PR, QRS and QT, and the largest normal waves of
  lead II of dog and cat.
- QT = 152.4 + 0.08 RR (ms) in normal dogs: Thai J Vet Med 44(1), rapid pacing study; slope 0.087 in the formula of Van
  de Water (Pesq Vet Bras, "QT interval in healthy dogs", n 130).
- Sleeping adult dogs: RR interval 20 to 140 % longer in expiration than in inspiration ("Rhythmic variations in R-R
  interval during sleep and wakefulness in puppies and dogs", abstract).
- Resting breathing rate: dogs 19/min on average (Res Vet Sci 2012, 114 dogs); awake adult cats 37.5/min (Feline
  Cardiology, p. 13).

What has no source is said to be common practice or engineering judgement where it stands.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np

from fanlight.study import Species

Arrhythmia = Literal["sinus", "sinus_arrhythmia", "ectopic"]

INSPIRATION_FRACTION = 0.35  # of a breath; breathing in is shorter than breathing out (common practice, no source)
EXPIRATION_FRACTION = 0.40  # then the chest rests at end-expiration until the next breath (common practice, no source)
MIN_RR_MS = 200.0  # 300/min: engineering judgement, above every rate that a rhythm is drawn with
_RESETS_WITHIN = 0.92  # an ectopic beat later than this share of the cycle would fuse with the sinus beat


@dataclass(frozen=True, slots=True, kw_only=True)
class Rhythm:
    """All that times one animal's heart and breath. Nothing random is left in it.

    Raises
    ------
    ValueError
        If a value lies outside what the curves of the cycle are made for.
    """

    species: Species
    rate_bpm: float  # sinus node, at the middle of the breath
    rsa_ratio: float  # RR at end-expiration ÷ RR at full inspiration; 1 is an even rhythm
    irregularity_fraction: float  # of RR, one standard deviation, what neither breath nor ectopy explain
    irregularity: tuple[float, ...]  # standard normal numbers, used in turn, beat by beat
    first_onset_ms: float  # of the QRS complex of the beat in which the recording begins, -RR < value <= 0

    ectopic_every: int  # one ventricular premature beat after so many sinus beats; 0: none
    ectopic_first: int  # the first one follows this sinus beat
    coupling_fraction: float  # of RR, from the sinus beat to the premature one
    potentiation_fraction: float  # by how much the beat after the pause contracts more

    pr_ms: float
    p_ms: float
    qrs_ms: float
    qt_ms: float  # at `rate_bpm`; see `qt_at_ms`
    ectopic_qrs_ms: float
    p_mv: float
    q_mv: float
    r_mv: float
    s_mv: float
    t_mv: float
    ectopic_mv: float  # main deflection of a premature beat; its T wave points the other way

    pre_ejection_ms: float  # QRS onset to opening of the aortic valve, at `rate_bpm`
    ejection_ms: float  # aortic valve open, at `rate_bpm`
    relaxation_ms: float  # isovolumic: closing of the aortic to opening of the mitral valve, at `rate_bpm`
    e_a_ratio: float  # peak velocity between the mitral leaflets, early ÷ atrial

    breaths_per_min: float
    breath_depth_fraction: float  # of a full breath in
    breath_start_ms: float  # when a breath in begins; others follow and precede it evenly

    def __post_init__(self) -> None:
        for name, low, high in (
            ("rate_bpm", 30.0, 260.0), ("rsa_ratio", 1.0, 2.5), ("irregularity_fraction", 0.0, 0.2),
            ("coupling_fraction", 0.3, _RESETS_WITHIN), ("potentiation_fraction", 0.0, 0.4),
            ("breaths_per_min", 4.0, 120.0), ("breath_depth_fraction", 0.0, 1.0), ("e_a_ratio", 0.3, 4.0),
        ):  # fmt: skip
            value = getattr(self, name)
            if not low <= value <= high:
                raise ValueError(f"{name} must be {low:g} to {high:g}, got {value:g}")
        if not self.irregularity:
            raise ValueError("irregularity must hold at least one number; use (0.0,) for none")
        if self.ectopic_every < 0 or self.ectopic_every == 1:
            raise ValueError(f"ectopic_every must be 0 (none) or at least 2 sinus beats, got {self.ectopic_every}")

    @property
    def rr_ms(self) -> float:
        """Interval between beats at `rate_bpm`, ms."""
        return 60_000.0 / self.rate_bpm

    @property
    def breath_ms(self) -> float:
        """Length of one breath, ms."""
        return 60_000.0 / self.breaths_per_min


@dataclass(frozen=True, slots=True, kw_only=True)
class Beat:
    """One heart beat, from the onset of its QRS complex to the onset of the next."""

    onset_ms: float  # of the QRS complex, from the start of the recording
    rr_ms: float  # to the next QRS onset
    before_ms: float  # from the QRS onset before
    early: bool  # ventricular premature beat: no P wave, wide QRS
    cut_short: bool  # the next beat is early: the atria do not contract before it
    strength: float  # share of the full stroke that its muscle would make from a full ventricle: 1 is usual

    @property
    def end_ms(self) -> float:
        """Onset of the next beat's QRS complex, ms."""
        return self.onset_ms + self.rr_ms


def draw_rhythm(
    *, species: Species, weight_kg: float, rng: np.random.Generator, arrhythmia: Arrhythmia = "sinus"
) -> Rhythm:
    """Return a rhythm that a calm animal of this species and weight may have in a practice.

    Parameters
    ----------
    species : Species
        Dog or cat.
    weight_kg : float
        Body weight, kg.
    rng : numpy.random.Generator
        Every random number comes from it.
    arrhythmia : {"sinus", "sinus_arrhythmia", "ectopic"}
        Nearly even; rising and falling with the breath; with single ventricular premature beats.

    Raises
    ------
    ValueError
        If the weight is not above 0 or the arrhythmia is unknown.

    Notes
    -----
    The centres are published (see the module), the spreads are engineering judgement, cut off at the published limits.
    """
    if not weight_kg > 0:
        raise ValueError(f"weight_kg must be above 0, got {weight_kg:g}")
    if arrhythmia not in ("sinus", "sinus_arrhythmia", "ectopic"):
        raise ValueError(f"arrhythmia must be sinus, sinus_arrhythmia or ectopic, got {arrhythmia!r}")
    dog = species is Species.DOG
    large = dog and weight_kg >= 20.0  # WARE6 names small and large breeds without a limit: engineering judgement

    if dog:
        rate = 112.0 - 0.21 * (weight_kg - 20.0) + 18.0 * rng.normal()  # LAMB2013: 10.5/min over 50 kg
        low, high = 60.0, 160.0  # WARE6
    else:
        rate = 185.0 + 18.0 * rng.normal()
        low, high = 140.0, 240.0  # WARE6
    rsa = 1.0 + (0.08 if dog else 0.02) * rng.random()
    if arrhythmia == "sinus_arrhythmia":
        # vagal tone slows the heart too; rare and shallow in cats in a practice (common practice, no source)
        rate, high = (rate - 25.0, 115.0) if dog else (rate - 20.0, 180.0)
        rsa = 1.25 + 0.5 * rng.random() if dog else 1.10 + 0.10 * rng.random()
    rate = float(np.clip(rate, low, high))

    qrs = rng.uniform(38.0, 48.0) + (8.0 if large else 0.0) if dog else rng.uniform(28.0, 38.0)
    r = rng.uniform(0.9, 2.0) + (0.4 if large else 0.0) if dog else rng.uniform(0.35, 0.8)
    t_sign = 1.0 if rng.random() < (0.6 if dog else 0.85) else -1.0
    every = int(rng.integers(3, 7)) if arrhythmia == "ectopic" else 0
    rr = 60_000.0 / rate
    systole = _draw_systole(species, rate, rng)
    return Rhythm(
        species=species,
        rate_bpm=rate,
        rsa_ratio=rsa,
        irregularity_fraction=0.012 if dog else 0.006,  # engineering judgement
        irregularity=tuple(float(v) for v in np.clip(rng.normal(size=48), -2.0, 2.0)),
        first_onset_ms=-float(rng.random()) * 0.98 * rr,
        ectopic_every=every,
        ectopic_first=int(rng.integers(1, every)) if every else 0,
        coupling_fraction=_draw_coupling(sum(systole), rr, rng),
        potentiation_fraction=float(rng.uniform(0.06, 0.14)),
        pr_ms=float(rng.uniform(80.0, 115.0) if dog else rng.uniform(60.0, 85.0)),
        p_ms=float(rng.uniform(32.0, 40.0) if dog else rng.uniform(28.0, 35.0)),
        qrs_ms=float(qrs),
        qt_ms=_usual_qt_ms(species, rr) + float(rng.uniform(-8.0, 8.0)),
        ectopic_qrs_ms=float(rng.uniform(80.0, 100.0) if dog else rng.uniform(60.0, 75.0)),
        p_mv=float(rng.uniform(0.12, 0.30) if dog else rng.uniform(0.06, 0.15)),
        q_mv=-float(r * rng.uniform(0.05, 0.15)),
        r_mv=float(r),
        s_mv=-float(r * rng.uniform(0.05, 0.25)),
        t_mv=float(t_sign * r * rng.uniform(0.10, 0.22)),  # WARE6: usually below a quarter of R
        ectopic_mv=float(r * rng.uniform(1.0, 1.5) * (1.0 if rng.random() < 0.6 else -1.0)),
        pre_ejection_ms=systole[0],
        ejection_ms=systole[1],
        relaxation_ms=systole[2],
        e_a_ratio=float(np.clip(rng.normal(1.533, 0.15) if dog else rng.normal(1.46, 0.2), 1.1, 2.0)),
        breaths_per_min=float(rng.uniform(14.0, 30.0) if dog else rng.uniform(26.0, 44.0)),
        breath_depth_fraction=float(rng.uniform(0.5, 1.0)),
        breath_start_ms=-float(rng.random()) * 2000.0,
    )


def usual_systole_ms(species: Species, rate_bpm: float) -> tuple[float, float, float]:
    """Return the usual pre-ejection period, ejection time and isovolumic relaxation time at a heart rate, ms.

    Notes
    -----
    Isovolumic relaxation of the dog: 80 ms (PEREIRA2009, Pesq Vet Bras 29:291, seen). That all three shorten as the
    rate rises is published (Boxers and Miniature Schnauzers, Arq Bras Med Vet Zootec: r = -0.51 ejection, -0.44
    pre-ejection, -0.38 relaxation, abstract seen), the slopes are not: they are engineering judgement, as are
    pre-ejection and ejection, which follow values of about 54 and 159 ms in dogs that are FROM MEMORY. The printed
    isovolumic relaxation of cats repeats the deceleration time of the same abstract and was not used: the cat's times
    are engineering judgement.
    """
    if species is Species.DOG:
        away = rate_bpm - 110.0
        return max(50.0 - 0.10 * away, 34.0), max(165.0 - 0.55 * away, 95.0), max(80.0 - 0.25 * away, 45.0)
    away = rate_bpm - 180.0
    return max(38.0 - 0.08 * away, 30.0), max(125.0 - 0.45 * away, 90.0), max(55.0 - 0.15 * away, 40.0)


def _draw_systole(species: Species, rate_bpm: float, rng: np.random.Generator) -> tuple[float, float, float]:
    """Pre-ejection, ejection and relaxation of one animal: the usual ones, spread by 7, 5 and 6 % (one SD)."""
    spread = 1.0 + np.asarray((0.07, 0.05, 0.06)) * np.clip(rng.normal(size=3), -1.6, 1.6)
    usual = usual_systole_ms(species, rate_bpm)
    return float(usual[0] * spread[0]), float(usual[1] * spread[1]), float(usual[2] * spread[2])


def _draw_coupling(systole_ms: float, rr_ms: float, rng: np.random.Generator) -> float:
    """Where a premature beat falls: while the ventricle fills early, 0.3 to 0.6 of the rest of the cycle.

    Engineering judgement: earlier ones would find the ventricle empty, later ones would look like sinus beats.
    """
    filling = max(rr_ms - systole_ms, 0.0)
    return float(np.clip((systole_ms + min(rng.uniform(0.3, 0.6) * filling, 130.0)) / rr_ms, 0.5, 0.9))


def _usual_qt_ms(species: Species, rr_ms: float) -> float:
    """QT interval. Dog: published line. Cat: engineering judgement inside 120 to 180 ms (WARE6) at 140 to 240/min."""
    return 152.4 + 0.08 * rr_ms if species is Species.DOG else 105.0 + 0.14 * rr_ms


def qt_at_ms(rhythm: Rhythm, rr_ms: float) -> float:
    """Return the QT interval of a beat that follows `rr_ms` after the one before, ms."""
    return rhythm.qt_ms + _usual_qt_ms(rhythm.species, rr_ms) - _usual_qt_ms(rhythm.species, rhythm.rr_ms)


def breath_at(rhythm: Rhythm, time_ms: float) -> float:
    """Return how far the chest is filled: 0 at end-expiration, 1 a full breath in. Smooth, with a pause at 0."""
    return rhythm.breath_depth_fraction * _breath_shape((time_ms - rhythm.breath_start_ms) / rhythm.breath_ms)


def _breath_shape(breaths: float) -> float:
    """0 to 1 and back within each breath."""
    share = breaths % 1.0
    if share < INSPIRATION_FRACTION:
        x = share / INSPIRATION_FRACTION
    elif share < INSPIRATION_FRACTION + EXPIRATION_FRACTION:
        x = 1.0 - (share - INSPIRATION_FRACTION) / EXPIRATION_FRACTION
    else:
        return 0.0
    return x * x * (3.0 - 2.0 * x)


def _sinus_rr_ms(rhythm: Rhythm, onset_ms: float, number: int) -> float:
    """Interval that the sinus node leaves after a beat: short while the animal breathes in."""
    filled = _breath_shape((onset_ms - rhythm.breath_start_ms) / rhythm.breath_ms)
    half = (rhythm.rsa_ratio - 1.0) / (rhythm.rsa_ratio + 1.0)  # (1 + half) ÷ (1 - half) is the ratio
    chance = rhythm.irregularity_fraction * rhythm.irregularity[number % len(rhythm.irregularity)]
    return max(rhythm.rr_ms * (1.0 + half * (1.0 - 2.0 * filled) + chance), MIN_RR_MS)


def beats(rhythm: Rhythm, duration_ms: float, *, lead_ms: float = 0.0) -> tuple[Beat, ...]:
    """Return the beats that cover a recording, without a gap; the first begins before it, the last ends after it.

    Parameters
    ----------
    rhythm : Rhythm
        Whose beats.
    duration_ms : float
        Length of the recording, ms.
    lead_ms : float, optional
        Cover also so much before the recording (what an ECG on the screen still shows of it). The beats of the
        recording itself do not depend on it; those of the lead are sinus beats.

    Notes
    -----
    The sinus node goes its own way: a premature beat takes the place of the next sinus beat, and the one after that
    comes when it was due (a full compensatory pause; common practice, no source).
    """
    if not duration_ms > 0:
        raise ValueError(f"duration_ms must be above 0, got {duration_ms:g}")
    onsets = [(rhythm.first_onset_ms, False)]
    while onsets[0][0] > -lead_ms:
        onset = onsets[0][0]
        onsets.insert(0, (onset - _sinus_rr_ms(rhythm, onset - rhythm.rr_ms, 0), False))
    onset, number = rhythm.first_onset_ms, 0
    while onsets[-1][0] <= duration_ms or len(onsets) < 3:
        rr = _sinus_rr_ms(rhythm, onset, number)
        every = rhythm.ectopic_every
        if every and number >= rhythm.ectopic_first and (number - rhythm.ectopic_first) % every == 0:
            onsets.append((onset + rhythm.coupling_fraction * rr, True))
            onset += rr  # the sinus beat that finds the ventricles refractory
            rr = _sinus_rr_ms(rhythm, onset, number)
        onset, number = onset + rr, number + 1
        onsets.append((onset, False))
    steps = [late[0] - soon[0] for soon, late in pairwise(onsets)]
    early = [is_early for _, is_early in onsets]
    return tuple(
        Beat(
            onset_ms=onsets[i][0],
            rr_ms=steps[i],
            before_ms=steps[i - 1] if i else rhythm.rr_ms,
            early=early[i],
            cut_short=early[i + 1],
            strength=_strength(rhythm, early, i),
        )
        for i in range(len(steps))
        if i == 0 or onsets[i][0] <= duration_ms
    )


def _strength(rhythm: Rhythm, early: list[bool], i: int) -> float:
    """How much of a full stroke the muscle makes: less the earlier it is called again, more after the pause.

    That the stroke grows with the coupling interval was seen in dogs (PMC4618025, abstract); the line is engineering
    judgement: nothing at a third of the cycle, full at the whole.
    """
    if early[i]:
        return float(np.clip((rhythm.coupling_fraction - 0.33) / 0.67, 0.1, 0.9))
    return 1.0 + rhythm.potentiation_fraction if i and early[i - 1] else 1.0
