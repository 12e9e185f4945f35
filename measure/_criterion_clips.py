"""Clips of simulated animals for the measurement of the criteria: a subject, a good clip, the same with a fault.

A subject is an animal with a machine. It is scanned at the true standard pose of a view with settings that a steady
hand would choose, spread a little; then a fault of `fanlight.simulate.faults.faults` is put on, nothing else is
changed. What moves is sliced once a view and remembered, since most faults leave the plane as it is.
"""

from __future__ import annotations

import hashlib
import os
import pickle
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext, Family
from fanlight.critique.families import FAMILIES
from fanlight.frames.clip_time import ClipTimer
from fanlight.frames.polar import to_beams, to_grey
from fanlight.heart.animal import Animal, draw_animal, sample
from fanlight.heart.cycle import RESTING
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.heart.rhythm import EXPIRATION_FRACTION, INSPIRATION_FRACTION
from fanlight.heart.sampled import Sampled
from fanlight.heart.tissue import Tissue
from fanlight.reference.criteria import read_family
from fanlight.reference.load import load_house
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.clip.film import Film, shoot_times
from fanlight.simulate.clip.obstacle import cover
from fanlight.simulate.clip.picture import ecg_of, wall_mm
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.clip.shifted import Generator, generator_of
from fanlight.simulate.machine import animal_scene
from fanlight.simulate.machine.b_mode import render
from fanlight.simulate.machine.beams import Beams, line_geometry
from fanlight.simulate.machine.scan_convert import scan_convert
from fanlight.simulate.machine.scene import Scene
from fanlight.simulate.screen.export import exported
from fanlight.simulate.screen.screen import paint, place_sector
from fanlight.simulate.screen.screen_facts import ScreenFacts
from fanlight.simulate.screen.screen_truth import Screen
from fanlight.simulate.steady.steady import steady_setting
from fanlight.study import (
    BeatSource,
    Clip,
    ClipTags,
    ClipTime,
    Finding,
    FrameTimes,
    Layout,
    Mode,
    ModeReading,
    Patient,
    PictureChunk,
    Scale,
    ScaleSource,
    Species,
    TimeSource,
)

HOUSE = load_house()

FRAMES_A_BEAT = 11  # of a one-beat clip: enough for what is judged over time, see FEWEST_FRAMES of the families
# Lines and samples of a picture, at most: coarser than a console's, and still finer than speckle in the far half.
MOST_LINES, MOST_SAMPLES = 88, 336
VIEWS = (
    "right_parasternal_long_axis_four_chamber",
    "right_parasternal_long_axis_outflow",
    "right_parasternal_short_axis_apex",
    "right_parasternal_short_axis_papillary_muscles",
    "right_parasternal_short_axis_chordae",
    "right_parasternal_short_axis_mitral_valve",
    "right_parasternal_short_axis_aorta",
    "right_parasternal_short_axis_pulmonary_artery",
    "left_apical_four_chamber",
    "left_apical_four_chamber_right_heart",
    "left_apical_five_chamber",
    "left_apical_two_chamber",
    "left_apical_three_chamber",
    "left_cranial_long_axis_aorta",
    "left_cranial_long_axis_right_inflow",
    "left_cranial_long_axis_right_auricle",
    "left_cranial_long_axis_right_outflow",
    "left_cranial_short_axis",
    "subcostal_outflow",
)
HEARTS = tuple(HeartClass)
STOPS_SOUND = (Tissue.LUNG, Tissue.RIB, Tissue.STERNUM)
# A view is passed over where the animal's own lung or ribs cover more than this share of the width before this share
# of the depth at some time in the clip: the picture would not be a good one, and the criteria would be right to say so.
MOST_COVERED, COVER_TO = 0.04, 0.4
COVER_DEPTHS, COVER_LINES = 48, 48


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Subject:
    """An animal on the table, and the machine beside it."""

    seed: int
    ring: Ring
    animal: Animal
    generator: Generator
    start_ms: float  # of all clips: a steady hand stores when the animal has breathed out


