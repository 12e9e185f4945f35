"""Make each picture of the gallery: views, hearts, faults and screens, from seeds of ring A."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal, draw_animal
from fanlight.heart.cycle import Still
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.reference.load import load_house
from fanlight.reference.views import read_views
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.clip.film import shoot_times
from fanlight.simulate.clip.picture import Take, screen_of, take_2d
from fanlight.simulate.faults.fault import Fault, FaultGroup, FaultKind
from fanlight.simulate.faults.faults import apply, make
from fanlight.simulate.screen.screen_facts import ScreenFacts
from fanlight.simulate.screen.screen_layout import Layout
from fanlight.simulate.screen.screen_layouts import LAYOUTS
from fanlight.simulate.steady.steady import steady_setting
from fanlight.simulate.visit.practice import draw_facts
from fanlight.study import Mode, Species
from measure._gallery_words import FAULT_WORDS, LONG, MITRAL
from measure._panel import (
    Grey,
    below,
    beside,
    clip_strip,
    film_of_moments,
    note_panel,
    sector_panel,
    take_moments,
)

DOG_SEED, CAT_SEED = 1, 2
DOG_KG, CAT_KG = 12.0, 4.5
STRENGTHS = (1, 3, 5)
PANEL_PX, SMALL_PX, TIME_PX, CROP_PX = 300, 240, 110, 230
CLIP_MS = 1800.0  # shown of the strips in time
BOTH = (Still.END_DIASTOLE, Still.END_SYSTOLE)
MOMENTS = {MITRAL: (Still.EARLY_FILLING, Still.END_SYSTOLE)}  # the leaflets are at this level only while they are open
HEADS = {Still.END_DIASTOLE: "end-diastole", Still.END_SYSTOLE: "end-systole", Still.EARLY_FILLING: "early filling"}
# Faults that no single picture shows: what stands in their columns.
IN_TIME = ("few_beats", "frame_rate_low", "persistence_heavy")
DRIFTS = ("drift_during_clip", "sweep_as_clip")
EXPORTS = ("jpeg_strong", "rescaled_export")
ON_SCREEN = ("wrong_label", "no_ecg")
Image = NDArray[np.uint8]


@cache
def animal_of(species: Species, heart: HeartClass = HeartClass.NORMAL) -> Animal:
    """Return the gallery's dog or cat."""
    is_dog = species is Species.DOG
    return draw_animal(
        species=species, weight_kg=DOG_KG if is_dog else CAT_KG, heart=heart, chest=Chest.AVERAGE,
        seed=DOG_SEED if is_dog else CAT_SEED,
    )  # fmt: skip


@cache
def titles() -> dict[str, str]:
    """Return the titles of the views."""
    return {key: view.title for key, view in read_views(load_house()).items()}


@cache
def standard(view: str, species: Species, heart: HeartClass = HeartClass.NORMAL) -> ClipSetting:
    """Return what a steady hand sets."""
    return steady_setting(animal_of(species, heart), view)


def both_moments(
    view: str, species: Species, heart: HeartClass = HeartClass.NORMAL, px: int = PANEL_PX, depth_mm: float = 0.0
) -> Image:
    """Return a view at end-diastole and at end-systole, to this depth at least."""
    setting = standard(view, species, heart)
    if depth_mm > setting.console.depth_mm:
        setting = replace(setting, console=replace(setting.console, depth_mm=depth_mm))
    moments = MOMENTS.get(view, BOTH)
    take = take_moments(animal_of(species, heart), setting, moments, DOG_SEED)
    return beside(
        [sector_panel(take, setting, i, rows=px, cols=px, head=HEADS[moment]) for i, moment in enumerate(moments)]
    )


def class_sheet(heart: HeartClass, view: str) -> Image:
    """Return the normal heart and another in one view, both moments."""
    kinds = (HeartClass.NORMAL, heart)
    depth_mm = max(standard(view, Species.DOG, kind).console.depth_mm for kind in kinds)  # one scale for both
    return beside([both_moments(view, Species.DOG, kind, SMALL_PX, depth_mm) for kind in kinds])


