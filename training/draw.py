"""Drawing of one training clip: the picture and, from the same slice through the animal, all its labels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal, animal_landmarks
from fanlight.heart.cycle import end_systole_time_ms
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.sampled import Sampled
from fanlight.recognise.picture_square import SIDE_PX, inside, square_of, to_square
from fanlight.simulate.clip.film import Film, shoot_times
from fanlight.simulate.clip.picture import scene_of
from fanlight.simulate.machine.beams import Beams, LineGeometry, line_geometry
from fanlight.simulate.machine.image_former import AnatomyView, ImageFormer, amplitudes, make_former
from fanlight.simulate.machine.receive import levels, quantise
from fanlight.simulate.machine.scan_convert import scan_convert
from fanlight.study import Sector
from training.label_sets import LANDMARKS, Structure, structures_of
from training.light_former import FieldBank, light_former
from training.randomise import Shot

FRAMES = 6  # of one beat
MASK_PX = SIDE_PX // 2
PAINT_PX = 2 * SIDE_PX  # the screen that the square is cut from, so that speckle is averaged as on a real one
HIDDEN_NAMELESS = 0.6  # a picture of which lung and bone hide more than this share shows no view (judgement)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sample:
    """One clip with its labels. F frames, L landmarks, V views."""

    frames: NDArray[np.uint8]  # (F, SIDE_PX, SIDE_PX)
    masks: NDArray[np.uint8]  # (F, MASK_PX, MASK_PX), see Structure
    points_px: NDArray[np.float32]  # (F, L, 2) row, col in the square; wherever they are
    off_units: NDArray[np.float32]  # (F, L) how far off the plane, in diameters; infinite where hidden or cut off
    phase: NDArray[np.float32]  # (F,) 0 at the onset of QRS, 0.5 when the aortic valve shuts, 1 at the next onset
    shares: NDArray[np.float32]  # (V + 1,) what the clip is to be called
    mirrored: np.bool_  # whether the marker is at the other side than the view that it is nearest to has it
    inside: NDArray[np.bool_]  # (SIDE_PX, SIDE_PX)
    mm_per_px: float  # of the square


def draw(shot: Shot, rng: np.random.Generator, n_frames: int = FRAMES, bank: FieldBank | None = None) -> Sample:
    """Return a clip of one beat and its labels; with a bank, its speckle is taken from there, which is cheaper."""
    animal, setting = shot.subject.animal, shot.setting
    rate = n_frames * animal.rhythm.rate_bpm / 60
    film = shoot_times(animal, setting, start_ms=shot.start_ms, rate_hz=rate)
    states = film.states[:n_frames]
    lines = line_geometry(setting.probe, setting.console)
    former = (
        light_former(setting, lines, rng, shot.table, bank)
        if bank
        else make_former(np, setting.probe, setting.console, lines, setting.pose, setting.contact, rng, shot.table)
    )
    view = AnatomyView(scene_of(animal, setting), former.grid, np)
    seen = [view.seen(state, setting.pose) for state in states]
    beams = Beams(
        levels=_levels(former, seen, rng), geometry=lines, times_ms=film.times_ms[: len(states)],
        frame_rate_hz=rate,
    )  # fmt: skip
    screen = _screen_sector(lines)
    frames = _compressed(scan_convert(beams, screen, rows=PAINT_PX, cols=PAINT_PX), setting.recording.jpeg_quality)
    square = square_of(screen)
    polar = [structures_of(np.asarray(former.grid.split(one.tissue)[0], np.uint8)) for one in seen]
    mm_per_px = lines.depth_mm / square.sector.depth_px
    points, off = _landmarks(shot, states, polar, square.sector, mm_per_px, lines)
    return Sample(
        frames=to_square(frames, screen),
        masks=np.stack([mask_of(one, square.sector) for one in polar]),
        points_px=points,
        off_units=off,
        phase=np.array([phase_of(animal, film, state) for state in states], np.float32),
        shares=_shares(shot, polar),
        mirrored=np.bool_(shot.named.is_mirrored),
        inside=inside(square.sector),
        mm_per_px=float(mm_per_px),
    )


def _levels(former: ImageFormer, seen: Sequence[Sampled], rng: np.random.Generator) -> NDArray[np.uint8]:
    """Return grey levels (frame, sample, line), as the simulator's own `render` makes them."""
    keep = former.receiver.console.persistence_fraction
    kept: Any = None
    out = []
    for amplitude in amplitudes(former, seen, rng):
        grey = levels(np, former.receiver, amplitude)
        kept = grey if kept is None else kept * keep + grey * (1 - keep)
        out.append(quantise(np, kept))
    return np.stack(out)


