"""Spectra of a hand without fault: what a valve's leaflets leave in them."""

from __future__ import annotations

import numpy as np
import pytest

from fanlight.simulate.clip.doppler_setting import Sought
from fanlight.simulate.clip.picture import scene_of
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.clip.spectral_clip import motion_before, spectral_film
from fanlight.simulate.spectral.spectral_strip import SpectralStrip, render_spectrum
from fanlight.simulate.steady.steady_doppler import steady_doppler
from fanlight.study import Mode, Valve
from measure._criterion_clips import good_setting
from measure._doppler_bench import APICAL, FIVE, draw_bench

COLUMN_MS, N_COLUMNS, ROWS = 2.5, 300, 200
END = 12  # rows at each end of the scale
GREY = 60


def _strip(seed: int, view: str, valve: Valve) -> SpectralStrip:
    bench = draw_bench(seed, Ring.A)
    animal, span_ms = bench.subject.animal, N_COLUMNS * COLUMN_MS
    setting = bench.flow.tilted(good_setting(bench.subject, view), valve, Sought.FORWARD, Mode.PULSED_WAVE)
    spectral = steady_doppler(bench.flow, setting, valve, Mode.PULSED_WAVE, Sought.FORWARD).spectral
    film = spectral_film(animal, setting, start_ms=bench.subject.start_ms)
    return render_spectrum(
        scene_of(animal, setting), motion_before(animal, bench.circulation, film, span_ms), setting.pose, setting.probe,
        setting.console, spectral, film.state_at, np.random.default_rng(seed), rows=ROWS, n_columns=N_COLUMNS,
        column_ms=COLUMN_MS, start_ms=-span_ms, contact=setting.contact,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("seed", "view", "valve"),
    [(0, APICAL, Valve.MITRAL), (1, APICAL, Valve.MITRAL), (0, FIVE, Valve.AORTIC), (1, FIVE, Valve.AORTIC)],
    ids=["cat, mitral", "dog, mitral", "cat, aortic", "dog, aortic"],
)
def test_leaflets_do_not_fill_the_scale(seed: int, view: str, valve: Valve) -> None:
    """Hardly a column is bright at both ends of the scale at once.

    A click is as fast as its leaflet and as broad as the time in which that passes beam and pulse (physics; the sum is
    done in test_spectrum.py): tips of valves move with some 50 cm/s, less than the scale of these pictures.
    """
    levels = _strip(seed, view, valve).levels.astype(float)
    ends = np.minimum(levels[:END].mean(axis=0), levels[-END:].mean(axis=0))

    assert levels.max() > 200  # it shows flow
    assert (ends > GREY).mean() <= 0.01