def faulty(kind: FaultKind, strength: int, setting: ClipSetting) -> tuple[Fault, ClipSetting]:
    """Return the fault and the setting with it; ValueError where no skin is there."""
    animal = animal_of(Species.DOG)
    fault = make(kind.key, strength, animal, np.random.default_rng(DOG_SEED))
    return fault, apply(fault, setting, animal)


def columns(kind: FaultKind) -> list[tuple[str, ClipSetting | str]]:
    """Return head and setting of each column: without the fault, then its grades; words where it cannot be made."""
    words = FAULT_WORDS[kind.key]
    base = standard(words.view, Species.DOG)
    if kind.group is FaultGroup.M_MODE:
        base = steady_setting(animal_of(Species.DOG), words.view, mode=Mode.M_MODE)
    out: list[tuple[str, ClipSetting | str]] = [("good", base)]
    for strength in (5,) if len(set(kind.steps)) == 1 else STRENGTHS:
        try:
            fault, setting = faulty(kind, strength, base)
        except ValueError as error:
            out.append((f"grade {strength}", f"grade {strength}: not possible on this dog: {error}"))
        else:
            out.append((f"{strength}: {words.size.format(a=fault.amount)}", setting))
    return out


def fault_sheet(kind: FaultKind) -> Image:
    """Return one fault at its grades beside the same clip without it."""
    if kind.group is FaultGroup.M_MODE:
        draw: Callable[[ClipSetting, str], Image] = m_mode_column
    elif kind.key in IN_TIME:
        draw = time_column
    elif kind.key in DRIFTS:
        draw = drift_column
    elif kind.key in EXPORTS:
        draw = export_column
    elif kind.key in ON_SCREEN:
        draw = screen_column
    else:
        draw = still_column
    return beside(
        [
            note_panel(setting, rows=SMALL_PX, cols=SMALL_PX) if isinstance(setting, str) else draw(setting, head)
            for head, setting in columns(kind)
        ]
    )


def still_column(setting: ClipSetting, head: str) -> Grey:
    take = take_moments(animal_of(Species.DOG), setting, (Still.END_DIASTOLE,), DOG_SEED)
    return sector_panel(take, setting, 0, rows=SMALL_PX, cols=SMALL_PX, head=plain(head))


def clip_of(setting: ClipSetting) -> Take:
    animal = animal_of(Species.DOG)
    calm_ms = film_of_moments(animal, setting, (Still.END_DIASTOLE,)).times_ms[0]
    film = shoot_times(animal, setting, start_ms=calm_ms)
    return take_2d(animal, setting, film, np.random.default_rng(DOG_SEED))


def time_column(setting: ClipSetting, head: str) -> Grey:
    take = clip_of(setting)
    middle = len(take.beams.levels) // 2
    return below(
        [
            sector_panel(take, setting, middle, rows=SMALL_PX, cols=SMALL_PX, head=plain(head)),
            clip_strip(take, CLIP_MS, rows=TIME_PX, cols=SMALL_PX),
        ]
    )


def drift_column(setting: ClipSetting, head: str) -> Grey:
    take = clip_of(setting)
    heads = (plain(head), "last picture")
    return below(
        [
            sector_panel(take, setting, i, rows=SMALL_PX, cols=SMALL_PX, head=h)
            for i, h in zip((0, -1), heads, strict=True)
        ]
    )


