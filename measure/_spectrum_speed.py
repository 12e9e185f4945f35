"""How fast spectra are made: the machine alone on a tube of known flow, and with an animal before it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from fanlight.heart.animal import Animal
from fanlight.heart.blood.circulation import draw_circulation
from fanlight.heart.cycle import state_at
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.motion import Motion
from fanlight.heart.moving_body import moving_body
from fanlight.heart.pose import Pose
from fanlight.heart.rhythm import beats
from fanlight.heart.sampled import Sampled
from fanlight.heart.standard_poses import standard_pose
from fanlight.heart.tissue import Tissue
from fanlight.simulate.machine.animal_scene import scene_of
from fanlight.simulate.machine.console import Console, default_console
from fanlight.simulate.machine.probe import Probe, default_probe
from fanlight.simulate.machine.scene import Scene
from fanlight.simulate.spectral.spectral_body import MotionAt
from fanlight.simulate.spectral.spectral_setting import SpectralSetting, highest_scale_cm_s
from fanlight.simulate.spectral.spectral_strip import render_spectrum
from fanlight.study import Mode

VIEW = "left_apical_four_chamber"
GATE_SHARE = 0.6  # of the depth: mitral tips
ROWS, COLUMN_MS = 240, 2.5
SHORT_S, LONG_S = 0.25, 2.25  # two lengths tell what a second costs
DOPPLER_SHARE = 0.65  # of the picture's frequency, as for colour
MODES = (Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE, Mode.TISSUE_DOPPLER)
RADIUS_MM, BEAT_MS, PEAK_MM_S = 6.0, 400.0, 900.0  # of the tube


@dataclass(frozen=True, kw_only=True)
class Before:
    """What a spectrum is made of."""

    scene: Scene
    motion: MotionAt
    pose: Pose
    state_at: Callable[[float], CycleState]


def setting_of(mode: Mode, probe: Probe, console: Console) -> SpectralSetting:
    """Return a usual setting; pulsed wave at the highest scale of its depth."""
    frequency = max(DOPPLER_SHARE * console.frequency_mhz, probe.low_mhz)
    depth = GATE_SHARE * console.depth_mm
    pulsed = SpectralSetting(
        mode=Mode.PULSED_WAVE, frequency_mhz=frequency, scale_cm_s=highest_scale_cm_s(depth, 2.0, frequency),
        gate_depth_mm=depth,
    )  # fmt: skip
    if mode is Mode.CONTINUOUS_WAVE:
        return replace(pulsed, mode=mode, scale_cm_s=400.0, wall_filter_cm_s=30.0)
    return pulsed if mode is Mode.PULSED_WAVE else replace(pulsed, mode=mode, scale_cm_s=20.0)


def tube() -> Before:
    """Return a tube of blood in muscle along the beam, with a parabola of flow that beats."""

    def aside(x: Any, y: Any) -> Any:
        return np.hypot(x, y)

    def sample(_: CycleState, x: Any, y: Any, z: Any) -> Sampled:
        off = aside(x, y)
        label = np.where(off < RADIUS_MM, int(Tissue.LV_CAVITY), int(Tissue.SEPTUM)).astype(np.uint8)
        return Sampled(tissue=label, edge_mm=np.abs(off - RADIUS_MM).astype(np.float32), material_mm=(x, y, z))

    def motion(time_ms: float, x: Any, y: Any, z: Any, tissue: Any | None = None) -> Motion:  # noqa: ARG001
        speed = PEAK_MM_S * max(np.sin(2 * np.pi * time_ms / BEAT_MS), 0.0)
        flow = np.maximum(1 - (aside(x, y) / RADIUS_MM) ** 2, 0) * speed
        return Motion(velocity_mm_s=(0 * x, 0 * y, -flow), unsteady_mm_s=0.1 * flow)

    still = CycleState(
        time_ms=0.0, beat=0, phase=0.0, contraction=0.0, right_contraction=0.0, base_descent=0.0, atrial_filling=0.0,
        mitral_opening=0.0, tricuspid_opening=0.0, aortic_opening=0.0, pulmonic_opening=0.0, breath=0.0,
    )  # fmt: skip
    pose = Pose(origin_mm=np.zeros(3), axes=np.eye(3))
    return Before(scene=Scene(moving=sample), motion=motion, pose=pose, state_at=lambda _: still)


def animal_before(animal: Animal, seed: int) -> Before:
    """Return an animal from the left apex."""
    start_ms, length_ms = 300.0, 1000 * LONG_S + 300.0
    run = beats(animal.rhythm, start_ms + length_ms + 1000.0)
    circulation = draw_circulation(animal, np.random.default_rng([seed, 1]))
    body = moving_body(animal, circulation, run, start_ms=start_ms, duration_ms=length_ms)
    return Before(
        scene=scene_of(animal), motion=body, pose=standard_pose(animal, VIEW),
        state_at=lambda time_ms: state_at(animal.rhythm, run, start_ms + time_ms),
    )  # fmt: skip


def strip_of(
    before: Before, probe: Probe, console: Console, setting: SpectralSetting, seconds: float
) -> Callable[[], object]:
    """Return what makes a strip of so many seconds."""

    def made() -> object:
        return render_spectrum(
            before.scene, before.motion, before.pose, probe, console, setting, before.state_at,
            np.random.default_rng(1), rows=ROWS, n_columns=round(1000 * seconds / COLUMN_MS), column_ms=COLUMN_MS,
            start_ms=150.0,
        )  # fmt: skip

    return made


def spectrum_rows(
    animals: Sequence[tuple[str, Animal, int]], busy_s: Callable[..., tuple[float, ...]]
) -> tuple[list[str], list[float]]:
    """Return the table's rows, and the speeds of the machine alone and with the animal in turn.

    Parameters
    ----------
    animals : sequence of (str, Animal, int)
        Name and seed beside each.
    busy_s : function
        Least processor times of some works, s. All strips take turns: what slows the computer for a while meets all.
    """
    words: list[str] = []
    works: list[Callable[[], object]] = []
    for name, animal, seed in animals:
        probe = default_probe(animal.weight_kg)
        console = default_console(probe, animal.species, animal.weight_kg)
        for mode in MODES:
            setting = setting_of(mode, probe, console)
            hz = setting.sample_hz * setting.pulses_kept_one_of
            words.append(
                f"| {name}, {animal.weight_kg:.0f} kg | {mode.value.replace('_', ' ')} | {setting.frequency_mhz:.1f} | "
                f"{setting.scale_cm_s:.0f} | {hz / 1000:.1f}"
            )
            for before in (tube(), animal_before(animal, seed)):
                works += [strip_of(before, probe, console, setting, seconds) for seconds in (SHORT_S, LONG_S)]
    works[0]()  # libraries are loaded once
    taken_s = busy_s(*works)
    speeds = [
        (LONG_S - SHORT_S) / (long_s - short_s) for short_s, long_s in zip(taken_s[::2], taken_s[1::2], strict=True)
    ]
    pairs = zip(speeds[::2], speeds[1::2], strict=True)
    rows = [f"{said} | {alone:.1f} | {whole:.1f} |" for said, (alone, whole) in zip(words, pairs, strict=True)]
    return rows, speeds
