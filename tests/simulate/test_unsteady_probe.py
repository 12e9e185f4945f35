"""A probe that does not keep still: how it moves, and that only what it moves past lights up or goes dark."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fanlight.simulate.clip.colour_clip import colour_film
from fanlight.simulate.clip.doppler_setting import DopplerClip
from fanlight.simulate.clip.spectral_clip import spectral_film
from fanlight.simulate.clip.unsteady_probe import Jerks, Swing, breath_share, swung, unsteady_film
from fanlight.simulate.colour.colour_mode import render_colour
from fanlight.simulate.colour.colour_setting import ColourBox, default_colour
from fanlight.simulate.faults.doppler_faults import DOPPLER_FAULTS, apply_doppler
from fanlight.simulate.machine.console import default_console
from fanlight.simulate.machine.probe import PROBES
from fanlight.study import Mode, Species, Valve
from tests.simulate.doppler_stand_ins import flow_of, steady_clip
from tests.simulate.flow_phantoms import at_rest, tube
from tests.simulate.phantoms import DOWN, state

APICAL = "left_apical_four_chamber"
JERKS = Jerks(push_mm=6.0, lasts_ms=100.0, first_ms=80.0, every_ms=400.0)


def faulty(key: str, mode: Mode, strength: int) -> DopplerClip:
    clip = steady_clip(APICAL, Valve.MITRAL, mode)
    fault = DOPPLER_FAULTS[key].make(strength, flow_of().animal, np.random.default_rng(1))
    return apply_doppler(fault, clip, flow_of())


def test_a_push_goes_there_and_back_and_comes_again() -> None:
    """Raised cosine: half way at a quarter of its time, fastest there by π · way / time (calculus)."""
    assert [JERKS.pushed_mm(t) for t in (0.0, 79.0, 80.0, 105.0, 130.0, 180.0, 470.0)] == pytest.approx(
        [0.0, 0.0, 0.0, 3.0, 6.0, 0.0, 0.0]
    )
    assert JERKS.pushed_mm(530.0) == pytest.approx(6.0)
    found = (JERKS.pushed_mm(105.5) - JERKS.pushed_mm(104.5)) / 0.001
    assert found == pytest.approx(np.pi * 6.0 / 0.1, rel=1e-3) == pytest.approx(JERKS.fastest_mm_s, rel=1e-3)


@pytest.mark.parametrize("lasts_ms", [0.0, 401.0])
def test_a_jerk_that_never_ends_is_refused(lasts_ms: float) -> None:
    with pytest.raises(ValueError, match=f"be over before the next: got {lasts_ms:g} ms every 400 ms"):
        replace(JERKS, lasts_ms=lasts_ms)


def test_a_probe_at_rest_stays_the_same() -> None:
    clip, animal = steady_clip(APICAL, Valve.MITRAL, Mode.COLOUR), flow_of().animal
    film = colour_film(animal, clip.clip, clip.doppler.colour, start_ms=300.0)

    assert unsteady_film(animal, film, None) is film
    jerked = unsteady_film(animal, film, JERKS)
    assert jerked.pose_at(40.0) is film.pose_at(40.0)  # nothing is looked through anew between jerks
    assert jerked.pose_at(130.0).origin_mm - film.pose_at(0.0).origin_mm == pytest.approx(6.0 * film.pose_at(0.0).z)
    assert jerked.states == film.states


def test_still_tissue_lights_up_while_the_probe_is_jerked_and_only_then() -> None:
    """All of the box in the pictures within the jerk, nothing in the others; no movement at all, no colour."""
    probe = PROBES["phased medium"]
    console = replace(default_console(probe, Species.DOG, 12.0), n_lines=16, n_samples=96)
    box = ColourBox(left_deg=-20.0, right_deg=20.0, near_mm=32.0, far_mm=72.0)
    setting = replace(default_colour(console, box), persistence_fraction=0.0, suppresses_tissue=False)
    setting = replace(setting, scale_m_s=0.5)
    scene, _ = tube(0.0, 1.0, 52.0, 0.0)
    times = [0.0, 40.0, 105.0, 155.0, 220.0, 300.0]

    def pose_at(time_ms: float):
        push = JERKS.pushed_mm(time_ms)
        return replace(DOWN, origin_mm=DOWN.origin_mm + push * DOWN.z) if push else DOWN

    def lit(pose: object) -> np.ndarray:
        rng = np.random.default_rng(5)
        beams = render_colour(scene, at_rest(), pose, probe, console, setting, [state(t) for t in times], rng)  # type: ignore[arg-type]
        return np.asarray((beams.power_db > beams.threshold_db).mean(axis=(1, 2)))

    jerked, still = lit(pose_at), lit(DOWN)
    assert jerked[[2, 3]].min() > 0.8
    assert jerked[[0, 1, 4, 5]].max() < 0.05
    assert still.max() < 0.05


def test_flash_grows_with_its_grade_and_comes_in_every_clip() -> None:
    found = [faulty("colour_flash", Mode.COLOUR, strength).doppler.unsteady for strength in (1, 3, 5)]
    beat_ms = 60_000.0 / flow_of().animal.rhythm.rate_bpm

    assert all(isinstance(jerks, Jerks) for jerks in found)
    speeds = [jerks.fastest_mm_s for jerks in found if isinstance(jerks, Jerks)]
    assert speeds == sorted(speeds)
    assert 150.0 < speeds[1] < 300.0
    assert all(jerks.first_ms + jerks.lasts_ms < beat_ms for jerks in found if isinstance(jerks, Jerks))


def test_a_beam_that_swings_with_the_breath_loses_its_flow_and_finds_it_again() -> None:
    clip, flow = faulty("breath_loses_flow", Mode.PULSED_WAVE, 3), flow_of()
    steady, swing = steady_clip(APICAL, Valve.MITRAL, Mode.PULSED_WAVE), clip.doppler.unsteady
    film = spectral_film(flow.animal, clip.clip, start_ms=300.0)
    moving = unsteady_film(flow.animal, film, swing)
    times = np.arange(-3000.0, 0.0, 25.0)
    shares = np.asarray([breath_share(flow.animal, film, float(t)) for t in times])

    assert isinstance(swing, Swing)
    away = replace(clip.clip, pose=swung(clip.clip.pose, swing))
    usual, left = (abs(flow.heard(s, steady.doppler.spectral).along_cm_s) for s in (steady.clip, away))
    assert left <= 0.5 * usual
    assert shares.min() == 0.0
    assert shares.max() == pytest.approx(1.0, abs=0.02)
    out = moving.pose_at(float(times[shares.argmax()]))
    back = moving.pose_at(float(times[shares.argmin()]))
    assert out.axes == pytest.approx(away.pose.axes, abs=1e-3)
    assert back.axes == pytest.approx(clip.clip.pose.axes, abs=1e-9)
    assert clip.clip.pose is steady.clip.pose
