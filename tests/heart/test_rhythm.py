"""Beats come when the species, the weight, the breath and early beats say, and always the same way."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from fanlight.heart.cycle import even_rhythm
from fanlight.heart.rhythm import Arrhythmia, Rhythm, beats, breath_at, draw_rhythm, qt_at_ms
from fanlight.study import Species

ARRHYTHMIAS: tuple[Arrhythmia, ...] = ("sinus", "sinus_arrhythmia", "ectopic")
MINUTE_MS = 60_000.0


def drawn(seed: int, species: Species = Species.DOG, kg: float = 12.0, arrhythmia: Arrhythmia = "sinus") -> Rhythm:
    return draw_rhythm(species=species, weight_kg=kg, rng=np.random.default_rng(seed), arrhythmia=arrhythmia)


# Small Animal Internal Medicine, 6th ed., Table 2.4: beats/min, PR, QRS, QT (ms), R, P (mV), T as a share of R
PUBLISHED = [
    pytest.param(Species.DOG, 8.0, (60, 160), (60, 130), 50, (150, 270), 2.5, 0.4, id="WARE6 2.4: dog, small"),
    pytest.param(Species.DOG, 35.0, (60, 160), (60, 130), 60, (150, 270), 3.0, 0.4, id="WARE6 2.4: dog, large"),
    pytest.param(Species.CAT, 4.0, (120, 240), (50, 90), 40, (120, 180), 0.9, 0.2, id="WARE6 2.4: cat"),
]


@pytest.mark.parametrize("arrhythmia", ARRHYTHMIAS)
@pytest.mark.parametrize(("species", "kg", "rate", "pr", "qrs", "qt", "r_mv", "p_mv"), PUBLISHED)
def test_drawn_rhythms_stay_inside_the_published_limits(species, kg, rate, pr, qrs, qt, r_mv, p_mv, arrhythmia):
    for seed in range(60):
        rhythm = drawn(seed, species, kg, arrhythmia)

        assert rate[0] <= rhythm.rate_bpm <= rate[1]
        assert pr[0] <= rhythm.pr_ms <= pr[1]
        assert rhythm.qrs_ms <= qrs
        assert qt[0] <= rhythm.qt_ms <= qt[1]
        assert rhythm.r_mv <= r_mv
        assert rhythm.p_mv <= p_mv
        assert abs(rhythm.t_mv) <= 0.25 * rhythm.r_mv
        assert rhythm.ectopic_qrs_ms > qrs


def test_small_dogs_beat_a_little_faster():
    """10.5/min between 5 and 55 kg in 5000 healthy dogs (J Small Anim Pract 54:318, abstract); limits take a part."""
    small, large = (np.mean([drawn(seed, kg=kg).rate_bpm for seed in range(300)]) for kg in (5.0, 55.0))

    assert small - large == pytest.approx(10.5, abs=2.0)


def test_the_qt_interval_follows_the_published_line():
    """QT = 152.4 + 0.08 RR in normal dogs (Thai J Vet Med 44(1), abstract)."""
    rhythm = even_rhythm(rate_bpm=100.0)

    assert qt_at_ms(rhythm, 600.0) == pytest.approx(200.4, abs=0.05)
    assert qt_at_ms(rhythm, 1000.0) == pytest.approx(232.4, abs=0.05)


@pytest.mark.parametrize("arrhythmia", ARRHYTHMIAS)
@pytest.mark.parametrize("species", list(Species))
def test_beats_cover_the_recording_without_a_gap(species, arrhythmia):
    for seed in range(20):
        made = beats(drawn(seed, species, 5.0, arrhythmia), 5000.0)

        assert made[0].onset_ms <= 0.0 < made[0].end_ms
        assert made[-1].onset_ms <= 5000.0 < made[-1].end_ms
        for soon, late in pairwise(made):
            assert late.onset_ms == pytest.approx(soon.end_ms, abs=1e-6)
            assert late.before_ms == pytest.approx(soon.rr_ms, abs=1e-6)
            assert soon.cut_short == late.early


def test_the_same_seed_makes_the_same_beats():
    assert drawn(7) == drawn(7)
    assert beats(drawn(7), 9000.0) == beats(drawn(7), 9000.0)
    assert drawn(7) != drawn(8)


@pytest.mark.parametrize("arrhythmia", ARRHYTHMIAS)
def test_neither_length_nor_lead_moves_the_beats_of_a_recording(arrhythmia):
    rhythm = drawn(5, arrhythmia=arrhythmia)

    short, long, led = beats(rhythm, 3000.0), beats(rhythm, 9000.0), beats(rhythm, 3000.0, lead_ms=4000.0)

    assert long[: len(short)] == short
    assert [b.onset_ms for b in led[-len(short) :]] == [b.onset_ms for b in short]
    assert led[0].onset_ms <= -4000.0


def test_sinus_arrhythmia_is_slow_in_expiration_and_quick_in_inspiration():
    """RR 20 to 140 % longer in expiration in sleeping adult dogs (R-R intervals in puppies and dogs, abstract)."""
    for seed in range(20):
        rhythm = drawn(seed, arrhythmia="sinus_arrhythmia")
        made = beats(rhythm, MINUTE_MS)
        rr = np.asarray([b.rr_ms for b in made])
        breath = np.asarray([breath_at(rhythm, b.onset_ms) for b in made]) / rhythm.breath_depth_fraction

        assert 1.2 <= rhythm.rsa_ratio <= 2.4
        assert np.corrcoef(rr, breath)[0, 1] < -0.9
        slope, at_rest = np.polyfit(breath, rr, 1)
        assert at_rest / (at_rest + slope) == pytest.approx(rhythm.rsa_ratio, rel=0.03)


def test_sinus_rhythm_of_a_dog_is_nearly_even():
    for seed in range(20):
        rr = np.asarray([b.rr_ms for b in beats(drawn(seed), MINUTE_MS)])

        assert rr.std() / rr.mean() < 0.06
        assert 60_000.0 / rr.mean() == pytest.approx(drawn(seed).rate_bpm, rel=0.05)


def test_an_early_beat_is_followed_by_a_full_compensatory_pause():
    """Early beat and pause take as long as two sinus cycles (common practice, no source)."""
    rhythm = replace(drawn(3, arrhythmia="ectopic"), rsa_ratio=1.0, irregularity_fraction=0.0)
    made = beats(rhythm, 20_000.0)
    early = [i for i, b in enumerate(made[:-1]) if b.early]

    assert len(early) >= 3
    for i in early:
        assert made[i - 1].rr_ms + made[i].rr_ms == pytest.approx(2 * rhythm.rr_ms, abs=1e-6)
        assert made[i].rr_ms > rhythm.rr_ms > made[i - 1].rr_ms
        assert made[i].strength < 1.0 < made[i + 1].strength


def test_later_premature_beats_make_a_larger_stroke():
    """Seen in dogs: the stroke of a premature beat grows with the coupling interval (PMC4618025, abstract)."""
    strengths = [
        next(b.strength for b in beats(replace(drawn(3, arrhythmia="ectopic"), coupling_fraction=c), 9000.0) if b.early)
        for c in (0.5, 0.6, 0.7, 0.8)
    ]

    assert strengths == sorted(strengths)
    assert strengths[0] < strengths[-1]


def test_the_breath_goes_in_faster_than_out_and_rests_at_its_end():
    """Common practice, no source."""
    rhythm = even_rhythm()
    at = np.arange(0.0, rhythm.breath_ms)
    curve = np.asarray([breath_at(rhythm, float(t)) for t in at])
    top = int(curve.argmax())

    assert curve.max() == pytest.approx(rhythm.breath_depth_fraction, abs=1e-3)
    assert np.count_nonzero(np.diff(curve) > 0) < np.count_nonzero(np.diff(curve) < 0)
    assert (np.diff(curve[: top + 1]) >= 0).all()
    assert (np.diff(curve[top:]) <= 0).all()
    assert np.count_nonzero(curve == 0.0) > 0.2 * len(curve)
    assert abs(np.diff(curve, 2)).max() < 1e-5  # no corner


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"rate_bpm": 400.0}, "rate_bpm must be 30 to 260, got 400"),
        ({"coupling_fraction": 0.99}, "coupling_fraction must be 0.3 to 0.92, got 0.99"),
        ({"irregularity": ()}, r"use \(0.0,\) for none"),
        ({"ectopic_every": 1}, "at least 2 sinus beats, got 1"),
    ],
)
def test_an_impossible_rhythm_is_refused(change, message):
    with pytest.raises(ValueError, match=message):
        replace(even_rhythm(), **change)


def test_impossible_requests_are_refused():
    with pytest.raises(ValueError, match="weight_kg must be above 0, got -3"):
        drawn(1, kg=-3.0)
    with pytest.raises(ValueError, match="must be sinus, sinus_arrhythmia or ectopic, got 'flutter'"):
        drawn(1, arrhythmia="flutter")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="duration_ms must be above 0, got 0"):
        beats(drawn(1), 0.0)