def draw_subject(seed: int, ring: Ring) -> Subject:
    """Return the subject of a seed: classes of heart in turn, all else at random."""
    rng = np.random.default_rng([seed, 7])
    species = Species.CAT if rng.random() < 0.2 else Species.DOG
    low, high = (2.5, 6.5) if species is Species.CAT else (2.5, 48.0)
    weight_kg = float(np.exp(rng.uniform(np.log(low), np.log(high))))
    chest = Chest.AVERAGE if species is Species.CAT else Chest(str(rng.choice([c.value for c in Chest])))
    generator = generator_of(ring, species, weight_kg, rng)
    animal = draw_animal(species=species, weight_kg=weight_kg, heart=HEARTS[seed % len(HEARTS)], chest=chest, seed=seed)
    rhythm = animal.rhythm
    breath_ms = 60_000.0 / rhythm.breaths_per_min
    out_ms = rhythm.breath_start_ms + (INSPIRATION_FRACTION + EXPIRATION_FRACTION) * breath_ms
    return Subject(
        seed=seed, ring=ring, animal=generator.shape(animal), generator=generator,
        start_ms=out_ms % breath_ms + breath_ms * float(rng.integers(1, 5)),
    )  # fmt: skip


def views_of(seed: int) -> tuple[str, ...]:
    """Return all views in an order of this seed, so that over many seeds all come early equally often."""
    step = 6  # no divisor of the number of views: the first three lie in different windows
    return tuple(VIEWS[(seed + k * step) % len(VIEWS)] for k in range(len(VIEWS)))


def good_setting(subject: Subject, view: str) -> ClipSetting:
    """Return a setting without fault: a steady hand's, spread as steady hands differ."""
    rng = np.random.default_rng([subject.seed, VIEWS.index(view), 11])
    setting = steady_setting(subject.animal, view, probe=subject.generator.probe, console=subject.generator.console)
    console = setting.console
    # Engineering judgement for all spreads: what no mentor would remark on.
    depth = console.depth_mm * float(rng.uniform(0.98, 1.08))
    console = replace(
        console,
        depth_mm=depth,
        focus_mm=console.focus_mm * float(rng.uniform(0.9, 1.12)),
        width_deg=min(console.width_deg * float(rng.uniform(0.88, 1.02)), setting.probe.widest_deg),
        frequency_mhz=float(
            np.clip(console.frequency_mhz * rng.uniform(0.9, 1.12), setting.probe.low_mhz, setting.probe.high_mhz)
        ),
        gain_db=console.gain_db + float(rng.normal(0, 1.5)),
        tgc_db=tuple(float(v) for v in rng.normal(0, 0.7, len(console.tgc_db))),
        n_lines=min(console.n_lines, MOST_LINES),
        n_samples=min(console.n_samples, MOST_SAMPLES),
    )
    return replace(setting, console=console)


def covered_fraction(animal: Animal, setting: ClipSetting, breath: float) -> float:
    """Return the true share of the picture's width in which the animal's own lung or ribs stop the beam early."""
    lines = line_geometry(setting.probe, setting.console)
    depth = (np.arange(COVER_DEPTHS) + 0.5) / COVER_DEPTHS * COVER_TO * lines.depth_mm
    angle = np.radians(np.linspace(lines.left_deg, lines.right_deg, COVER_LINES))
    radius = (depth + lines.apex_mm)[:, None]
    points = np.stack(
        [radius * np.sin(angle), np.zeros((COVER_DEPTHS, COVER_LINES)), radius * np.cos(angle) - lines.apex_mm], axis=-1
    )
    x, y, z = np.moveaxis(setting.pose.to_patient(points), -1, 0).astype(np.float32)
    tissue = np.asarray(sample(animal, replace(RESTING, breath=breath), x, y, z).tissue)
    return float(np.isin(tissue, [int(t) for t in STOPS_SOUND]).any(axis=0).mean())


class BeamStore:
    """Pictures that were formed before, in a folder: a run that was cut off goes on, a changed criterion asks again."""

    def __init__(self, folder: Path | None) -> None:
        self._folder = folder
        if folder is not None:
            folder.mkdir(parents=True, exist_ok=True)

    def get(self, key: str, make: Callable[[], Beams]) -> Beams:
        """Return the picture of this key, made where it is not there."""
        if self._folder is None:
            return make()
        path = self._folder / f"{key}.pickle"
        if path.is_file():
            beams = pickle.loads(path.read_bytes())  # written below, by this script
            assert isinstance(beams, Beams)
            return beams
        beams = make()
        part = path.with_suffix(f".part{os.getpid()}")
        part.write_bytes(pickle.dumps(beams, protocol=5))
        part.rename(path)
        return beams


