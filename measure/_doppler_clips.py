"""Make the Doppler clips of a subject as files, each as a console would store it, with a list of what is true of them.

What the animal looks like and how it moves is remembered for each rung: most faults leave beam and moments as they are.
"""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.cycle_state import CycleState
from fanlight.heart.motion import Motion
from fanlight.heart.moving_body import moving_body
from fanlight.heart.sampled import Sampled
from fanlight.simulate.clip.clip_setting import PX_PER_PAPER_MM, ClipSetting
from fanlight.simulate.clip.colour_clip import colour_film
from fanlight.simulate.clip.doppler_setting import DopplerClip
from fanlight.simulate.clip.film import Film
from fanlight.simulate.clip.picture import ecg_of
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.clip.spectral_clip import BeforeFilm, motion_before, spectral_film
from fanlight.simulate.clip.unsteady_probe import unsteady_film
from fanlight.simulate.colour.colour_mode import render_colour
from fanlight.simulate.dicom.colour_dicom import write_colour_clip
from fanlight.simulate.dicom.dicom_file import ClipFacts
from fanlight.simulate.dicom.dicom_pixels import USUAL_JPEG_QUALITY
from fanlight.simulate.dicom.dicom_spectral import write_spectral_clip
from fanlight.simulate.machine import animal_scene
from fanlight.simulate.machine.b_mode import render
from fanlight.simulate.machine.m_mode import ms_per_px
from fanlight.simulate.machine.probe import ArrayKind
from fanlight.simulate.machine.scan_convert import scan_convert
from fanlight.simulate.machine.scene import Scene
from fanlight.simulate.screen.ecg_trace import r_wave_times_ms
from fanlight.simulate.screen.screen_colour import ColourScreen, paint_colour
from fanlight.simulate.screen.screen_facts import ScreenFacts
from fanlight.simulate.screen.screen_spectral import SpectralScreen, paint_spectrum, place_spectral_guide, spectral_box
from fanlight.simulate.screen.screen_spectral_style import spectral_style
from fanlight.simulate.spectral.spectral_body import MotionAt
from fanlight.simulate.spectral.spectral_strip import render_spectrum
from fanlight.simulate.visit.practice import draw_facts
from fanlight.study import Region
from measure._doppler_bench import Bench, Rung, Wanted, draw_bench, rungs_of, wanted_of

LIST = "clips.json"  # written last: a folder with it is whole
AFTER_MS = 50.0  # beyond the last frame, for the motion of tissue at it
SPANS_MS = (2600.0, 5000.0, 12_000.0)  # lengths of strip for which the motion is made ready


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipTruth:
    """What is true of one file."""

    file: str
    seed: int
    mode: str
    view: str
    valve: str
    sought: str
    signal_valve: str
    fault: str  # "" for none
    strength: int
    truly_wraps: bool
    heart: str
    species: str
    weight_kg: float
    layout: str
    colour_map: str
    array: str


class Remembered:
    """A rung's scene and motion, that answer from memory when asked for the same points at the same moment again."""

    def __init__(self, scene: Scene) -> None:
        self._scene = scene
        self._seen: dict[tuple[Any, ...], Any] = {}

    @property
    def scene(self) -> Scene:
        """To hand to the machine."""
        return Scene(moving=self._look, still=self._rest)

    def motion(self, of: MotionAt) -> MotionAt:
        """Return a motion that is remembered; all that are given must agree."""

        def look(time_ms: float, x: Any, y: Any, z: Any, tissue: Any | None = None) -> Motion:
            key = ("motion", time_ms, _points_key(x, y, z), None if tissue is None else _points_key(tissue))
            found: Motion = self._kept(key, lambda: of(time_ms, x, y, z, tissue))
            return found

        return look

    def _look(self, state: CycleState, x: Any, y: Any, z: Any) -> Sampled:
        found: Sampled = self._kept(
            ("moving", state.time_ms, _points_key(x, y, z)), lambda: self._scene.moving(state, x, y, z)
        )
        return found

    def _rest(self, breath: float, x: Any, y: Any, z: Any) -> Sampled:
        still = self._scene.still
        assert still is not None
        found: Sampled = self._kept(("still", breath, _points_key(x, y, z)), lambda: still(breath, x, y, z))
        return found

    def _kept(self, key: tuple[Any, ...], make: Callable[[], Any]) -> Any:
        if key not in self._seen:
            self._seen[key] = make()
        return self._seen[key]


