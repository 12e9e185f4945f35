"""From the setting of a clip to the screen that the console shows, with everything that is true of it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal
from fanlight.heart.pose import Pose
from fanlight.heart.thorax import sample_thorax
from fanlight.heart.tissue import Tissue
from fanlight.simulate.clip.clip_setting import PX_PER_PAPER_MM, ClipSetting
from fanlight.simulate.clip.film import Film
from fanlight.simulate.clip.obstacle import cover
from fanlight.simulate.machine import animal_scene
from fanlight.simulate.machine.b_mode import render
from fanlight.simulate.machine.beams import Beams, LineGeometry, line_geometry
from fanlight.simulate.machine.m_mode import ms_per_px, render_m_mode
from fanlight.simulate.machine.scan_convert import scan_convert
from fanlight.simulate.machine.scene import Scene
from fanlight.simulate.machine.tissue_echo import EchoTable
from fanlight.simulate.screen.ecg_strip import EcgStrip
from fanlight.simulate.screen.ecg_trace import draw_noise, ecg_mv, r_wave_times_ms
from fanlight.simulate.screen.export import exported
from fanlight.simulate.screen.screen import paint, paint_m_mode, place_sector, strip_box
from fanlight.simulate.screen.screen_facts import ScreenFacts
from fanlight.simulate.screen.screen_layout import Layout
from fanlight.simulate.screen.screen_truth import Placed, Screen
from fanlight.study import Mode

WALL_STEP_MM = 0.5  # along the central beam, in search of the inner surface of the chest wall
WALL_REACH_MM = 60.0
ECG_STEP_MS = 2.0
_WALL = frozenset({Tissue.OUTSIDE, Tissue.CHEST_WALL, Tissue.RIB, Tissue.CARTILAGE, Tissue.STERNUM})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Take:
    """A setting on its way to the screen: the beams and where they lie."""

    beams: Beams
    lines: LineGeometry  # as shown: mirrored where the picture is


def scene_of(animal: Animal, setting: ClipSetting) -> Scene:
    """Return what lies before the probe of this clip: heart, thorax, and what was put in the way."""
    scene = animal_scene.scene_of(animal)
    if not setting.obstacles:
        return scene
    lines = line_geometry(setting.probe, setting.console)
    return cover(scene, setting.obstacles, setting.pose, lines, wall_mm(animal, setting.pose))


def wall_mm(animal: Animal, pose: Pose) -> float:
    """Return how thick the chest wall is along the central beam."""
    depth = np.arange(0.0, WALL_REACH_MM, WALL_STEP_MM)
    at = pose.to_patient(np.stack([0 * depth, 0 * depth, depth], axis=-1)).astype(np.float32)
    tissue = sample_thorax(animal.thorax, 0.0, at[:, 0], at[:, 1], at[:, 2]).tissue
    inside = ~np.isin(np.asarray(tissue), [int(t) for t in _WALL])
    return float(depth[int(np.argmax(inside))]) if inside.any() else WALL_REACH_MM


def take_2d(
    animal: Animal, setting: ClipSetting, film: Film, rng: np.random.Generator, *, table: EchoTable | None = None
) -> Take:
    """Return the 2-D picture of each moment of a film, as beams."""
    beams = render(
        scene_of(animal, setting),
        film.pose_at if film.moves else setting.pose,
        setting.probe,
        setting.console,
        film.states,
        rng,
        contact=setting.contact,
        table=table,
    )
    return _shown(beams, setting)


def _shown(beams: Beams, setting: ClipSetting) -> Take:
    if setting.recording.is_mirrored:
        lines = replace(beams.geometry, left_deg=-beams.geometry.right_deg, right_deg=-beams.geometry.left_deg)
        beams = replace(beams, levels=np.ascontiguousarray(beams.levels[:, :, ::-1]), geometry=lines)
    return Take(beams=beams, lines=beams.geometry)


def ecg_of(animal: Animal, film: Film, rng: np.random.Generator) -> EcgStrip:
    """Return the ECG that runs under a film, from some seconds before it on."""
    noise = draw_noise(rng, mains_mv=0.015, muscle_mv=0.01)  # a calm trace: engineering judgement
    times = np.arange(-film.lead_ms, film.times_ms[-1] + ECG_STEP_MS, ECG_STEP_MS)
    mv = ecg_mv(animal.rhythm, film.beats, times + film.start_ms, noise)
    r_times = (t - film.start_ms for t in r_wave_times_ms(animal.rhythm, film.beats))
    return EcgStrip(
        mv=np.nan_to_num(mv).astype(np.float32),
        first_ms=-film.lead_ms,
        step_ms=ECG_STEP_MS,
        r_times_ms=tuple(t for t in r_times if -film.lead_ms <= t <= film.times_ms[-1]),
    )


def screen_of(
    animal: Animal,
    setting: ClipSetting,
    film: Film,
    layout: Layout,
    facts: ScreenFacts,
    rng: np.random.Generator,
    *,
    colour: bool = True,
    labelled: bool = False,
    table: EchoTable | None = None,
) -> Screen:
    """Return the painted screen of a still or clip, exported as the recording says.

    Parameters
    ----------
    animal, setting, film
        What is scanned, how, and when.
    layout, facts : Layout, ScreenFacts
        The console's screen and what it says.
    rng : Generator
        Draws scatterers, noise and the disturbance of the ECG.
    colour, labelled : bool
        As for `paint`.
    table : EchoTable, optional
        Other tissues, for ring C.
    """
    ecg = ecg_of(animal, film, rng) if setting.recording.has_ecg else None
    if setting.mode is Mode.M_MODE:
        screen = _m_mode_screen(animal, setting, film, layout, facts, rng, ecg, colour, labelled, table)
    else:
        take = take_2d(animal, setting, film, rng, table=table)
        lines = take.lines
        placed = place_sector(
            layout, left_deg=lines.left_deg, right_deg=lines.right_deg, face_radius_mm=lines.apex_mm,
            depth_mm=lines.depth_mm,
        )  # fmt: skip
        screen = paint(
            layout, _converted(take.beams, placed), placed, facts, times_ms=film.times_ms, ecg=ecg, colour=colour,
            labelled=labelled, marker_at_left=setting.recording.is_mirrored,
        )  # fmt: skip
    return exported(screen, setting.recording.scale_ratio)


def _converted(beams: Beams, placed: Placed) -> NDArray[np.uint8]:
    return scan_convert(beams, placed.sector_in_box, rows=placed.box.height_px, cols=placed.box.width_px)


def _m_mode_screen(
    animal: Animal, setting: ClipSetting, film: Film, layout: Layout, facts: ScreenFacts, rng: np.random.Generator,
    ecg: EcgStrip | None, colour: bool, labelled: bool, table: EchoTable | None,
) -> Screen:  # fmt: skip
    """Paint the strip beside its guide; the guide stands still at the first moment, as consoles show it."""
    box = strip_box(layout)
    column_ms = ms_per_px(setting.recording.sweep_mm_s, PX_PER_PAPER_MM)
    # The last column of a frame is the frame's own moment; one long strip serves all frames.
    first_ms = -(box.width_px - 1) * column_ms
    n_columns = box.width_px + math.ceil(film.times_ms[-1] / column_ms)
    pulse = render_m_mode(
        scene_of(animal, setting), setting.pose, setting.probe, setting.console, setting.cursor_deg, film.state_at, rng,
        n_columns=n_columns, column_ms=column_ms, start_ms=max(first_ms, -film.lead_ms), contact=setting.contact,
        table=table,
    )  # fmt: skip
    long = cv2.resize(np.asarray(pulse.levels), (n_columns, box.height_px), interpolation=cv2.INTER_LINEAR)
    strips = np.empty((len(film.times_ms), box.height_px, box.width_px), np.uint8)
    for index, time_ms in enumerate(film.times_ms):
        at = round(time_ms / column_ms)
        strips[index] = long[:, at : at + box.width_px]
    one = replace(film, states=film.states[:1], times_ms=film.times_ms[:1])
    take = take_2d(animal, setting, one, rng, table=table)
    lines = take.lines
    placed = place_sector(
        layout, left_deg=lines.left_deg, right_deg=lines.right_deg, face_radius_mm=lines.apex_mm,
        depth_mm=lines.depth_mm, as_guide=True,
    )  # fmt: skip
    is_mirrored = setting.recording.is_mirrored
    return paint_m_mode(
        layout, _converted(take.beams, placed), placed, strips, facts,
        cursor_deg=-setting.cursor_deg if is_mirrored else setting.cursor_deg, ms_per_px=column_ms,
        times_ms=film.times_ms, ecg=ecg, colour=colour, labelled=labelled, marker_at_left=is_mirrored,
    )  # fmt: skip
