"""From the setting of a colour clip to the screen that the console shows, with everything that is true of it."""

from __future__ import annotations

import numpy as np

from fanlight.heart.animal import Animal
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.clip.film import Film, shoot_times
from fanlight.simulate.clip.picture import ecg_of, scene_of
from fanlight.simulate.colour.colour_beams import mirrored
from fanlight.simulate.colour.colour_mode import Moves, render_colour
from fanlight.simulate.colour.colour_setting import ColourSetting, colour_frame_rate_hz
from fanlight.simulate.machine.tissue_echo import EchoTable
from fanlight.simulate.screen.screen_colour import ColourScreen, paint_colour
from fanlight.simulate.screen.screen_facts import ScreenFacts
from fanlight.simulate.screen.screen_layout import Layout


def colour_film(animal: Animal, setting: ClipSetting, colour: ColourSetting, *, start_ms: float) -> Film:
    """Return the moments of a colour clip: as many a second as the machine can make."""
    return shoot_times(
        animal, setting, start_ms=start_ms, rate_hz=colour_frame_rate_hz(setting.console, colour)
    )  # fmt: skip


def colour_screen_of(
    animal: Animal,
    setting: ClipSetting,
    colour: ColourSetting,
    motion: Moves,
    film: Film,
    layout: Layout,
    facts: ScreenFacts,
    rng: np.random.Generator,
    *,
    labelled: bool = False,
    table: EchoTable | None = None,
) -> ColourScreen:
    """Return the painted screen of a colour still or clip, exported as the recording says.

    Parameters
    ----------
    animal, setting, colour, film
        What is scanned, how, and when.
    motion : Moves
        Of this animal, its times counted from the film's first frame (`heart.moving_body`, `start_ms` of the film).
    layout, facts : Layout, ScreenFacts
        The console's screen and what it says.
    rng : Generator
        Draws scatterers, blood, noise and the disturbance of the ECG.
    labelled : bool
        As for `screen.paint`.
    table : EchoTable, optional
        Other tissues, for ring C.
    """
    ecg = ecg_of(animal, film, rng) if setting.recording.has_ecg else None
    beams = render_colour(
        scene_of(animal, setting), motion, film.pose_at if film.moves else setting.pose, setting.probe, setting.console,
        colour, film.states, rng, contact=setting.contact, table=table,
    )  # fmt: skip
    is_mirrored = setting.recording.is_mirrored
    return paint_colour(
        layout, mirrored(beams) if is_mirrored else beams, facts, ecg=ecg, labelled=labelled,
        marker_at_left=is_mirrored, scale_ratio=setting.recording.scale_ratio,
    )  # fmt: skip