class Remembered:
    """A scene that answers from memory when it is asked for the same points at the same moment again."""

    def __init__(self, scene: Scene) -> None:
        self._scene = scene
        self._moving: dict[tuple[Any, ...], Sampled] = {}
        self._still: dict[tuple[Any, ...], Sampled] = {}

    @property
    def scene(self) -> Scene:
        """The scene to hand to the machine."""
        return Scene(moving=self._look, still=self._rest)

    def _look(self, state: CycleState, x: Any, y: Any, z: Any) -> Sampled:
        key = (state.time_ms, _points_key(x, y, z))
        if key not in self._moving:
            self._moving[key] = self._scene.moving(state, x, y, z)
        return self._moving[key]

    def _rest(self, breath: float, x: Any, y: Any, z: Any) -> Sampled:
        key = (breath, _points_key(x, y, z))
        if key not in self._still:
            assert self._scene.still is not None
            self._still[key] = self._scene.still(breath, x, y, z)
        return self._still[key]


def _points_key(x: Any, y: Any, z: Any) -> tuple[Any, ...]:
    """What tells one set of points from another: the same grid at the same pose gives the same numbers."""
    digest = hashlib.blake2b(digest_size=16)
    for part in (x, y, z):
        digest.update(np.ascontiguousarray(part).tobytes())
    return x.shape, digest.digest()


class Stand:
    """A subject with the probe at one view: everything that its good and its faulty clips share."""

    def __init__(self, subject: Subject, view: str, store: BeamStore) -> None:
        self.subject = subject
        self.view = view
        self._store = store
        self.good = good_setting(subject, view)
        self._remembered = Remembered(animal_scene.scene_of(subject.animal))

    @cached_property
    def wall_mm(self) -> float:
        """Thickness of the chest wall under the probe."""
        return wall_mm(self.subject.animal, self.good.pose)

    def film(self, setting: ClipSetting, *, beats: float = 1.0, frames_a_beat: float = FRAMES_A_BEAT) -> Film:
        """Return the moments of a clip of so many beats, whatever the console would store."""
        animal = self.subject.animal
        short = replace(setting, recording=replace(setting.recording, beats=beats))
        rate_hz = frames_a_beat * animal.rhythm.rate_bpm / 60
        return shoot_times(animal, short, start_ms=self.subject.start_ms, rate_hz=rate_hz)

    def beams(self, setting: ClipSetting, film: Film, name: str) -> Beams:
        """Return the picture along its lines, from the store where it was made before; `name` is that of the clip."""
        key = f"{self.subject.ring.value}-{self.subject.seed}-{VIEWS.index(self.view)}-{name}"
        return self._store.get(key, lambda: self._formed(setting, film))

    def _formed(self, setting: ClipSetting, film: Film) -> Beams:
        scene = self._remembered.scene
        if setting.obstacles:
            lines = line_geometry(setting.probe, setting.console)
            scene = cover(scene, setting.obstacles, setting.pose, lines, self.wall_mm)
        return render(
            scene, film.pose_at if film.moves else setting.pose, setting.probe, setting.console, film.states,
            self.rng(), contact=setting.contact, table=self.subject.generator.table(),
        )  # fmt: skip

    def rng(self) -> np.random.Generator:
        """Return the stream of this stand: a fault changes the picture, not its speckle."""
        return np.random.default_rng([self.subject.seed, VIEWS.index(self.view), 13])

    def screen(self, setting: ClipSetting, film: Film, beams: Beams, *, colour: bool = False) -> Screen:
        """Return the clip as the console shows and exports it; an ECG is read from colours as well as lines."""
        lines = beams.geometry
        placed = place_sector(
            self.subject.generator.layout, left_deg=lines.left_deg, right_deg=lines.right_deg,
            face_radius_mm=lines.apex_mm, depth_mm=lines.depth_mm,
        )  # fmt: skip
        box, console = placed.box, setting.console
        facts = ScreenFacts(
            depth_mm=console.depth_mm, frequency_mhz=console.frequency_mhz, gain_db=console.gain_db,
            dynamic_range_db=console.dynamic_range_db, frame_rate_hz=film.rate_hz, harmonics=console.is_harmonic,
            focus_mm=console.focus_mm,
        )  # fmt: skip
        picture = scan_convert(beams, placed.sector_in_box, rows=box.height_px, cols=box.width_px)
        ecg = ecg_of(self.subject.animal, film, self.rng()) if setting.recording.has_ecg else None
        screen = paint(
            self.subject.generator.layout, picture, placed, facts, times_ms=film.times_ms, ecg=ecg, colour=colour
        )
        screen = exported(screen, setting.recording.scale_ratio)
        quality = setting.recording.jpeg_quality
        return screen if quality is None else replace(screen, frames=compressed(screen.frames, quality))

    def clip(self, setting: ClipSetting, film: Film, name: str) -> Screen:
        """Return the clip of this setting."""
        return self.screen(setting, film, self.beams(setting, film, name))

    def re_exported(self, setting: ClipSetting, film: Film) -> Screen:
        """Return the good clip as this setting exports it."""
        return self.screen(setting, film, self.beams(self.good, film, "good"))