def export_column(setting: ClipSetting, head: str) -> Image:
    """Return a piece of the picture at the export's own pixels: a smaller copy would hide what export does."""
    screen = whole_screen(animal_of(Species.DOG), setting, LAYOUTS["right_column"], is_still=True)
    frame = screen[..., 0]
    if setting.recording.jpeg_quality is not None:
        coded = cv2.imencode(".jpg", frame, [cv2.IMWRITE_JPEG_QUALITY, setting.recording.jpeg_quality])[1]
        frame = cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE)
    row, col = (round(n * share) for n, share in zip(frame.shape, (0.45, 0.4), strict=True))
    half = CROP_PX // 2
    piece = np.asarray(frame[row - half : row + half, col - half : col + half], np.uint8)
    return below([note_panel(plain(head), rows=36, cols=2 * half), piece])


def facts_of(setting: ClipSetting, rate_hz: float, bpm: float) -> ScreenFacts:
    """Return what the screen says."""
    visit = draw_facts(seed=DOG_SEED, species=Species.DOG, weight_kg=DOG_KG)
    console = setting.console
    return ScreenFacts(
        depth_mm=console.depth_mm, frequency_mhz=console.frequency_mhz, gain_db=console.gain_db,
        dynamic_range_db=console.dynamic_range_db, frame_rate_hz=rate_hz, harmonics=console.is_harmonic,
        focus_mm=min(console.focus_mm, console.depth_mm),
        heart_rate_bpm=round(bpm) if setting.recording.has_ecg else None,
        sweep_mm_s=setting.recording.sweep_mm_s if setting.mode is Mode.M_MODE else None,
        practice=visit.practice.name, animal=visit.patient.animal_name, owner=visit.patient.responsible.family,
        case_number=visit.patient.case_number, at=visit.began_at, view=titles()[setting.said_view],
    )  # fmt: skip


def whole_screen(
    animal: Animal, setting: ClipSetting, layout: Layout, *, is_still: bool = False, labelled: bool = False
) -> Image:
    """Return a clip's picture at end-systole as the console shows it, RGB."""
    one = replace(setting, recording=replace(setting.recording, is_still=is_still))
    film = film_of_moments(animal, one, (Still.END_SYSTOLE,))
    end = film.times_ms[0]  # the film's clock is moved to this picture: trace and strip run up to it
    last = replace(
        film, times_ms=(0.0,), states=(replace(film.states[0], time_ms=0.0),), start_ms=film.start_ms + end,
        state_at=lambda t: film.state_at(t + end),
    )  # fmt: skip
    facts = facts_of(one, film.rate_hz, animal.rhythm.rate_bpm)
    rng = np.random.default_rng(DOG_SEED)
    return np.asarray(screen_of(animal, one, last, layout, facts, rng, labelled=labelled).frames[0], np.uint8)


def screen_column(setting: ClipSetting, _: str) -> Image:
    return whole_screen(animal_of(Species.DOG), setting, LAYOUTS["right_column"], labelled=True)


def layout_sheet(layout: Layout) -> Image:
    """Return a console's screen."""
    screen = whole_screen(animal_of(Species.DOG), standard(LONG, Species.DOG), layout)
    return smaller(screen, 640)


def m_mode_sheet(view: str, layout: Layout) -> Image:
    """Return an M-mode as its screen shows it."""
    setting = steady_setting(animal_of(Species.DOG), view, mode=Mode.M_MODE)
    return smaller(whole_screen(animal_of(Species.DOG), setting, layout), 640)


def m_mode_column(setting: ClipSetting, head: str) -> Image:
    screen = whole_screen(animal_of(Species.DOG), setting, LAYOUTS["right_column"])
    return below([note_panel(plain(head), rows=36, cols=screen.shape[1] // 2), smaller(screen[..., 0], 320)])


def smaller(image: Image, width_px: int) -> Image:
    """Return the image at this width at most."""
    if image.shape[1] <= width_px:
        return image
    size = (width_px, round(image.shape[0] * width_px / image.shape[1]))
    return np.asarray(cv2.resize(image, size, interpolation=cv2.INTER_AREA), np.uint8)


def plain(text: str) -> str:
    """Return words in the letters that OpenCV has."""
    return text.replace("°", " deg").replace("×", "x")
