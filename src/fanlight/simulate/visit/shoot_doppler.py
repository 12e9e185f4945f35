"""Make one rung of the Doppler ladder: a colour clip or a spectrum, its file, and what is true of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from fanlight.heart.blood.circulation import Circulation
from fanlight.heart.moving_body import moving_body
from fanlight.simulate.clip.colour_clip import colour_film, colour_screen_of
from fanlight.simulate.clip.spectral_clip import motion_before, spectral_film, spectral_screen_of, strip_ms
from fanlight.simulate.clip.unsteady_probe import unsteady_film
from fanlight.simulate.dicom.colour_dicom import write_colour_clip
from fanlight.simulate.dicom.dicom_pixels import USUAL_JPEG_QUALITY
from fanlight.simulate.dicom.dicom_spectral import write_spectral_clip
from fanlight.simulate.visit.doppler_truth import truth_of_colour, truth_of_spectrum
from fanlight.simulate.visit.examination import Examination
from fanlight.simulate.visit.shot import DopplerShot, Shot
from fanlight.simulate.visit.shot_facts import clip_facts, file_name, screen_facts
from fanlight.simulate.visit.shot_truth import LabelledPlane, truth_of_shot
from fanlight.simulate.visit.truth import FileTruth

_AFTER_MS = 50.0  # beyond the last frame, for the motion of tissue at it
Made = tuple[FileTruth, tuple[LabelledPlane, ...]]


def shoot_doppler(
    examination: Examination,
    shot: Shot,
    study: Path,
    rng: np.random.Generator,
    *,
    labelled: bool,
    label_maps: bool,
) -> Made:
    """Make a colour clip or a spectrum, write its file, and return its truth with the labels of its moments.

    Raises
    ------
    ValueError
        If the shot is no Doppler, or its examination was drawn without it.
    """
    doppler, circulation = shot.doppler, examination.circulation
    if doppler is None or circulation is None:
        raise ValueError(f"shot {shot.number} has no Doppler; draw the examination with doppler=True")
    make = _spectrum if doppler.setting.is_spectral else _colour
    return make(examination, shot, doppler, circulation, study, rng, labelled, label_maps)


def _colour(
    examination: Examination, shot: Shot, doppler: DopplerShot, circulation: Circulation, study: Path,
    rng: np.random.Generator, labelled: bool, label_maps: bool,
) -> Made:  # fmt: skip
    animal, setting, colour = examination.animal, shot.setting, doppler.setting.colour
    film = colour_film(animal, setting, colour, start_ms=shot.start_ms)
    film = unsteady_film(animal, film, doppler.setting.unsteady)
    body = moving_body(
        animal, circulation, film.beats, start_ms=film.start_ms, duration_ms=film.times_ms[-1] + _AFTER_MS
    )
    whole = colour_screen_of(
        animal, setting, colour, body, film, examination.layout, screen_facts(examination, shot, film), rng,
        labelled=labelled, table=examination.generator.table(),
    )  # fmt: skip
    name = file_name(shot.number)
    clip = clip_facts(examination, shot, film, whole.screen, labelled)
    write_colour_clip(study / name, clip, examination.facts, jpeg_quality=_quality(shot))
    truth, planes = truth_of_shot(examination, shot, film, whole.screen, name, labelled, label_maps)
    return replace(truth, doppler=truth_of_colour(doppler, whole.colour)), planes


def _spectrum(
    examination: Examination, shot: Shot, doppler: DopplerShot, circulation: Circulation, study: Path,
    rng: np.random.Generator, labelled: bool, label_maps: bool,
) -> Made:  # fmt: skip
    animal, setting, spectral = examination.animal, shot.setting, doppler.setting.spectral
    has_guide = doppler.setting.has_guide
    film = unsteady_film(animal, spectral_film(animal, setting, start_ms=shot.start_ms), doppler.setting.unsteady)
    span_ms = strip_ms(examination.layout, spectral, has_guide=has_guide)
    screen = spectral_screen_of(
        animal, setting, spectral, motion_before(animal, circulation, film, span_ms), film, examination.layout,
        screen_facts(examination, shot, film), rng, has_guide=has_guide, labelled=labelled,
        table=examination.generator.table(),
    )  # fmt: skip
    name = file_name(shot.number)
    clip = clip_facts(examination, shot, film, screen, labelled)
    write_spectral_clip(study / name, clip, examination.facts, spectral.mode, jpeg_quality=_quality(shot))
    truth, planes = truth_of_shot(examination, shot, film, screen, name, labelled, label_maps)
    return replace(truth, doppler=truth_of_spectrum(doppler, screen)), planes


def _quality(shot: Shot) -> int:
    return shot.setting.recording.jpeg_quality or USUAL_JPEG_QUALITY
