"""Clips with known causes, and everything the product says of them: what the weights of causes are learnt from.

Each clip has no fault, one, or two at different knobs. Its record keeps the verdicts of all picture criteria and what
the picture network saw, so that criteria which are told from landmarks or masks can be asked of it later.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from fanlight.frames.polar import to_grey
from fanlight.recognise.beat_frames import BeatFrames
from fanlight.recognise.picture_network import shipped_network
from fanlight.recognise.picture_reading import read_picture
from fanlight.simulate.clip.clip_setting import ClipSetting, Cover
from fanlight.simulate.clip.film import Film
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.faults import faults
from fanlight.simulate.faults.fault import Fault
from fanlight.simulate.faults.faults import FAULTS
from fanlight.simulate.screen.screen_truth import Screen
from fanlight.study import Finding, FrameTimes, PictureChunk, PictureReading, Sector, TimeSource, Verdict
from measure._criterion_cases import PICTURE_FAMILIES
from measure._criterion_clips import BeamStore, Stand, draw_subject, judge, true_time
from measure._criterion_subject import LongClip, breath_film, good_stands

STRENGTHS = (2, 3, 3, 4, 4, 5)  # what a mentor would remark on, and now and then what is only just there
PAIRS_A_STAND = 4
# Faults of the strip and of the record are no causes of a picture; those of time are asked of clips of three beats.
TIME_FAULTS = ("few_beats", "frame_rate_low", "no_ecg")
_NO_PICTURE = ("wrong_label", "sweep_as_clip", "drift_during_clip")
PICTURE_FAULTS = tuple(
    key for key, kind in FAULTS.items() if kind.group.value != "M-mode" and key not in (*TIME_FAULTS, *_NO_PICTURE)
)


def clips_of(seed: int) -> Iterator[dict[str, Any]]:
    """Yield the records of one animal of ring A.

    Raises
    ------
    ValueError
        If lung and ribs of the animal leave no view free.
    """
    subject = draw_subject(seed, Ring.A)
    stands = good_stands(subject, BeamStore(None))
    rng = np.random.default_rng([seed, 211])
    for place, stand in enumerate(stands):
        film = stand.film(stand.good)
        yield _record(stand, (), stand.good, film)
        own = [key for at, key in enumerate(PICTURE_FAULTS) if at % len(stands) == place]
        for key in own:
            yield from _spoilt(stand, film, (key,), rng)
        for _ in range(PAIRS_A_STAND):
            first, second = rng.choice(len(PICTURE_FAULTS), 2, replace=False)
            yield from _spoilt(stand, film, (PICTURE_FAULTS[first], PICTURE_FAULTS[second]), rng)
    yield from _long(stands[0])


def _spoilt(stand: Stand, film: Film, keys: tuple[str, ...], rng: np.random.Generator) -> Iterator[dict[str, Any]]:
    """Yield the clip with these faults, or nothing where they do not go together or the hand would leave the chest."""
    if len({FAULTS[key].knob for key in keys}) < len(keys):
        return
    animal, setting = stand.subject.animal, stand.good
    made: list[Fault] = []
    try:
        for key in keys:
            fault = faults.make(key, int(rng.choice(STRENGTHS)), animal, rng)
            setting = faults.apply(fault, setting, animal)
            made.append(fault)
    except ValueError:
        return
    yield _record(stand, tuple(made), setting, film)


def _record(stand: Stand, made: tuple[Fault, ...], setting: ClipSetting, film: Film) -> dict[str, Any]:
    said = said_of(stand, setting, film)
    return _facts(stand, made) | {
        "findings": [_said(item) for item in said.findings],
        "picture": asdict(said.picture),
        "sector": asdict(said.sector),
        "mm_per_px": said.mm_per_px,
    }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Said:
    """What the product says of a clip of one beat."""

    findings: tuple[Finding, ...]  # of the picture's own families
    picture: PictureReading
    sector: Sector
    mm_per_px: float


def said_of(stand: Stand, setting: ClipSetting, film: Film) -> Said:
    """Make the clip of a setting, judge it and show it to the network; lung is shown over a whole breath."""
    if any(item.cover is Cover.LUNG for item in setting.obstacles):
        film = breath_film(stand, setting)
    screen = stand.clip(setting, film, "unkept")
    return Said(
        findings=tuple(judge(screen, film, PICTURE_FAMILIES).values()), picture=_picture(screen, film),
        sector=screen.placed.sector, mm_per_px=screen.placed.mm_per_px,
    )  # fmt: skip


def _facts(stand: Stand, made: tuple[Fault, ...]) -> dict[str, Any]:
    animal = stand.subject.animal
    return {
        "seed": stand.subject.seed, "view": stand.view, "heart": animal.heart.value, "species": animal.species.value,
        "weight_kg": animal.weight_kg, "causes": [{"key": item.key, "strength": item.strength} for item in made],
    }  # fmt: skip


def _said(item: Finding) -> list[str]:
    verdict = "" if item.verdict is Verdict.NOT_ASSESSABLE else item.verdict.value
    return [item.criterion, verdict, item.side.value]


def _picture(screen: Screen, film: Film) -> PictureReading:
    """Return what the network says of the picture, as a review asks it."""
    sector = screen.placed.sector
    frames = BeatFrames(sector)
    grey = to_grey(screen.frames)
    frames.add(PictureChunk(first=0, pixels=screen.frames, grey=grey, beams=None))
    times = FrameTimes(times_ms=film.times_ms, source=TimeSource.FRAME_TIME)
    return read_picture(shipped_network(), frames, sector, true_time(film, times))


def _long(stand: Stand) -> Iterator[dict[str, Any]]:
    """Yield clips of three beats: good, too short, too slow, without ECG; only time is asked of them."""
    clip = LongClip(stand)
    yield _facts(stand, ()) | {"findings": _answers(clip.good().answers)}
    for faulty in clip.faulty():
        if faulty.fault in TIME_FAULTS:
            yield _facts(stand, ()) | {
                "causes": [{"key": faulty.fault, "strength": faulty.strength}],
                "findings": _answers(faulty.answers),
            }


def _answers(answers: tuple[Any, ...]) -> list[list[str]]:
    return [[item.criterion, "" if not item.is_judged else item.verdict, ""] for item in answers]
