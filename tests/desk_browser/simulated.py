"""A simulated examination that a test can wait for: five shots of a healthy dog, the first of two beats or more."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from fanlight.simulate.clip_setting import ClipSetting
from fanlight.simulate.hand_level import HandLevel
from fanlight.simulate.shoot import Wanted
from fanlight.simulate.write_study import make_folders, write_study
from tests.simulate.small_study import examination

SEED = 6  # ring A; the study of scripts/demo
# Long axis with four chambers, with the outflow; short axis at the papillary muscles, M-mode at the chordae, aorta.
SHOTS = (1, 3, 12, 17, 21)
BEATS = 1.2
MOST_BEATS = 2.3  # of the first shot: it holds a whole beat, R wave to R wave, wherever it starts


def write_simulated(study: Path, truth: Path) -> None:
    """Write the files of the study, and apart from them what is true of it."""
    whole = examination(SEED, HandLevel.IMPROVING)
    shots = tuple(
        replace(shot, setting=_short(shot.setting, beats), standard=_short(shot.standard, beats))
        for shot in whole.shots
        if shot.number in SHOTS
        for beats in [MOST_BEATS if shot.number == SHOTS[0] else BEATS]
    )
    wanted = Wanted(study=study, truth=truth)
    make_folders(wanted)
    for _ in write_study(replace(whole, shots=shots), wanted, workers=1):
        pass


def _short(setting: ClipSetting, beats: float) -> ClipSetting:
    return replace(setting, recording=replace(setting.recording, beats=beats))
