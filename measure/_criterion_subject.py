"""All clips of one subject: the good ones of its views, one clip of each fault, and its long clips."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from fanlight.simulate.clip.clip_setting import ClipSetting, Cover
from fanlight.simulate.clip.film import STORED_AT_LEAST_HZ, STORED_PER_BEAT, Film
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.faults.fault import Fault
from fanlight.simulate.faults.faults import FAULTS, apply, make
from fanlight.simulate.machine.point_spread import echo_mhz
from fanlight.simulate.screen.screen_truth import Screen
from measure._criterion_cases import FAULT_KEYS, PICTURE_FAMILIES, cases_of, families_of, strengths_of
from measure._criterion_clips import (
    MOST_COVERED,
    VIEWS,
    BeamStore,
    Stand,
    Subject,
    covered_fraction,
    draw_subject,
    judge,
    views_of,
)
from measure._criterion_record import Answer, FaultyClip, GoodClip, SubjectRecord, answer_of

N_VIEWS = 3  # of each subject
LONG_BEATS = 3.4  # of a good clip, so that three are whole wherever it begins
SLIP_BEATS, SLIP_FRAMES = 2.5, 14  # of a clip during which the probe moves; windows of one beat are compared
# Time is read from clips on a coarse grid: beats and drift are seen on thumbnails of 64 x 64.
TIME_LINES, TIME_SAMPLES = 48, 144
SWEPT_VIEW = "right_parasternal_short_axis_chordae"
BREATHS_SHOWN = 1.1  # in the clips with lung: its edge must be seen to move
LUNG_FRAMES = 24
FROZEN_EVERY = (8, 5, 3, 2, 1)  # by strength: after so many frames one is shown again


def turn_of(seed: int) -> int:
    """Return the turn by which strengths are dealt: all come equally often in each class of heart."""
    return seed // 7 + seed % 7


def measure_subject(seed: int, ring: Ring, store: BeamStore) -> SubjectRecord:
    """Make and judge all clips of a subject."""
    subject = draw_subject(seed, ring)
    stands = good_stands(subject, store)
    good, faulty = [], []
    for index, stand in enumerate(stands):
        film = stand.film(stand.good)
        screen = stand.clip(stand.good, film, "good")
        answers = judged(screen, film, PICTURE_FAMILIES)
        good.append(good_clip(stand, film, answers))
        for at, fault in enumerate(_PICTURE_FAULTS):
            if at % len(stands) == index:
                faulty += [faulty_clip(stand, fault, strength, film) for strength in asked_of(seed, fault)]
    long_ones = [LongClip(stand) for stand in stands]
    good += [clip.good() for clip in long_ones]
    others = long_ones[0].faulty()
    swept = Stand(subject, SWEPT_VIEW, store)
    slips = [
        slip_clip(stand, key, strength)
        for stand, key in ((stands[0], "drift_during_clip"), (swept, "sweep_as_clip"))
        for strength in asked_of(seed, key)
    ]
    return SubjectRecord(seed=seed, good=tuple(good), faulty=(*faulty, *others, *slips))


def asked_of(seed: int, fault: str) -> tuple[int, ...]:
    """Return the strengths at which this subject has this fault."""
    return strengths_of(fault, turn_of(seed))


def good_stands(subject: Subject, store: BeamStore) -> list[Stand]:
    """Return the first views of this subject that its own lung and ribs leave free, three unless there are fewer."""
    stands: list[Stand] = []
    for view in views_of(subject.seed):
        stand = Stand(subject, view, store)
        breath = max(state.breath for state in stand.film(stand.good).states)
        if covered_fraction(subject.animal, stand.good, breath) <= MOST_COVERED:
            stands.append(stand)
            if len(stands) == N_VIEWS:
                break
    if not stands:
        raise ValueError(f"subject {subject.seed}: no view is free of lung and ribs; its chest or its poses are wrong")
    return stands


_LONG_FAULTS = ("few_beats", "frame_rate_low", "no_ecg", "frozen_frames")
_SLIPS = ("drift_during_clip", "sweep_as_clip")
_PICTURE_FAULTS = tuple(key for key in FAULT_KEYS if key not in (*_LONG_FAULTS, *_SLIPS))


def judged(screen: Screen, film: Film, names: tuple[str, ...], *, reads_time: bool = False) -> tuple[Answer, ...]:
    """Return the answers of these families."""
    return tuple(answer_of(finding) for finding in judge(screen, film, names, reads_time=reads_time).values())


def good_clip(stand: Stand, film: Film, answers: tuple[Answer, ...]) -> GoodClip:
    """Return the record of a clip without fault."""
    subject, console = stand.subject, stand.good.console
    animal = subject.animal
    return GoodClip(
        seed=subject.seed, view=stand.view, heart=animal.heart.value, species=animal.species.value,
        weight_kg=animal.weight_kg, chest=animal.chest.value, layout=subject.generator.layout.key,
        grey_map=console.grey_map.value, echo_mhz=echo_mhz(console), array=stand.good.probe.kind.value,
        breath=max(state.breath for state in film.states), answers=answers,
    )  # fmt: skip


def drawn_fault(stand: Stand, key: str, strength: int) -> Fault:
    """Return the fault of this key for this subject, the same on each run."""
    rng = np.random.default_rng([stand.subject.seed, list(FAULTS).index(key), 17])
    return make(key, strength, stand.subject.animal, rng)


def faulty_clip(stand: Stand, key: str, strength: int, film: Film) -> FaultyClip:
    """Make and judge a one-beat clip with a fault; `film` is that of the good clip."""
    fault = drawn_fault(stand, key, strength)
    setting = apply(fault, stand.good, stand.subject.animal)
    if setting.recording != stand.good.recording:
        found = judged(stand.re_exported(setting, film), film, families_of(key))
    else:
        if any(item.cover is Cover.LUNG for item in setting.obstacles):
            film = breath_film(stand, setting)
        found = judged(stand.clip(setting, film, f"{key}-{strength}"), film, families_of(key))
    return record(stand, key, fault.strength, found)


def breath_film(stand: Stand, setting: ClipSetting) -> Film:
    """Return a clip over a whole breath: lung tells itself by sliding."""
    rhythm = stand.subject.animal.rhythm
    beats = BREATHS_SHOWN * rhythm.rate_bpm / rhythm.breaths_per_min
    return stand.film(setting, beats=beats, frames_a_beat=LUNG_FRAMES / beats)


def record(stand: Stand, key: str, strength: int, answers: tuple[Answer, ...]) -> FaultyClip:
    """Return what is kept of a faulty clip: the criteria that should see the fault."""
    asked = {case.criterion for case in cases_of(key)}
    return FaultyClip(
        seed=stand.subject.seed, view=stand.view, heart=stand.subject.animal.heart.value, fault=key,
        strength=strength, answers=tuple(a for a in answers if a.criterion in asked),
    )  # fmt: skip


def coarse(setting: ClipSetting) -> ClipSetting:
    """Return the setting on the grid on which time is read."""
    console = replace(setting.console, n_lines=TIME_LINES, n_samples=TIME_SAMPLES)
    return replace(setting, console=console)


class LongClip:
    """A clip of over three beats without fault, and what is made from its frames."""

    def __init__(self, stand: Stand) -> None:
        self.stand = stand
        self.setting = coarse(stand.good)
        self.beat_hz = stand.subject.animal.rhythm.rate_bpm / 60
        self.rate_hz = max(STORED_AT_LEAST_HZ, STORED_PER_BEAT * self.beat_hz)
        self.film = stand.film(self.setting, beats=LONG_BEATS, frames_a_beat=self.rate_hz / self.beat_hz)
        self.beams = stand.beams(self.setting, self.film, "long")

    def good(self) -> GoodClip:
        """Judge it as it is."""
        screen = self.stand.screen(self.setting, self.film, self.beams, colour=True)
        return good_clip(self.stand, self.film, judged(screen, self.film, ("time",), reads_time=True))

    def faulty(self) -> list[FaultyClip]:
        """Make and judge those that are too short, too slow, without ECG, with doubled frames."""
        made = {
            "few_beats": self._few_beats, "frame_rate_low": self._frame_rate_low, "no_ecg": self._no_ecg,
            "frozen_frames": self._frozen_frames,
        }  # fmt: skip
        assert tuple(made) == _LONG_FAULTS
        return [
            record(self.stand, key, strength, judged(screen, film, ("time",), reads_time=True))
            for key, make_clip in made.items()
            for strength in asked_of(self.stand.subject.seed, key)
            for film, screen in (make_clip(strength),)
        ]

    def _part(self, take: list[int], rate_hz: float, *, has_ecg: bool = True) -> tuple[Film, Screen]:
        film = self.film
        shorter = replace(
            film, states=tuple(film.states[i] for i in take), times_ms=tuple(film.times_ms[i] for i in take),
            rate_hz=rate_hz,
        )  # fmt: skip
        shown = replace(self.setting, recording=replace(self.setting.recording, has_ecg=has_ecg))
        picked = replace(self.beams, levels=self.beams.levels[np.asarray(take)], times_ms=shorter.times_ms)
        return shorter, self.stand.screen(shown, shorter, picked, colour=True)

    def _few_beats(self, strength: int) -> tuple[Film, Screen]:
        beats = drawn_fault(self.stand, "few_beats", strength).amount
        return self._part(list(range(max(2, round(beats * self.rate_hz / self.beat_hz)))), self.rate_hz)

    def _frame_rate_low(self, strength: int) -> tuple[Film, Screen]:
        slower = drawn_fault(self.stand, "frame_rate_low", strength).amount
        take = [int(i / slower) for i in range(max(2, int(len(self.film.times_ms) * slower)))]
        return self._part(take, self.rate_hz * slower)

    def _no_ecg(self, _: int) -> tuple[Film, Screen]:
        return self._part(list(range(len(self.film.times_ms))), self.rate_hz, has_ecg=False)

    def _frozen_frames(self, strength: int) -> tuple[Film, Screen]:
        every = FROZEN_EVERY[strength - 1]
        doubled = [i for at in range(len(self.film.times_ms)) for i in ((at, at) if at % every == every - 1 else (at,))]
        film, screen = self._part(doubled, self.rate_hz)
        even = tuple(1000.0 * i / self.rate_hz for i in range(len(doubled)))  # a recorder's clock knows no doubles
        return replace(film, times_ms=even), screen


def slip_clip(stand: Stand, key: str, strength: int) -> FaultyClip:
    """Make and judge a clip during which the probe moves."""
    fault = drawn_fault(stand, key, strength)
    setting = coarse(apply(fault, stand.good, stand.subject.animal))
    film = stand.film(setting, beats=SLIP_BEATS, frames_a_beat=SLIP_FRAMES)
    screen = stand.screen(setting, film, stand.beams(setting, film, f"{key}-{strength}"))
    return record(stand, key, fault.strength, judged(screen, film, ("time",)))


def describe(record: SubjectRecord) -> dict[str, Any]:
    """Return a line for whoever watches."""
    raised = [a.criterion for clip in record.good for a in clip.answers if a.is_raised]
    return {"seed": record.seed, "good raised": raised, "views": [VIEWS.index(clip.view) for clip in record.good]}
