"""Clips as files on which recognition is measured as a mentor meets it: whole screens, read from their pixels.

Subjects and poses are those of the measurement on bare pictures; here each clip is painted on a screen of its ring,
with words, ruler and ECG, pressed by JPEG and written as a DICOM file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path

import numpy as np

from fanlight.heart.animal import sample
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.movements import turned
from fanlight.heart.pose import Pose
from fanlight.heart.tissue import Tissue
from fanlight.simulate.clip.clip_setting import Recording
from fanlight.simulate.clip.film import Film, shoot_times
from fanlight.simulate.clip.picture import ecg_of, take_2d
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.dicom.dicom_file import ClipFacts, write_clip
from fanlight.simulate.dicom.dicom_pixels import USUAL_JPEG_QUALITY
from fanlight.simulate.machine.beams import Beams, line_geometry
from fanlight.simulate.machine.probe import ArrayKind
from fanlight.simulate.machine.scan_convert import scan_convert
from fanlight.simulate.screen.ecg_trace import r_wave_times_ms
from fanlight.simulate.screen.screen import paint, place_sector
from fanlight.simulate.screen.screen_facts import ScreenFacts
from fanlight.simulate.screen.screen_truth import Screen
from fanlight.simulate.visit.practice import draw_facts
from measure._criterion_clips import Subject, draw_subject
from measure._recognition_clips import shots_of
from training.label_sets import structures_of
from training.randomise import PoseKind, Shot

BEATS, FRAMES_A_BEAT = 1.2, 10  # of a clip: shorter and coarser than a console's, so that drawing stays cheap
EACH_OF = 6  # one in so many standard views of a subject, by turns of the seeds
N_DISPLACED, N_OFF = 1, 1  # of each subject beside them
ODD_FRAMES = 6
DEPTHS, LINES = 96, 64  # of the map of tissue before the probe, from which it is told what hides and what is heart
NO_HEART_SHARE = 0.01  # of that map: a plane with less heart shows none (engineering judgement)
LEAN_DEG = (45.0, 80.0)  # away from a standard view until no heart is met
MOST_LEANS = 60
CUT = (4, 4)  # pieces in depth and width of a picture that is cut up


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stored:
    """A clip in its file, with what is true of it."""

    path: Path
    shot: Shot
    film: Film
    screen: Screen
    kind: str
    layout: str
    has_regions: bool
    has_ecg: bool


def planned(seed: int, ring: Ring) -> list[Shot]:
    """Return the clips of a subject: one in six standard views, by turns of the seeds, some displaced, some off."""
    every = shots_of(seed, ring)
    standard = [shot for shot in every if shot.kind is PoseKind.STANDARD]
    displaced = [shot for shot in every if shot.kind is PoseKind.DISPLACED]
    off = [shot for shot in every if shot.kind is PoseKind.OFF]
    return [*standard[seed % EACH_OF :: EACH_OF], *displaced[:N_DISPLACED], *off[:N_OFF]]


def store_echoes(seed: int, ring: Ring, folder: Path) -> Iterator[Stored]:
    """Write the clips of a subject, one after another; two in three have an ECG, two in three have region tags."""
    subject = draw_subject(seed, ring)
    for number, shot in enumerate(planned(seed, ring), 1):
        camera = _Camera(subject, shot, number, folder)
        beams, film = camera.beams(BEATS)
        yield camera.store(beams, film, kind=shot.kind.value)


def store_odd(seed: int, ring: Ring, folder: Path) -> Iterator[Stored]:
    """Write what is no echo of a heart, each on the subject's own screen."""
    subject = draw_subject(seed, ring)
    shot = planned(seed, ring)[0]
    rng = np.random.default_rng([seed, 149])
    camera = _Camera(subject, shot, 100, folder)
    beams, film = camera.beams(ODD_FRAMES / FRAMES_A_BEAT)
    for number, (kind, change) in enumerate(_changes(rng).items(), 101):
        yield replace(camera, number=number).store(replace(beams, levels=change(beams.levels)), film, kind=kind)
    away = without_heart(shot, rng)
    if away is not None:
        camera = _Camera(subject, away, 120, folder)
        yield camera.store(*camera.beams(ODD_FRAMES / FRAMES_A_BEAT), kind="no heart in the plane")