def compressed(frames: NDArray[np.uint8], quality: int) -> NDArray[np.uint8]:
    """Return frames as a JPEG export of this quality leaves them."""
    options = [cv2.IMWRITE_JPEG_QUALITY, quality]
    coded = (cv2.imencode(".jpg", frame, options)[1] for frame in frames)
    return np.stack([np.asarray(cv2.imdecode(code, cv2.IMREAD_GRAYSCALE), np.uint8) for code in coded])


def family_of(name: str) -> Family:
    """Return a criterion family by its name."""
    return next(family for family in FAMILIES if family.name == name)


def judge(screen: Screen, film: Film, names: tuple[str, ...], *, reads_time: bool = False) -> dict[str, Finding]:
    """Show a clip to families as the engine does, with the true place and scale of the picture.

    Parameters
    ----------
    names : tuple of str
        Families.
    reads_time : bool
        Whether the beats are found in the clip as in a review; otherwise the true beat is given, since one beat alone
        has no period that could be found.
    """
    n, rows, cols = screen.frames.shape[:3]
    times = FrameTimes(times_ms=film.times_ms, source=TimeSource.FRAME_TIME)
    clip = Clip(
        key="simulated", number=1, name="simulated.dcm", container="DICOM", rows=rows, cols=cols, n_frames=n,
        is_colour=screen.frames.ndim == 4, times=times, tags=ClipTags(),
    )  # fmt: skip
    mm = screen.placed.mm_per_px
    layout = Layout(
        rows=rows, cols=cols, picture=screen.placed.sector, picture_confidence=0.95, picture_reason="simulated",
        scale=Scale(
            mm_per_row_px=mm, mm_per_col_px=mm, source=ScaleSource.REGION, uncertainty_fraction=0.01, witnesses=()
        ),
        scale_reason="simulated",
    )  # fmt: skip
    shared: dict[str, Any] = {}
    families = [family_of(name) for name in names]
    at_work = [
        family.start(
            ClipContext(
                clip=clip, patient=Patient(), layout=layout,
                mode=ModeReading(mode=Mode.TWO_D, probability=1.0, reasons=("simulated",)),
                criteria=read_family(HOUSE, family.name), shared=shared,
            )
        )
        for family in families
    ]  # fmt: skip
    timer = ClipTimer(clip, layout) if reads_time else None
    for first in range(0, n, 32):
        pixels = screen.frames[first : first + 32]
        grey = to_grey(pixels)
        chunk = PictureChunk(first=first, pixels=pixels, grey=grey, beams=to_beams(grey, screen.placed.sector))
        for work in at_work:
            work.add(chunk)
        if timer is not None:
            timer.add(chunk)
    time = timer.finish() if timer is not None else true_time(film, times)
    return {finding.criterion: finding for work in at_work for finding in work.finish(time)}


def true_time(film: Film, times: FrameTimes) -> ClipTime:
    """Return the beats as they are."""
    period = film.rate_hz * film.rr_ms / 1000
    return ClipTime(
        times=times, beat_source=BeatSource.MOTION, beat_period_frames=period, beat_period_ms=film.rr_ms,
        complete_beats=len(times.times_ms) / period, confidence=0.9,
    )  # fmt: skip
