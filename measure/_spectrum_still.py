"""A still of a spectrum beside its picture, as the simulated machine stores it: inflow of an invented dog."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import numpy as np

from fanlight.heart.animal import draw_animal
from fanlight.heart.blood.circulation import draw_circulation
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.heart.standard_poses import standard_pose
from fanlight.simulate.clip.clip_setting import ClipSetting, Recording
from fanlight.simulate.clip.spectral_clip import motion_before, spectral_film, spectral_screen_of, strip_ms
from fanlight.simulate.dicom.dicom_file import ClipFacts
from fanlight.simulate.dicom.dicom_spectral import write_spectral_clip
from fanlight.simulate.machine.console import default_console
from fanlight.simulate.machine.probe import default_probe
from fanlight.simulate.screen.screen_layouts import LAYOUTS
from fanlight.study import Mode, Species
from measure._spectrum_speed import VIEW, setting_of
from tests.simulate import screen_stand_ins as stand_in

WEIGHT_KG, START_MS = 12.0, 200.0


def write_spectrum(path: Path, seed: int) -> Path:
    """Draw the still and store it."""
    animal = draw_animal(
        species=Species.DOG, weight_kg=WEIGHT_KG, heart=HeartClass.NORMAL, chest=Chest.AVERAGE, seed=seed
    )
    probe, layout = default_probe(WEIGHT_KG), LAYOUTS["foot_rows"]
    console = default_console(probe, Species.DOG, WEIGHT_KG)
    setting = ClipSetting(
        view=VIEW, said_view=VIEW, pose=standard_pose(animal, VIEW), probe=probe, console=console,
        recording=Recording(is_still=True),
    )  # fmt: skip
    rng = np.random.default_rng([seed, 1])
    spectral = setting_of(Mode.PULSED_WAVE, probe, console)
    film = spectral_film(animal, setting, start_ms=START_MS)
    motion = motion_before(animal, draw_circulation(animal, rng), film, strip_ms(layout, spectral))
    facts = stand_in.facts(depth_mm=console.depth_mm, sweep_mm_s=spectral.sweep_mm_s)
    screen = spectral_screen_of(animal, setting, spectral, motion, film, layout, facts, rng)
    clip = ClipFacts(
        number=1, frames=screen.frames, regions=screen.regions, times_ms=(0.0,), since_start=timedelta(minutes=1)
    )
    return write_spectral_clip(path, clip, stand_in.visit(), Mode.PULSED_WAVE)