def _points_key(*parts: Any) -> tuple[Any, ...]:
    digest = hashlib.blake2b(digest_size=16)
    for part in parts:
        digest.update(np.ascontiguousarray(part).tobytes())
    return np.shape(parts[0]), digest.digest()


def make_subject(seed: int, ring: Ring, folder: Path) -> int:
    """Make all clips of a subject in this folder, unless they lie there; return how many there are."""
    if (folder / LIST).is_file():
        return len(read_list(folder))
    part = folder.with_suffix(".part")
    shutil.rmtree(part, ignore_errors=True)
    part.mkdir(parents=True)
    bench = draw_bench(seed, ring)
    rungs = rungs_of(bench)
    wanted = list(wanted_of(rungs))
    truths = []
    for rung in rungs:
        camera = Camera(bench, rung)
        truths += [camera.store(item, part) for item in wanted if item.rung is rung]
    (part / LIST).write_text(json.dumps([asdict(truth) for truth in truths]), encoding="utf-8")
    shutil.rmtree(folder, ignore_errors=True)
    part.rename(folder)
    return len(truths)


def read_list(folder: Path) -> list[ClipTruth]:
    """Return what is true of the clips of a folder."""
    return [ClipTruth(**row) for row in json.loads((folder / LIST).read_text(encoding="utf-8"))]


