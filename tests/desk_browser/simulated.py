"""A simulated examination that a test can wait for: eight shots of a healthy dog, the first of two beats or more."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from fanlight.heart.kinds import Chest, HeartClass
from fanlight.reference.load import load_house
from fanlight.reference.plans import read_plans
from fanlight.reference.views import read_views
from fanlight.review.settings import default_workers
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.visit.doppler_rungs import spectra_beside
from fanlight.simulate.visit.examination import draw_examination
from fanlight.simulate.visit.hand_level import HandLevel
from fanlight.simulate.visit.shoot import Wanted
from fanlight.simulate.visit.write_study import make_folders, write_study
from fanlight.study import Species, Valve

SEED = 6  # ring A
# Long axis with four chambers, its colour over the tricuspid valve, with the outflow; short axis at the papillary
# muscles, M-mode at the chordae, aorta; colour and pulsed wave of the pulmonic valve. Colour of the mitral valve was
# left out by this hand.
SHOTS = (1, 3, 4, 14, 19, 23, 28, 29)
BEATS = 1.2
MOST_BEATS = 2.3  # of the first shot: it holds a whole beat, R wave to R wave, wherever it starts


def write_simulated(study: Path, truth: Path) -> None:
    """Write the files of the study, and apart from them what is true of it."""
    house = load_house()
    plan = read_plans(house)["full_right_side"]
    whole = draw_examination(
        seed=SEED, plan=plan, species=Species.DOG, weight_kg=12.0, heart=HeartClass.NORMAL, chest=Chest.AVERAGE,
        hand=HandLevel.IMPROVING, doppler=True, beside=spectra_beside(plan, read_views(house), (Valve.PULMONIC,)),
    )  # fmt: skip
    shots = tuple(
        replace(shot, setting=_short(shot.setting, beats), standard=_short(shot.standard, beats))
        for shot in whole.shots
        if shot.number in SHOTS
        for beats in [MOST_BEATS if shot.number == SHOTS[0] else BEATS]
    )
    wanted = Wanted(study=study, truth=truth)
    make_folders(wanted)
    for _ in write_study(replace(whole, shots=shots), wanted, workers=default_workers()):  # the other tests wait for it
        pass


def _short(setting: ClipSetting, beats: float) -> ClipSetting:
    return replace(setting, recording=replace(setting.recording, beats=beats))
