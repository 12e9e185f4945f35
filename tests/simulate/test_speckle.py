"""Speckle against its theory, and the speckle's tie to the tissue."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fanlight.heart.tissue import Tissue
from fanlight.simulate.machine.console import default_console
from fanlight.simulate.machine.probe import PROBES
from fanlight.study import Species
from tests.simulate.phantoms import PLAIN, amplitude, ball, even, painted, state

MEDIUM, LARGE, CURVED = PROBES["phased medium"], PROBES["phased large"], PROBES["curved small"]
ONLY_SPECKLE = {Tissue.SEPTUM: PLAIN}


def levelled(probe, weight_kg, seeds, **change):
    """Amplitude of an even phantom in the middle depths, each depth brought to a mean power of 1."""
    console = default_console(probe, Species.DOG, weight_kg, **change)
    seen = np.concatenate([amplitude(even(np), probe, console, seed, echoes=ONLY_SPECKLE) for seed in seeds])
    seen = seen[:, seen.shape[1] // 4 : int(0.8 * seen.shape[1]), :]
    return seen / np.sqrt((seen**2).mean(axis=(0, 2), keepdims=True))


@pytest.mark.parametrize(
    ("probe", "weight_kg", "is_harmonic"),
    [
        pytest.param(MEDIUM, 12.0, False, id="phased"),
        pytest.param(MEDIUM, 12.0, True, id="phased, harmonic"),
        pytest.param(LARGE, 40.0, False, id="phased, large"),
        pytest.param(CURVED, 5.0, False, id="curved"),
    ],
)
def test_speckle_is_fully_developed(probe, weight_kg, is_harmonic):
    """Mean over SD of the amplitude is √(π / (4 - π)) = 1.91 (Wagner et al. 1983), within 3 %.

    The intensity is exponential: mean over SD is 1, and the share above x means is exp(-x). The SD of the level is
    (10 / ln 10) · π / √6 = 5.57 dB, whatever the mean (identity for an exponential intensity).
    """
    seen = levelled(probe, weight_kg, range(6), is_harmonic=is_harmonic)
    power = seen**2

    assert seen.mean() / seen.std() == pytest.approx(math.sqrt(math.pi / (4 - math.pi)), rel=0.03)
    assert power.mean() / power.std() == pytest.approx(1.0, rel=0.05)
    assert (20 * np.log10(seen)).std() == pytest.approx(10 / math.log(10) * math.pi / math.sqrt(6), rel=0.03)
    for means in (0.5, 1.0, 2.0, 3.0):
        assert (power > means).mean() == pytest.approx(math.exp(-means), rel=0.10)


def test_compounding_averages_independent_looks():
    """The mean of n independent Rayleigh amplitudes has √n times their mean over SD (identity)."""
    one = levelled(MEDIUM, 12.0, range(3))
    console = default_console(MEDIUM, Species.DOG, 12.0)
    four = np.concatenate(
        [amplitude(even(np), MEDIUM, replace(console, n_looks=4), seed, echoes=ONLY_SPECKLE) for seed in range(3)]
    )[:, console.n_samples // 4 : int(0.8 * console.n_samples), :]
    four = four / np.sqrt((four**2).mean(axis=(0, 2), keepdims=True))

    assert (four.mean() / four.std()) / (one.mean() / one.std()) == pytest.approx(2.0, rel=0.10)


def alike(a, b):
    """Correlation of two pieces of speckle."""
    a, b = a - a.mean(), b - b.mean()
    return float((a * b).sum() / math.sqrt((a**2).sum() * (b**2).sum()))


def pushed(shift_mm, seed=3):
    """Even tissue before and after it was pushed along x, y, z."""
    console = default_console(MEDIUM, Species.DOG, 12.0)
    scene = even(np, shift_mm=lambda time_ms: np.asarray(shift_mm) * (time_ms > 0))
    before, after = amplitude(scene, MEDIUM, console, seed, states=(state(0.0), state(10.0)), echoes=ONLY_SPECKLE)
    return before, after, console


# resolution at 12 kg and mid-depth: about 0.3 mm along, 1.3 mm across, 1.6 mm over; a small move is a tenth of it
@pytest.mark.parametrize(
    "shift_mm",
    [
        pytest.param((0.0, 0.0, 0.0), id="still"),
        pytest.param((0.0, 0.0, 0.03), id="along the beam"),
        pytest.param((0.15, 0.0, 0.0), id="across the lines"),
        pytest.param((0.0, 0.2, 0.0), id="through the plane"),
    ],
)
def test_speckle_stays_alike_over_a_small_move(shift_mm):
    before, after, console = pushed(shift_mm)
    rows = slice(int(0.5 * console.n_samples), int(0.75 * console.n_samples))

    assert alike(before[rows, 48:80], after[rows, 48:80]) > 0.9


def test_speckle_forgets_a_move_through_the_plane_by_more_than_the_slice():
    before, after, console = pushed((0.0, 9.0, 0.0))
    rows = slice(int(0.5 * console.n_samples), int(0.75 * console.n_samples))

    assert abs(alike(before[rows, 48:80], after[rows, 48:80])) < 0.2


@pytest.mark.parametrize("shift_samples", [6, 15])
def test_speckle_follows_tissue_along_the_beam(shift_samples):
    """The best match of a patch lies where the tissue went, and is nearly the old pattern."""
    shift_mm = shift_samples * default_console(MEDIUM, Species.DOG, 12.0).sample_mm
    before, after, console = pushed((0.0, 0.0, shift_mm))
    row, height, lines = int(0.55 * console.n_samples), 60, slice(58, 70)
    patch = before[row : row + height, lines]
    match = [alike(patch, after[row + lag : row + lag + height, lines]) for lag in range(31)]

    assert np.argmax(match) == shift_samples
    assert max(match) > 0.85


def test_speckle_follows_tissue_across_the_lines():
    before, after, console = pushed((2.0, 0.0, 0.0))
    row, height = int(0.6 * console.n_samples), 40
    line_mm = (row + height / 2) * console.sample_mm * math.radians(console.width_deg) / console.n_lines
    patch = before[row : row + height, 56:70]
    match = [alike(patch, after[row : row + height, 56 + lag : 70 + lag]) for lag in range(8)]

    assert np.argmax(match) * line_mm == pytest.approx(2.0, abs=0.75 * line_mm)
    assert max(match) > 0.75


def test_blood_is_new_in_every_frame_where_muscle_is_not():
    console = default_console(MEDIUM, Species.DOG, 12.0)
    scene = painted(np, [(Tissue.LV_CAVITY, ball((0, 0, 55), 15))], Tissue.SEPTUM)
    first, second = amplitude(scene, MEDIUM, console, 4, states=(state(0.0), state(10.0)))
    blood = slice(int(45 / console.sample_mm), int(65 / console.sample_mm)), slice(56, 72)
    muscle = slice(int(25 / console.sample_mm), int(35 / console.sample_mm)), slice(40, 88)

    assert abs(alike(first[blood], second[blood])) < 0.2
    assert alike(first[muscle], second[muscle]) > 0.99
