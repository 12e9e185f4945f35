"""Doppler clips as pictures to look at: whole screens of spectra, the fullest moment of a colour clip and its time."""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import draw_animal
from fanlight.heart.blood.circulation import draw_circulation
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.simulate.clip.clip_setting import Recording
from fanlight.simulate.clip.doppler_setting import DopplerClip, sought_at
from fanlight.simulate.clip.ring import Ring, ring_of
from fanlight.simulate.clip.shifted import Generator, generator_of
from fanlight.simulate.screen.screen_colour import ColourScreen
from fanlight.simulate.screen.screen_layout import Layout
from fanlight.simulate.steady.doppler_aim import model_flow
from fanlight.simulate.steady.steady import steady_setting
from fanlight.simulate.steady.steady_doppler import steady_doppler
from fanlight.study import Mode, Species, Valve
from measure._criterion_clips import Subject
from measure._doppler_bench import BEATS, Bench, Rung
from measure._doppler_clips import Camera

Image = NDArray[np.uint8]
START_MS = 3000.0  # of the clips in the animal's rhythm
TIME_PX = 90  # height of the strip that shows a colour clip over time
_GAP_PX, _WORDS_PX = 4, 14
_COLOURED = 40  # from the largest to the smallest of red, green and blue: more is colour


@cache
def bench_of(seed: int, species: Species, weight_kg: float, heart: HeartClass, layout: Layout) -> Bench:
    """Return an animal of ring A with its blood, before the usual machine with this screen."""
    ring_of(seed, Ring.A)
    animal = draw_animal(species=species, weight_kg=weight_kg, heart=heart, chest=Chest.AVERAGE, seed=seed)
    drawn = generator_of(Ring.A, species, weight_kg, np.random.default_rng(seed))
    generator = Generator(ring=Ring.A, probe=drawn.probe, console=drawn.console, layout=layout)
    subject = Subject(seed=seed, ring=Ring.A, animal=animal, generator=generator, start_ms=START_MS)
    circulation = draw_circulation(animal, np.random.default_rng(seed))
    return Bench(subject=subject, circulation=circulation, flow=model_flow(animal, circulation))


def rung_at(bench: Bench, view: str, valve: Valve, mode: Mode) -> Rung:
    """Return a rung as a steady hand sets it.

    Raises
    ------
    ValueError
        If the flow is not met in this view.
    """
    generator = bench.subject.generator
    recording = Recording(is_still=mode is not Mode.COLOUR, beats=BEATS)
    setting = steady_setting(
        bench.subject.animal, view, probe=generator.probe, console=generator.console, recording=recording
    )
    sought, peak = sought_at(bench.circulation, valve, mode), None
    if mode in (Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE):
        setting = bench.flow.tilted(setting, valve, sought, mode)
        peak = bench.flow.fastest(setting, valve, sought, mode)
    doppler = steady_doppler(bench.flow, setting, valve, mode, sought)
    steady = DopplerClip(clip=setting, doppler=doppler)
    return Rung(bench=bench, index=0, view=view, steady=steady, peak=peak)


def picture_of(camera: Camera, clip: DopplerClip, width_px: int, head: str) -> Image:
    """Return a clip at this width, RGB: a spectrum's screen, or a colour clip's fullest frame with its time below."""
    if clip.doppler.is_spectral:
        screen, _ = camera.spectrum(clip)
        return _headed(at_width(rgb(screen.frames[0]), width_px), head)
    whole, film = camera.colour(clip)
    frame = at_width(whole.screen.frames[fullest(whole)], width_px)
    return _headed(below([frame, time_strip(whole, film.times_ms, width_px)]), head)


def fullest(whole: ColourScreen) -> int:
    """Return the frame with the most colour in its box."""
    box = whole.colour.box
    part = whole.screen.frames[:, box.row0 : box.row1, box.col0 : box.col1].astype(np.int16)
    return int(np.argmax((part.max(axis=3) - part.min(axis=3) > _COLOURED).mean(axis=(1, 2))))


def time_strip(whole: ColourScreen, times_ms: tuple[float, ...], width_px: int) -> Image:
    """Return the middle column of the box over the clip's time: each step is a picture."""
    box = whole.colour.box
    line = whole.screen.frames[:, box.row0 : box.row1, (box.col0 + box.col1) // 2]  # (frame, row, 3)
    at_ms = np.linspace(0, times_ms[-1], width_px, endpoint=False)
    frame = np.searchsorted(np.asarray(times_ms), at_ms, side="right") - 1
    strip = np.ascontiguousarray(line[frame].transpose(1, 0, 2))
    return np.asarray(cv2.resize(strip, (width_px, TIME_PX), interpolation=cv2.INTER_AREA), np.uint8)


def rgb(frame: Image) -> Image:
    """Return a frame with three channels."""
    return frame if frame.ndim == 3 else np.repeat(frame[..., None], 3, axis=2)


def at_width(frame: Image, width_px: int) -> Image:
    """Return a frame at this width."""
    size = (width_px, round(frame.shape[0] * width_px / frame.shape[1]))
    kind = cv2.INTER_AREA if frame.shape[1] > width_px else cv2.INTER_CUBIC
    return np.asarray(cv2.resize(frame, size, interpolation=kind), np.uint8)


def below(images: list[Image]) -> Image:
    """Return pictures of one width below each other."""
    gap = np.zeros((_GAP_PX, images[0].shape[1], 3), np.uint8)
    return np.vstack([part for image in images for part in (image, gap)][:-1])


def beside(images: list[Image]) -> Image:
    """Return pictures side by side, each filled up with black below."""
    rows = max(image.shape[0] for image in images)
    filled = [np.pad(image, ((0, rows - image.shape[0]), (0, _GAP_PX), (0, 0))) for image in images]
    return np.hstack(filled)[:, :-_GAP_PX]


def _headed(image: Image, head: str) -> Image:
    if not head:
        return image
    words = np.zeros((_WORDS_PX, image.shape[1], 3), np.uint8)
    cv2.putText(words, head, (4, 11), cv2.FONT_HERSHEY_SIMPLEX, 0.38, (190, 190, 190), 1, cv2.LINE_AA)
    return below([words, image])