def _changes(rng: np.random.Generator) -> dict[str, Callable[[np.ndarray], np.ndarray]]:
    """Return what is done to levels (frame, depth, line)."""
    return {
        "upside down": lambda levels: np.ascontiguousarray(levels[:, ::-1]),
        "cut up": lambda levels: cut_up(levels, rng),
        "noise": lambda levels: rng.integers(0, 200, levels.shape).astype(np.uint8),
        "flat grey": lambda levels: np.full_like(levels, 90),
        "probe in air": lambda levels: in_air(levels.shape, rng),
    }


def cut_up(levels: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Return the picture with its pieces shuffled, in every frame alike."""
    rows, cols = levels.shape[1] // CUT[0], levels.shape[2] // CUT[1]
    out = levels.copy()
    pieces = [(r, c) for r in range(CUT[0]) for c in range(CUT[1])]
    for (r, c), index in zip(pieces, rng.permutation(len(pieces)), strict=True):
        s, d = pieces[index]
        piece = levels[:, s * rows : (s + 1) * rows, d * cols : (d + 1) * cols]
        out[:, r * rows : (r + 1) * rows, c * cols : (c + 1) * cols] = piece
    return out


def in_air(shape: tuple[int, ...], rng: np.random.Generator) -> np.ndarray:
    """Return bands of reverberation that fade within the first quarter, and little noise below."""
    depth = np.linspace(0.0, 1.0, shape[1])[None, :, None]
    bands = 170.0 * np.exp(-depth / 0.07) * (0.6 + 0.4 * np.cos(2 * np.pi * depth / 0.045))
    return np.clip(bands + np.abs(rng.normal(0.0, 4.0, shape)), 0, 255).astype(np.uint8)


def without_heart(shot: Shot, rng: np.random.Generator) -> Shot | None:
    """Return the shot with the probe leant away until its plane meets no heart; None where that is not found."""
    film = shoot_times(shot.subject.animal, shot.setting, start_ms=shot.start_ms, rate_hz=10.0)
    for _ in range(MOST_LEANS):
        lean = rng.uniform(*LEAN_DEG) * rng.choice([-1.0, 1.0])
        axis = np.zeros(3)
        axis[int(rng.integers(0, 2))] = lean
        pose: Pose = turned(shot.setting.pose, axis)
        away = replace(shot, setting=replace(shot.setting, pose=pose), kind=PoseKind.OFF)
        if heart_share(away, film.states[0]) < NO_HEART_SHARE:
            return away
    return None


def tissue_before(shot: Shot, state: CycleState) -> np.ndarray:
    """Return the tissue along the lines of a clip, (depth, line)."""
    lines = line_geometry(shot.setting.probe, shot.setting.console)
    depth = (np.arange(DEPTHS) + 0.5) / DEPTHS * lines.depth_mm
    angle = np.radians(lines.left_deg + (np.arange(LINES) + 0.5) / LINES * (lines.right_deg - lines.left_deg))
    radius = (depth + lines.apex_mm)[:, None]
    points = np.stack(
        [radius * np.sin(angle), np.zeros((DEPTHS, LINES)), radius * np.cos(angle) - lines.apex_mm], axis=-1
    )
    x, y, z = np.moveaxis(shot.setting.pose.to_patient(points), -1, 0).astype(np.float32)
    return np.asarray(sample(shot.subject.animal, state, x, y, z).tissue, np.uint8)


def heart_share(shot: Shot, state: CycleState) -> float:
    """Return how much of the picture is heart or great vessels, seen or hidden."""
    return float((tissue_before(shot, state) >= Tissue.PERICARDIUM).mean())


def structures_before(shot: Shot, state: CycleState) -> np.ndarray:
    """Return the structures of a picture along its beams, (depth, line), hidden ones as hidden."""
    return structures_of(tissue_before(shot, state))


@dataclass(frozen=True, eq=False)
class _Camera:
    """One clip on its way to its file."""

    subject: Subject
    shot: Shot
    number: int
    folder: Path

    def _rng(self) -> np.random.Generator:
        return np.random.default_rng([self.subject.seed, self.number, 139])

    def beams(self, beats: float) -> tuple[Beams, Film]:
        """Return the picture along its lines, and its moments."""
        shot = self.shot
        animal, setting = shot.subject.animal, replace(shot.setting, recording=Recording(beats=beats))
        rate_hz = FRAMES_A_BEAT * animal.rhythm.rate_bpm / 60
        film = shoot_times(animal, setting, start_ms=shot.start_ms, rate_hz=rate_hz)
        return take_2d(animal, setting, film, self._rng(), table=shot.table).beams, film

    def store(self, beams: Beams, film: Film, *, kind: str) -> Stored:
        """Paint the screen and write the file."""
        turn = self.subject.seed + self.number
        has_ecg, has_regions = turn % 3 != 0, (turn // 3) % 3 != 0
        layout, setting = self.subject.generator.layout, self.shot.setting
        animal, lines = self.subject.animal, beams.geometry
        visit = draw_facts(seed=self.subject.seed, species=animal.species, weight_kg=animal.weight_kg)
        console = setting.console
        words = ScreenFacts(
            depth_mm=console.depth_mm, frequency_mhz=console.frequency_mhz, gain_db=console.gain_db,
            dynamic_range_db=console.dynamic_range_db, frame_rate_hz=film.rate_hz, harmonics=console.is_harmonic,
            focus_mm=min(console.focus_mm, console.depth_mm),
            heart_rate_bpm=round(60_000.0 / film.rr_ms) if has_ecg else None,
            practice=visit.practice.name, animal=visit.patient.animal_name, owner=visit.patient.responsible.family,
            case_number=visit.patient.case_number, at=visit.began_at,
        )  # fmt: skip
        placed = place_sector(
            layout, left_deg=lines.left_deg, right_deg=lines.right_deg, face_radius_mm=lines.apex_mm,
            depth_mm=lines.depth_mm,
        )  # fmt: skip
        picture = scan_convert(beams, placed.sector_in_box, rows=placed.box.height_px, cols=placed.box.width_px)
        ecg = ecg_of(animal, film, self._rng()) if has_ecg else None
        screen = paint(layout, picture, placed, words, times_ms=film.times_ms, ecg=ecg)
        r_times = (t - film.start_ms for t in r_wave_times_ms(animal.rhythm, film.beats))
        clip = ClipFacts(
            number=self.number, frames=screen.frames, regions=screen.regions if has_regions else (),
            times_ms=film.times_ms, since_start=timedelta(seconds=60),
            heart_rate_bpm=60_000.0 / film.rr_ms if has_ecg else None,
            r_wave_times_ms=tuple(t for t in r_times if 0 <= t <= film.times_ms[-1]) if has_ecg else (),
            focus_depth_mm=console.focus_mm, depth_mm=console.depth_mm,
            transducer_type="CURVED LINEAR" if setting.probe.kind is ArrayKind.CURVED else "SECTOR_PHASED",
        )  # fmt: skip
        path = write_clip(self.folder / f"{self.number:04d}.dcm", clip, visit, jpeg_quality=USUAL_JPEG_QUALITY)
        return Stored(
            path=path, shot=self.shot, film=film, screen=screen, kind=kind, layout=layout.key,
            has_regions=has_regions, has_ecg=has_ecg,
        )  # fmt: skip