def _screen_sector(lines: LineGeometry) -> Sector:
    raw = lines.on_screen(apex_row_px=0.0, apex_col_px=0.0, mm_per_px=1.0)
    return square_of(raw, PAINT_PX).sector


def _compressed(frames: NDArray[np.uint8], quality: int | None) -> NDArray[np.uint8]:
    if quality is None:
        return frames
    coded = (cv2.imencode(".jpg", frame, [cv2.IMWRITE_JPEG_QUALITY, quality])[1] for frame in frames)
    return np.stack([np.asarray(cv2.imdecode(data, cv2.IMREAD_GRAYSCALE), np.uint8) for data in coded])


def _polar_place(
    sector: Sector, rows: NDArray[np.float64], cols: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the share of the depth and of the width at which pixels of the square lie."""
    down, aside = rows - sector.apex_row_px, cols - sector.apex_col_px
    depth = (np.hypot(down, aside) - sector.near_px) / sector.depth_px
    beam = (np.degrees(np.arctan2(aside, down)) - sector.left_deg) / sector.width_deg
    return depth, beam


def _at_polar(polar: NDArray[np.uint8], depth: NDArray[np.float64], beam: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Return the structure at shares of depth and width; OTHER outside the picture."""
    n_depths, n_lines = polar.shape
    ok = (depth >= 0) & (depth < 1) & (beam >= 0) & (beam < 1)
    row = np.clip(np.nan_to_num(depth) * n_depths, 0, n_depths - 1).astype(np.int32)
    col = np.clip(np.nan_to_num(beam) * n_lines, 0, n_lines - 1).astype(np.int32)
    return np.asarray(np.where(ok, polar[row, col], np.uint8(Structure.OTHER)), np.uint8)


def mask_of(polar: NDArray[np.uint8], sector: Sector) -> NDArray[np.uint8]:
    """Return the structures (MASK_PX, MASK_PX) of a picture given along its beams."""
    rows, cols = np.mgrid[0:MASK_PX, 0:MASK_PX] * 2.0 + 0.5
    return _at_polar(polar, *_polar_place(sector, rows, cols))


def _landmarks(
    shot: Shot, states: Sequence[CycleState], polar: Sequence[NDArray[np.uint8]], sector: Sector, mm_per_px: float,
    lines: LineGeometry,
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:  # fmt: skip
    """Return places in the square and distances off the plane, infinite where no eye could find them."""
    points = np.empty((len(states), len(LANDMARKS), 2), np.float32)
    off = np.empty((len(states), len(LANDMARKS)), np.float32)
    for index, state in enumerate(states):
        places = animal_landmarks(shot.subject.animal, state)
        probe = shot.setting.pose.to_probe(np.stack([places[name] for name in LANDMARKS]))
        rows = sector.apex_row_px + (probe[:, 2] + lines.apex_mm) / mm_per_px
        cols = sector.apex_col_px + probe[:, 0] / mm_per_px
        depth, beam = _polar_place(sector, rows, cols)
        found = _at_polar(polar[index], depth, beam)
        shown = (depth >= 0) & (depth < 1) & (beam >= 0) & (beam < 1) & (found != Structure.HIDDEN)
        points[index] = np.stack([rows, cols], axis=-1)
        off[index] = np.where(shown, np.abs(probe[:, 1]) / shot.subject.unit_mm, np.inf)
    return points, off


def phase_of(animal: Animal, film: Film, state: CycleState) -> float:
    """Return how far a beat has come: 0 onset of QRS, 0.5 closing of the aortic valve, 1 the next onset."""
    beat = film.beats[state.beat]
    closes = (end_systole_time_ms(animal.rhythm, film.beats, state.beat) - beat.onset_ms) / beat.rr_ms
    if state.phase < closes:
        return 0.5 * state.phase / closes
    return min(0.5 + 0.5 * (state.phase - closes) / (1 - closes), 1.0 - 1e-6)


def _shares(shot: Shot, polar: Sequence[NDArray[np.uint8]]) -> NDArray[np.float32]:
    hidden = float(np.mean([np.mean(one == Structure.HIDDEN) for one in polar]))
    if hidden <= HIDDEN_NAMELESS:
        return shot.named.shares.astype(np.float32)
    none = np.zeros(len(shot.named.shares), np.float32)
    none[-1] = 1.0
    return none


def with_frames(shot: Shot, lines: int, samples: int) -> Shot:
    """Return the clip with another number of lines and samples, for pictures finer or coarser than in training."""
    console = replace(shot.setting.console, n_lines=lines, n_samples=samples)
    return replace(shot, setting=replace(shot.setting, console=console))
