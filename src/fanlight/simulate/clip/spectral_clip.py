"""From the setting of a spectrum to the screen that the console shows, with everything that is true of it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from fanlight.heart.animal import Animal
from fanlight.heart.blood.circulation import Circulation
from fanlight.heart.motion import Motion
from fanlight.heart.moving_body import MovingBody, moving_body
from fanlight.heart.pose import Pose, Vector
from fanlight.simulate.clip.clip_setting import PX_PER_PAPER_MM, ClipSetting
from fanlight.simulate.clip.colour_box_at import place_in_picture
from fanlight.simulate.clip.film import Film, shoot_times
from fanlight.simulate.clip.picture import ecg_of, scene_of, take_2d
from fanlight.simulate.machine.beams import LineGeometry
from fanlight.simulate.machine.m_mode import ms_per_px
from fanlight.simulate.machine.scan_convert import scan_convert
from fanlight.simulate.machine.tissue_echo import EchoTable
from fanlight.simulate.screen.screen_facts import ScreenFacts
from fanlight.simulate.screen.screen_layout import Layout
from fanlight.simulate.screen.screen_spectral import SpectralScreen, paint_spectrum, place_spectral_guide, spectral_box
from fanlight.simulate.screen.screen_spectral_style import spectral_style
from fanlight.simulate.screen.spectral_export import exported_spectrum
from fanlight.simulate.spectral.spectral_body import MotionAt
from fanlight.simulate.spectral.spectral_setting import SpectralSetting
from fanlight.simulate.spectral.spectral_strip import render_spectrum
from fanlight.study import Mode

LEAD_IN_MS = 150.0  # before the strip, asked for while filter and window fill


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BeforeFilm:
    """The motion of an animal in the times of a film, from before its first frame on."""

    body: MovingBody
    lead_ms: float  # from the body's first moment to the film's first frame

    def __call__(self, time_ms: float, x: Any, y: Any, z: Any, tissue: Any | None = None) -> Motion:
        """Return the motion at points; see `MovingBody`."""
        return self.body(time_ms + self.lead_ms, x, y, z, tissue)


def gate_at(lines: LineGeometry, pose: Pose, point_mm: Vector) -> tuple[float, float]:
    """Return cursor, degrees, and depth of the gate, mm, for a point of the patient, seen across the image plane.

    Raises
    ------
    ValueError
        If the point does not lie in the picture.
    """
    depth, angle = place_in_picture(lines, pose, point_mm)
    if not (0 < depth <= lines.depth_mm and lines.left_deg <= angle <= lines.right_deg):
        raise ValueError(
            f"gate: the point lies at {depth:.0f} mm and {angle:.0f} degrees, outside the picture of "
            f"{lines.depth_mm:.0f} mm and {lines.left_deg:.0f} to {lines.right_deg:.0f} degrees"
        )
    return angle, depth


def spectral_film(animal: Animal, setting: ClipSetting, *, start_ms: float) -> Film:
    """Return the moments of a spectrum: a film with as long a time before it as a slow strip needs."""
    return shoot_times(animal, replace(setting, mode=Mode.M_MODE), start_ms=start_ms)


def strip_ms(layout: Layout, spectral: SpectralSetting, *, has_guide: bool = True) -> float:
    """Return the time that the strip of this console spans at this sweep."""
    width_px = spectral_box(spectral_style(layout, has_guide=has_guide)).width_px
    return width_px * ms_per_px(spectral.sweep_mm_s, PX_PER_PAPER_MM)


def motion_before(animal: Animal, circulation: Circulation, film: Film, span_ms: float) -> BeforeFilm:
    """Return how the animal moves during the strip that ends with the first frame of a film; `span_ms` is its length.

    Raises
    ------
    ValueError
        If the film has less time before it than the strip is long.
    """
    lead_ms = span_ms + LEAD_IN_MS
    if lead_ms > film.lead_ms:
        raise ValueError(
            f"a strip of {span_ms:.0f} ms needs {lead_ms:.0f} ms before the film, which has {film.lead_ms:.0f}; "
            "make the film with spectral_film or the sweep faster"
        )
    start_ms = film.start_ms - lead_ms
    duration_ms = lead_ms + LEAD_IN_MS
    body = moving_body(animal, circulation, film.beats, start_ms=start_ms, duration_ms=duration_ms)
    return BeforeFilm(body=body, lead_ms=lead_ms)


def spectral_screen_of(
    animal: Animal,
    setting: ClipSetting,
    spectral: SpectralSetting,
    motion: MotionAt,
    film: Film,
    layout: Layout,
    facts: ScreenFacts,
    rng: np.random.Generator,
    *,
    has_guide: bool = True,
    colour: bool = True,
    labelled: bool = False,
    table: EchoTable | None = None,
) -> SpectralScreen:
    """Return the still of a spectrum, exported as the recording says; its strip ends with the film's first frame.

    Parameters
    ----------
    animal, setting, film
        What is scanned, where the probe stands, and when; the film from `spectral_film`.
    spectral : SpectralSetting
        Gate, scale, filter and display; its sweep counts, not that of the recording.
    motion : MotionAt
        Of this animal in the times of the film, from `motion_before`.
    layout, facts : Layout, ScreenFacts
        The console's screen and what it says.
    rng : Generator
        Draws scatterers, noise and the disturbance of the ECG.
    has_guide : bool
        Whether the picture stands beside the strip.
    colour, labelled, table
        As for `picture.screen_of`.
    """
    ecg = ecg_of(animal, film, rng) if setting.recording.has_ecg else None
    style = spectral_style(layout, has_guide=has_guide)
    box = spectral_box(style)
    column_ms = ms_per_px(spectral.sweep_mm_s, PX_PER_PAPER_MM)
    strip = render_spectrum(
        scene_of(animal, setting), motion, film.pose_at if film.moves else setting.pose, setting.probe,
        setting.console, spectral, film.state_at, rng, rows=box.height_px, n_columns=box.width_px,
        column_ms=column_ms, start_ms=-box.width_px * column_ms, contact=setting.contact, table=table,
    )  # fmt: skip
    guide = placed = None
    if has_guide:
        one = replace(film, states=film.states[:1], times_ms=film.times_ms[:1])
        take = take_2d(animal, setting, one, rng, table=table)
        lines = take.lines
        placed = place_spectral_guide(
            layout, style, left_deg=lines.left_deg, right_deg=lines.right_deg, face_radius_mm=lines.apex_mm,
            depth_mm=lines.depth_mm,
        )  # fmt: skip
        guide = scan_convert(take.beams, placed.sector_in_box, rows=placed.box.height_px, cols=placed.box.width_px)
    screen = paint_spectrum(
        layout, style, strip, facts, guide=guide, placed=placed, ecg=ecg, colour=colour, labelled=labelled,
        marker_at_left=setting.recording.is_mirrored,
    )  # fmt: skip
    return exported_spectrum(screen, setting.recording.scale_ratio)