class Camera:
    """The machine at one rung: makes and stores its clips."""

    def __init__(self, bench: Bench, rung: Rung) -> None:
        self.bench, self.rung, self._subject = bench, rung, bench.subject
        self._remembered = Remembered(animal_scene.scene_of(bench.subject.animal))
        self._motions: dict[float, BeforeFilm] = {}
        animal = bench.subject.animal
        self._facts = draw_facts(seed=bench.seed, species=animal.species, weight_kg=animal.weight_kg)

    def store(self, wanted: Wanted, folder: Path) -> ClipTruth:
        """Make one clip, write its file and return what is true of it."""
        path, doppler = folder / f"{wanted.name}.dcm", wanted.clip.doppler
        if doppler.is_spectral:
            strip, film = self.spectrum(wanted.clip)
            file = self._file(wanted.clip.clip, film, strip.frames, strip.regions)
            write_spectral_clip(path, file, self._facts, doppler.mode, jpeg_quality=USUAL_JPEG_QUALITY)
        else:
            whole, film = self.colour(wanted.clip)
            file = self._file(wanted.clip.clip, film, whole.screen.frames, whole.screen.regions)
            write_colour_clip(path, file, self._facts, jpeg_quality=USUAL_JPEG_QUALITY)
        return self._truth(wanted, path.name)

    def _rng(self) -> np.random.Generator:
        """Return the stream of this rung: a fault changes the picture, not its speckle."""
        return np.random.default_rng([self.bench.seed, self.rung.index, 31])

    def colour(self, clip: DopplerClip) -> tuple[ColourScreen, Film]:
        """Return a colour clip as the console shows it, and its moments."""
        subject, setting, colour, rng = self._subject, clip.clip, clip.doppler.colour, self._rng()
        film = colour_film(subject.animal, setting, colour, start_ms=subject.start_ms)
        film = unsteady_film(subject.animal, film, clip.doppler.unsteady)
        body = moving_body(
            subject.animal, self.bench.circulation, film.beats, start_ms=film.start_ms,
            duration_ms=film.times_ms[-1] + AFTER_MS,
        )  # fmt: skip
        beams = render_colour(
            self._remembered.scene, self._remembered.motion(body), film.pose_at if film.moves else setting.pose,
            setting.probe, setting.console, colour, film.states, rng, contact=setting.contact,
            table=subject.generator.table(),
        )  # fmt: skip
        whole = paint_colour(
            subject.generator.layout, beams, self._words(setting, film), ecg=ecg_of(subject.animal, film, rng)
        )
        return whole, film

    def spectrum(self, clip: DopplerClip) -> tuple[SpectralScreen, Film]:
        """Return the still of a spectrum as the console shows it, and its moment."""
        subject, setting, spectral, rng = self._subject, clip.clip, clip.doppler.spectral, self._rng()
        layout, table = subject.generator.layout, subject.generator.table()
        film = spectral_film(subject.animal, setting, start_ms=subject.start_ms)
        film = unsteady_film(subject.animal, film, clip.doppler.unsteady)
        pose = film.pose_at if film.moves else setting.pose
        style = spectral_style(layout, has_guide=clip.doppler.has_guide)
        box, column_ms = spectral_box(style), ms_per_px(spectral.sweep_mm_s, PX_PER_PAPER_MM)
        scene, span_ms = self._remembered.scene, box.width_px * column_ms
        strip = render_spectrum(
            scene, self._before(film, span_ms), pose, setting.probe, setting.console, spectral,
            film.state_at, rng, rows=box.height_px, n_columns=box.width_px, column_ms=column_ms,
            start_ms=-span_ms, contact=setting.contact, table=table,
        )  # fmt: skip
        guide = placed = None
        if clip.doppler.has_guide:
            beams = render(
                scene, pose, setting.probe, setting.console, film.states[:1], rng, contact=setting.contact, table=table,
            )  # fmt: skip
            lines = beams.geometry
            placed = place_spectral_guide(
                layout, style, left_deg=lines.left_deg, right_deg=lines.right_deg, face_radius_mm=lines.apex_mm,
                depth_mm=lines.depth_mm,
            )  # fmt: skip
            guide = scan_convert(beams, placed.sector_in_box, rows=placed.box.height_px, cols=placed.box.width_px)
        screen = paint_spectrum(
            layout, style, strip, self._words(setting, film), guide=guide, placed=placed,
            ecg=ecg_of(subject.animal, film, rng), colour=True,
        )  # fmt: skip
        return screen, film

    def _before(self, film: Film, span_ms: float) -> BeforeFilm:
        """Return the animal's motion before a film, made once for strips of about one length."""
        step = next(step for step in SPANS_MS if step >= span_ms)
        if step not in self._motions:
            self._motions[step] = motion_before(self._subject.animal, self.bench.circulation, film, step)
        return self._motions[step]

    def _words(self, setting: ClipSetting, film: Film) -> ScreenFacts:
        console, facts = setting.console, self._facts
        return ScreenFacts(
            depth_mm=console.depth_mm, frequency_mhz=console.frequency_mhz, gain_db=console.gain_db,
            dynamic_range_db=console.dynamic_range_db, frame_rate_hz=film.rate_hz, harmonics=console.is_harmonic,
            focus_mm=min(console.focus_mm, console.depth_mm), heart_rate_bpm=round(60_000.0 / film.rr_ms),
            practice=facts.practice.name, animal=facts.patient.animal_name, owner=facts.patient.responsible.family,
            case_number=facts.patient.case_number, at=facts.began_at,
        )  # fmt: skip

    def _file(
        self, setting: ClipSetting, film: Film, frames: NDArray[np.uint8], regions: tuple[Region, ...]
    ) -> ClipFacts:
        r_times = (t - film.start_ms for t in r_wave_times_ms(self._subject.animal.rhythm, film.beats))
        return ClipFacts(
            number=1, frames=frames, regions=regions, times_ms=film.times_ms, since_start=timedelta(seconds=60),
            heart_rate_bpm=60_000.0 / film.rr_ms,
            r_wave_times_ms=tuple(t for t in r_times if 0 <= t <= film.times_ms[-1]),
            focus_depth_mm=setting.console.focus_mm, depth_mm=setting.console.depth_mm,
            transducer_type="CURVED LINEAR" if setting.probe.kind is ArrayKind.CURVED else "SECTOR_PHASED",
        )  # fmt: skip

    def _truth(self, wanted: Wanted, file: str) -> ClipTruth:
        subject, doppler, fault = self._subject, wanted.clip.doppler, wanted.fault
        return ClipTruth(
            file=file, seed=subject.seed, mode=doppler.mode.value, view=self.rung.view, valve=doppler.valve.value,
            sought=doppler.sought.value, signal_valve=doppler.signal_valve.value,
            fault="" if fault is None else fault.key, strength=0 if fault is None else fault.strength,
            truly_wraps=self.rung.truly_wraps, heart=subject.animal.heart.value,
            species=subject.animal.species.value, weight_kg=subject.animal.weight_kg,
            layout=subject.generator.layout.key,
            colour_map="" if doppler.is_spectral else doppler.colour.map_key,
            array=wanted.clip.clip.probe.kind.value,
        )  # fmt: skip
