"""Simulated studies with known causes: habits that run through them, slips of one clip, or nothing at all."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fanlight.reference.causes import CauseRow
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.faults import faults
from fanlight.simulate.faults.faults import FAULTS
from fanlight.study import ClipReading
from measure._criterion_clips import BeamStore, Stand, draw_subject
from measure._criterion_subject import good_stands
from training.cause_clips import said_of
from training.cause_masks import weighed

TAKES = 2  # clips of each view
HELD = 0.8  # share of the clips in which a habit acts
SLIP = 0.06  # share of the clips with a slip of their own
STRENGTHS = (3, 4, 5)  # plain faults and worse
HABITS = (0, 0, 1, 1, 2, 2)  # of a study, by its seed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnStudy:
    """Readings of all clips of a study, and which causes truly act in each."""

    seed: int
    heart: str
    habits: tuple[str, ...]
    readings: tuple[ClipReading, ...]
    acting: tuple[tuple[str, ...], ...]  # by clip


def draw_study(seed: int, ring: Ring, rows: dict[str, CauseRow]) -> DrawnStudy:
    """Return a study of one animal by a steady hand with these habits.

    Raises
    ------
    ValueError
        If lung and ribs of the animal leave no view free.
    """
    subject = draw_subject(seed, ring)
    rng = np.random.default_rng([seed, 307])
    keys = [key for key, row in rows.items() if row.drawn_as and all(_is_of_pictures(name) for name in row.drawn_as)]
    habits = _habits(keys, HABITS[seed % len(HABITS)], rows, rng)
    readings: list[ClipReading] = []
    acting: list[tuple[str, ...]] = []
    for stand in good_stands(subject, BeamStore(None)):
        for _ in range(TAKES):
            wanted = [key for key in habits if rng.random() < HELD]
            if rng.random() < SLIP:
                wanted.append(str(rng.choice(keys)))
            acts, setting = _spoilt(stand, wanted, rows, rng)
            readings.append(_reading(stand, setting, len(readings) + 1))
            acting.append(acts)
    return DrawnStudy(
        seed=seed, heart=subject.animal.heart.value, habits=habits, readings=tuple(readings), acting=tuple(acting)
    )


def _is_of_pictures(name: str) -> bool:
    return name in FAULTS and FAULTS[name].knob not in ("length", "frame rate", "ecg")


def _habits(keys: list[str], n: int, rows: dict[str, CauseRow], rng: np.random.Generator) -> tuple[str, ...]:
    """Return n causes at different knobs."""
    found: list[str] = []
    for key in rng.permutation(keys):
        knobs = {FAULTS[name].knob for other in found for name in rows[other].drawn_as}
        if len(found) < n and not knobs & {FAULTS[name].knob for name in rows[str(key)].drawn_as}:
            found.append(str(key))
    return tuple(found)


def _spoilt(
    stand: Stand, wanted: list[str], rows: dict[str, CauseRow], rng: np.random.Generator
) -> tuple[tuple[str, ...], ClipSetting]:
    """Return which causes act, and the setting; one that does not fit the clip is left out."""
    setting, acts = stand.good, []
    knobs: set[str] = set()
    for key in wanted:
        name = str(rng.choice(rows[key].drawn_as))
        if FAULTS[name].knob in knobs:
            continue
        fault = faults.make(name, int(rng.choice(STRENGTHS)), stand.subject.animal, rng)
        try:
            setting = faults.apply(fault, setting, stand.subject.animal)
        except ValueError:
            continue
        knobs.add(FAULTS[name].knob)
        acts.append(key)
    return tuple(acts), setting


def _reading(stand: Stand, setting: ClipSetting, number: int) -> ClipReading:
    said = said_of(stand, setting, stand.film(stand.good))
    masks = weighed(said.picture, said.sector, stand.view)
    key = f"clip{number:02d}"
    return replace(
        masks, clip=replace(masks.clip, key=key, number=number),
        findings=tuple(replace(item, clip=key) for item in (*said.findings, *masks.findings)),
    )  # fmt: skip
