"""Rungs of the ladder from the simulator with a known truth: one animal, one console and one hand for each seed."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal, draw_animal
from fanlight.heart.blood.circulation import draw_circulation
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.heart.moving_body import moving_body
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.clip.colour_clip import colour_film, colour_screen_of
from fanlight.simulate.clip.doppler_setting import DopplerClip, sought_at
from fanlight.simulate.clip.film import Film, shoot_times
from fanlight.simulate.clip.picture import screen_of
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.clip.shifted import generator_of
from fanlight.simulate.clip.spectral_clip import motion_before, spectral_film, spectral_screen_of, strip_ms
from fanlight.simulate.faults.doppler_faults import DOPPLER_FAULTS, apply_doppler
from fanlight.simulate.faults.fault import Fault
from fanlight.simulate.machine.console import GreyMap
from fanlight.simulate.screen.ecg_trace import r_wave_times_ms
from fanlight.simulate.screen.screen_facts import ScreenFacts
from fanlight.simulate.screen.screen_layout import Layout as ScreenLayout
from fanlight.simulate.screen.screen_spectral import SpectralScreen
from fanlight.simulate.screen.screen_truth import Screen
from fanlight.simulate.steady.doppler_aim import FlowPeak, ModelFlow, model_flow
from fanlight.simulate.steady.steady import steady_setting
from fanlight.simulate.steady.steady_doppler import steady_doppler
from fanlight.study import Mode, Region, Species, Valve

# Where each valve's flow is met by a spectrum, as the plans of the house ask for it.
SPECTRA_AT = {
    Valve.MITRAL: "left_apical_four_chamber",
    Valve.AORTIC: "left_apical_five_chamber",
    Valve.TRICUSPID: "left_cranial_long_axis_right_inflow",
    Valve.PULMONIC: "right_parasternal_short_axis_pulmonary_artery",
}
COLOUR_AT = SPECTRA_AT | {Valve.MITRAL: "right_parasternal_long_axis_four_chamber"}
_AFTER_MS = 50.0
# How many of each mode one animal gives to tell modes from, where its flow is met.
_TOLD = {Mode.PULSED_WAVE: 2, Mode.CONTINUOUS_WAVE: 2, Mode.TISSUE_DOPPLER: 1, Mode.COLOUR: 1}
_PICTURES = (
    ("right_parasternal_short_axis_chordae", Mode.M_MODE),
    ("right_parasternal_long_axis_four_chamber", Mode.TWO_D),
)
_HEARTS = (
    HeartClass.NORMAL, HeartClass.NORMAL, HeartClass.MITRAL_DISEASE, HeartClass.THICK_WALLS, HeartClass.RIGHT_OVERLOAD,
)  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False)
class Case:
    """One animal and what it is scanned with."""

    seed: int
    flow: ModelFlow
    layout: ScreenLayout

    @property
    def animal(self) -> Animal:
        """Who is scanned."""
        return self.flow.animal


@dataclass(frozen=True, kw_only=True, eq=False)
class MadeRung:
    """A still or clip as the console stores it, and what is true of it."""

    mode: Mode
    valve: Valve | None
    pixels: NDArray[np.uint8]  # (frame, row, col, 3)
    regions: tuple[Region, ...]
    screen: Screen | SpectralScreen
    rr_ms: float
    r_times_ms: tuple[float, ...]  # of the QRS onsets, from the first frame, with which a strip ends
    clip: DopplerClip | None  # None: a picture or an M-mode
    steady: DopplerClip | None
    peak: FlowPeak | None
    heard: FlowPeak | None
    fault: Fault | None


def draw_case(seed: int) -> Case:
    """Draw an animal, its blood and its console; a seed of ring A."""
    rng = np.random.default_rng([seed, 77])
    cat = rng.random() < 0.3
    species = Species.CAT if cat else Species.DOG
    weight = float(rng.uniform(2.8, 6.5) if cat else np.exp(rng.uniform(np.log(4), np.log(45))))
    heart = _HEARTS[int(rng.integers(len(_HEARTS)))]
    animal = draw_animal(species=species, weight_kg=weight, heart=heart, chest=Chest.AVERAGE, seed=seed)
    generator = generator_of(Ring.A, species, weight, rng)
    return Case(seed=seed, flow=model_flow(animal, draw_circulation(animal, rng)), layout=generator.layout)


def steady_rung(case: Case, view: str, valve: Valve, mode: Mode) -> DopplerClip:
    """Return a rung as a steady hand sets it; ValueError where the flow is not met in this animal."""
    setting = steady_setting(case.animal, view)
    sought = sought_at(case.flow.body.circulation, valve, mode)
    if mode is not Mode.COLOUR:
        setting = case.flow.tilted(setting, valve, sought, mode)
    return DopplerClip(clip=setting, doppler=steady_doppler(case.flow, setting, valve, mode, sought))


def make_rung(
    case: Case, steady: DopplerClip, rng: np.random.Generator, fault: Fault | None = None, *, has_ecg: bool = True
) -> MadeRung:
    """Make a spectrum or a short colour clip, with a fault in it or none.

    Raises
    ------
    ValueError
        If the fault has no room in this picture.
    """
    clip = steady if fault is None else apply_doppler(fault, steady, case.flow)
    setting = replace(clip.clip, recording=replace(clip.clip.recording, has_ecg=has_ecg))
    clip = replace(clip, clip=setting)
    is_spectral = clip.doppler.is_spectral
    screen, film = (_spectrum if is_spectral else _colour)(case, setting, clip, rng)
    return MadeRung(
        mode=clip.doppler.mode, valve=clip.doppler.valve, pixels=compressed(screen.frames, 90), regions=screen.regions,
        screen=screen, rr_ms=film.rr_ms,
        r_times_ms=_r_times_ms(case, film), clip=clip, steady=steady, fault=fault,
        peak=None if not is_spectral or clip.doppler.mode is Mode.TISSUE_DOPPLER
        else case.flow.fastest(steady.clip, clip.doppler.valve, clip.doppler.sought, clip.doppler.mode),
        heard=case.flow.heard(clip.clip, clip.doppler.spectral) if is_spectral else None,
    )  # fmt: skip


def make_picture(case: Case, view: str, mode: Mode, rng: np.random.Generator) -> MadeRung:
    """Make a 2-D clip of eight pictures or a still of an M-mode."""
    setting = steady_setting(case.animal, view, mode=mode)
    if mode is Mode.M_MODE:
        setting = replace(setting, recording=replace(setting.recording, is_still=True))
        film = shoot_times(case.animal, setting, start_ms=300.0)
    else:
        film = _first(shoot_times(case.animal, setting, start_ms=300.0))
    screen = screen_of(case.animal, setting, film, case.layout, _facts(setting, film), rng)
    return MadeRung(
        mode=mode, valve=None, pixels=compressed(screen.frames, 90), regions=screen.regions, screen=screen,
        rr_ms=film.rr_ms, r_times_ms=_r_times_ms(case, film), clip=None, steady=None, peak=None, heard=None, fault=None,
    )  # fmt: skip


def drawn_fault(clip: DopplerClip, animal: Animal, rng: np.random.Generator) -> Fault | None:
    """Draw a Doppler fault of any grade that fits; None in one of three."""
    if rng.random() < 1 / 3:
        return None
    kinds = [kind for kind in DOPPLER_FAULTS.values() if kind.fits(clip)]
    return kinds[int(rng.integers(len(kinds)))].make(int(rng.integers(1, 6)), animal, rng)


def varied(clip: DopplerClip, rng: np.random.Generator) -> DopplerClip:
    """Return a spectrum as another console and another hand would show it: grey map, reject, sweep, size, picture."""
    machine = replace(
        clip.doppler.spectral, grey_map=tuple(GreyMap)[int(rng.integers(len(GreyMap)))],
        gain_db=float(rng.uniform(-5, 6)), dynamic_range_db=float(rng.uniform(32, 55)),
        reject_fraction=float(rng.uniform(0, 0.2)), sweep_mm_s=float(rng.choice([66.0, 100.0, 100.0, 150.0])),
    )  # fmt: skip
    return replace(
        clip, doppler=replace(clip.doppler, machine=machine, has_guide=bool(rng.random() < 0.8)),
        clip=replace(
            clip.clip, recording=replace(clip.clip.recording, scale_ratio=float(rng.choice([1.0, 1.0, 0.75, 1.3])))
        ),
    )  # fmt: skip


def rungs_to_tell(seed: int) -> Iterator[MadeRung]:
    """Make some rungs of one animal as its console, its hand and chance would have them, and one picture or M-mode."""
    case, rng = draw_case(seed), np.random.default_rng([seed, 5])
    by_mode: dict[Mode, list[DopplerClip]] = {}
    for _, mode, clip in rungs_of(case, tuple(_TOLD)):
        by_mode.setdefault(mode, []).append(clip)
    for mode, n in _TOLD.items():
        steady = by_mode.get(mode, [])
        for index in rng.permutation(len(steady))[:n]:
            clip = varied(steady[int(index)], rng) if mode is not Mode.COLOUR else steady[int(index)]
            fault = drawn_fault(clip, case.animal, rng)
            if fault is not None and fault.key == "spectral_sweep_slow":
                fault = None  # four times as long a strip to make, and as easily told
            has_ecg = bool(rng.random() < 0.85)
            with contextlib.suppress(ValueError):  # no room for this fault
                yield make_rung(case, clip, rng, fault, has_ecg=has_ecg)
    view, mode = _PICTURES[seed % 2]
    yield make_picture(case, view, mode, rng)


def rungs_of(case: Case, modes: tuple[Mode, ...]) -> Iterator[tuple[Valve, Mode, DopplerClip]]:
    """Yield what a steady hand can store of this animal, valve by valve."""
    for mode in modes:
        for valve, view in (COLOUR_AT if mode is Mode.COLOUR else SPECTRA_AT).items():
            if mode is Mode.TISSUE_DOPPLER and valve is not Valve.MITRAL:
                continue
            try:
                yield valve, mode, steady_rung(case, view, valve, mode)
            except ValueError:
                continue  # not met in this animal


def compressed(frames: NDArray[np.uint8], quality: int) -> NDArray[np.uint8]:
    """Return frames as a JPEG export leaves them."""
    options = [cv2.IMWRITE_JPEG_QUALITY, quality]
    out = []
    for frame in frames:
        _, code = cv2.imencode(".jpg", frame[..., ::-1] if frame.ndim == 3 else frame, options)
        back = cv2.imdecode(code, cv2.IMREAD_COLOR)
        assert back is not None
        out.append(back[..., ::-1])
    return np.ascontiguousarray(np.stack(out), np.uint8)


def _spectrum(
    case: Case, setting: ClipSetting, clip: DopplerClip, rng: np.random.Generator
) -> tuple[SpectralScreen, Film]:
    spectral, has_guide = clip.doppler.spectral, clip.doppler.has_guide
    setting = replace(setting, recording=replace(setting.recording, is_still=True))
    film = spectral_film(case.animal, setting, start_ms=300.0)
    span_ms = strip_ms(case.layout, spectral, has_guide=has_guide)
    motion = motion_before(case.animal, case.flow.body.circulation, film, span_ms)
    return spectral_screen_of(
        case.animal, setting, spectral, motion, film, case.layout, _facts(setting, film), rng, has_guide=has_guide
    ), film  # fmt: skip


def _colour(case: Case, setting: ClipSetting, clip: DopplerClip, rng: np.random.Generator) -> tuple[Screen, Film]:
    film = _first(colour_film(case.animal, setting, clip.doppler.colour, start_ms=300.0))
    body = moving_body(
        case.animal, case.flow.body.circulation, film.beats, start_ms=film.start_ms,
        duration_ms=film.times_ms[-1] + _AFTER_MS,
    )  # fmt: skip
    return colour_screen_of(
        case.animal, setting, clip.doppler.colour, body, film, case.layout, _facts(setting, film), rng
    ).screen, film  # fmt: skip


def _first(film: Film, n: int = 8) -> Film:
    return replace(film, states=film.states[:n], times_ms=film.times_ms[:n])


def _r_times_ms(case: Case, film: Film) -> tuple[float, ...]:
    return tuple(t - film.start_ms for t in r_wave_times_ms(case.animal.rhythm, film.beats))


def _facts(setting: ClipSetting, film: Film) -> ScreenFacts:
    console, recording = setting.console, setting.recording
    return ScreenFacts(
        depth_mm=console.depth_mm, frequency_mhz=console.frequency_mhz, gain_db=console.gain_db,
        dynamic_range_db=console.dynamic_range_db, frame_rate_hz=film.rate_hz, harmonics=console.is_harmonic,
        focus_mm=min(console.focus_mm, console.depth_mm),
        heart_rate_bpm=round(60_000.0 / film.rr_ms) if recording.has_ecg else None,
        sweep_mm_s=recording.sweep_mm_s if setting.mode is Mode.M_MODE else None, practice="Lindenhof", animal="Rolla",
        owner="Tamsel", case_number="4711", at=datetime(2026, 3, 4, 10, 20), view="",
    )  # fmt: skip
