"""What one training clip shows: an animal, a pose and a machine, drawn far wider than a trainee would meet them.

Seeds of ring A only. All ranges and shares are engineering judgement: wide enough that real machines lie inside.
What ring C has and this does not: hearts deformed outside the family of the model, and axes turned in the chest.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from fanlight.heart.animal import Animal, draw_animal
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.heart.movements import Movement, moved, turn_matrix, turn_vector_rad
from fanlight.heart.pose import Pose
from fanlight.heart.rhythm import EXPIRATION_FRACTION, INSPIRATION_FRACTION, breath_at
from fanlight.heart.standard_poses import standard_pose, view_window
from fanlight.heart.thorax import heart_shift_mm
from fanlight.simulate.clip.clip_setting import ClipSetting, Recording
from fanlight.simulate.faults import faults
from fanlight.simulate.machine.console import Console, GreyMap, default_console
from fanlight.simulate.machine.probe import PROBES, ArrayKind, Probe, default_probe
from fanlight.simulate.machine.tissue_echo import ECHOES, SILENT_DB, EchoTable, echo_table
from fanlight.simulate.steady.steady import PLAIN_WIDTH_DEG, WIDTHS_DEG, blood_black_db, fitting_depth_mm, penetrating
from fanlight.study import Species
from training.label_sets import views
from training.plane_rule import Named, named

LINES, SAMPLES = (68, 101), (224, 353)  # of a drawn picture, from and below: what 160 pixels still show
FAULT_KEYS = (
    "gain_high", "gain_low", "tgc_slider", "far_field_loss", "near_field_dark", "focus_shallow", "focus_deep",
    "frequency_low", "frequency_high", "contact_lifted", "contact_dry", "lung_in_the_way", "rib_shadow",
    "near_field_clutter",
)  # fmt: skip
FAULT_SHARE = 0.35
ECHO_DB = 2.0


class PoseKind(StrEnum):
    """How a pose was drawn."""

    STANDARD = "standard"  # a standard view, with the scatter of a hand
    DISPLACED = "displaced"  # off it by what a trainee's faults amount to
    BETWEEN = "between"  # between two views of one window
    OFF = "off"  # anywhere else before the heart


POSE_SHARES = {PoseKind.STANDARD: 0.45, PoseKind.DISPLACED: 0.25, PoseKind.BETWEEN: 0.12, PoseKind.OFF: 0.18}


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """One standard deviation of each movement of the hand."""

    slide_mm: float  # in an animal of 10 kg
    rotate_deg: float
    tilt_deg: float
    rock_deg: float


STEADY = Spread(slide_mm=0.6, rotate_deg=1.2, tilt_deg=0.8, rock_deg=1.2)  # as the steady hand of the simulator
LEARNING = Spread(slide_mm=2.0, rotate_deg=4.0, tilt_deg=2.5, rock_deg=4.0)  # as its novice
FAULTY = Spread(slide_mm=6.0, rotate_deg=14.0, tilt_deg=7.0, rock_deg=9.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Subject:
    """An animal on the table."""

    seed: int
    animal: Animal
    standards: dict[str, Pose]

    @property
    def unit_mm(self) -> float:
        """Diameter of this animal's healthy left ventricle."""
        return self.animal.anatomy.sizes.unit_mm

    @property
    def scale(self) -> float:
        """Length of this animal beside one of 10 kg."""
        return float((self.animal.weight_kg / 10.0) ** (1 / 3))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shot:
    """A clip before it is drawn."""

    subject: Subject
    setting: ClipSetting
    start_ms: float
    table: EchoTable | None
    kind: PoseKind
    view: str  # that the hand was after; of an off plane, where it started from
    named: Named


def subject_of(seed: int, animal: Animal) -> Subject:
    """Return an animal with all its standard poses."""
    return Subject(seed=seed, animal=animal, standards={view: standard_pose(animal, view) for view in views()})


def draw_subject(seed: int) -> Subject:
    """Return the animal of a seed."""
    rng = np.random.default_rng([seed, 71])
    species = Species.CAT if rng.random() < 0.25 else Species.DOG
    low, high = (2.2, 7.0) if species is Species.CAT else (2.0, 55.0)
    heart = HeartClass.NORMAL if rng.random() < 0.25 else HeartClass(rng.choice([h.value for h in HeartClass]))
    return subject_of(
        seed,
        draw_animal(
            species=species,
            weight_kg=float(np.exp(rng.uniform(np.log(low), np.log(high)))),
            heart=heart,
            chest=Chest(str(rng.choice([chest.value for chest in Chest]))),
            seed=seed,
        ),
    )


def draw_shot(subject: Subject, rng: np.random.Generator) -> Shot:
    """Return a clip of this animal with everything drawn at random."""
    kind = PoseKind(rng.choice([k.value for k in POSE_SHARES], p=list(POSE_SHARES.values())))
    view = str(rng.choice(views()))
    pose = draw_pose(subject, view, kind, rng)
    probe = draw_probe(subject.animal.weight_kg, rng)
    console = draw_console(probe, subject.animal, rng)
    setting = aimed(subject.animal, view, pose, probe, console, rng)
    if rng.random() < FAULT_SHARE:
        setting = _spoilt(setting, subject.animal, rng)
    start_ms = start_of(subject.animal, rng, waits=bool(rng.random() < 0.6))
    return Shot(
        subject=subject, setting=setting, start_ms=start_ms,
        table=draw_table(rng) if rng.random() < 0.7 else None, kind=kind, view=view,
        named=name_at(subject, pose, start_ms),
    )  # fmt: skip


def _spoilt(setting: ClipSetting, animal: Animal, rng: np.random.Generator) -> ClipSetting:
    fault = faults.make(str(rng.choice(FAULT_KEYS)), int(rng.integers(1, 5)), animal, rng)
    try:
        return faults.apply(fault, setting, animal)
    except ValueError:  # no console goes so far, as with a frequency above the highest: the setting stays
        return setting


def name_at(subject: Subject, pose: Pose, start_ms: float) -> Named:
    """Return what the picture of a pose is to be called, with the heart where the breath has moved it."""
    rhythm = subject.animal.rhythm
    breath = breath_at(rhythm, start_ms + 30_000.0 / rhythm.rate_bpm)  # in the middle of one beat
    shift = heart_shift_mm(subject.animal.thorax, breath)
    return named(Pose(origin_mm=pose.origin_mm - shift, axes=pose.axes), subject.standards, subject.unit_mm)


def start_of(animal: Animal, rng: np.random.Generator, *, waits: bool) -> float:
    """Return when a clip begins: when the animal has breathed out, or at any time."""
    rhythm = animal.rhythm
    breath_ms = 60_000.0 / rhythm.breaths_per_min
    if not waits:
        return float(rng.uniform(0.0, 4.0)) * breath_ms
    out_ms = rhythm.breath_start_ms + (INSPIRATION_FRACTION + EXPIRATION_FRACTION) * breath_ms
    return float(out_ms % breath_ms + breath_ms * rng.integers(1, 4))


def draw_pose(subject: Subject, view: str, kind: PoseKind, rng: np.random.Generator) -> Pose:
    """Return a pose of this kind, near the standard pose of this view or starting from it."""
    pose = subject.standards[view]
    if kind is PoseKind.STANDARD:
        return scattered(subject, pose, STEADY if rng.random() < 0.4 else LEARNING, rng)
    if kind is PoseKind.DISPLACED:
        return scattered(subject, pose, FAULTY, rng)
    if kind is PoseKind.BETWEEN:
        others = [v for v in views() if v != view and view_window(v) is view_window(view)]
        if others:
            pose = between(pose, subject.standards[str(rng.choice(others))], float(rng.uniform(0.1, 0.9)))
        return scattered(subject, pose, LEARNING, rng)
    if rng.random() < 0.5:
        pose = moved(subject.animal, pose, Movement.ROTATE, float(rng.uniform(25.0, 335.0)))
    else:
        pose = moved(subject.animal, pose, Movement.TILT, float(rng.choice([-1, 1]) * rng.uniform(12.0, 40.0)))
    return scattered(subject, pose, FAULTY, rng)


def scattered(subject: Subject, pose: Pose, spread: Spread, rng: np.random.Generator) -> Pose:
    """Return the pose after a small movement of each kind."""
    steps = (
        (Movement.SLIDE, spread.slide_mm * subject.scale), (Movement.ROTATE, spread.rotate_deg),
        (Movement.TILT, spread.tilt_deg), (Movement.ROCK, spread.rock_deg),
    )  # fmt: skip
    for movement, width in steps:
        amount = float(rng.normal(0.0, width))
        try:
            pose = moved(subject.animal, pose, movement, amount)
        except ValueError:  # a slide would leave this side of the chest: the hand stays where it is
            continue
    return pose


def between(first: Pose, second: Pose, share: float) -> Pose:
    """Return the pose on the straight way from one to another, turned by the same share."""
    turn = turn_vector_rad(first.axes.T @ second.axes)
    axes = first.axes @ turn_matrix(share * turn)
    return Pose(origin_mm=first.origin_mm + share * (second.origin_mm - first.origin_mm), axes=axes)


def draw_probe(weight_kg: float, rng: np.random.Generator) -> Probe:
    """Return an array: mostly the phased one for this weight, else a neighbour or a curved one, with any lens."""
    usual = default_probe(weight_kg * float(np.exp(rng.normal(0.0, 0.35))))
    if rng.random() < 0.18:
        usual = PROBES["curved small" if weight_kg < 28 else "curved large"]
    scale = float(rng.uniform(0.7, 1.3))
    return replace(
        usual,
        name=f"{usual.name}, drawn",
        aperture_mm=usual.aperture_mm * (min(scale, 1.0) if usual.kind is ArrayKind.CURVED else scale),
        elevation_mm=usual.elevation_mm * float(rng.uniform(0.75, 1.35)),
        elevation_focus_mm=usual.elevation_focus_mm * float(rng.uniform(0.7, 1.4)),
        pulse_cycles=float(rng.uniform(1.4, 3.2)),
    )


def draw_console(probe: Probe, animal: Animal, rng: np.random.Generator) -> Console:
    """Return settings; depth, width and focus are set when the probe is aimed."""
    harmonic = bool(rng.random() < 0.7)
    console = default_console(probe, animal.species, animal.weight_kg, is_harmonic=harmonic)
    wished = console.frequency_mhz * float(rng.uniform(0.8, 1.25))
    return replace(
        console,
        frequency_mhz=float(np.clip(wished, probe.low_mhz, probe.high_mhz)),
        dynamic_range_db=float(rng.uniform(42, 82)),
        grey_map=GreyMap(str(rng.choice([grey.value for grey in GreyMap]))),
        n_looks=2 if rng.random() < 0.12 else 1,
        persistence_fraction=float(rng.uniform(0.0, 0.4)),
        edge_enhancement_fraction=float(rng.uniform(0.0, 0.4)),
        reject_fraction=float(rng.uniform(0.0, 0.06)),
        gain_db=float(rng.normal(0.0, 3.0)),
    )


def aimed(
    animal: Animal, view: str, pose: Pose, probe: Probe, console: Console, rng: np.random.Generator
) -> ClipSetting:
    """Return the setting with a depth and width that suit what the pose shows, spread widely."""
    plain = WIDTHS_DEG.get(view, PLAIN_WIDTH_DEG) if probe.kind is ArrayKind.PHASED else probe.widest_deg
    width = float(np.clip(plain * rng.uniform(0.72, 1.15), 35.0, probe.widest_deg))
    depth = float(np.clip(fitting_depth_mm(animal, pose, width) * rng.uniform(0.88, 1.35), 25.0, 320.0))
    console = replace(
        console,
        depth_mm=depth,
        width_deg=width,
        focus_mm=depth * float(rng.uniform(0.45, 0.75)),
        n_lines=int(rng.integers(*LINES)),
        n_samples=int(rng.integers(*SAMPLES)),
        gain_db=console.gain_db + blood_black_db(console),
    )
    quality = int(rng.integers(35, 92)) if rng.random() < 0.4 else None
    return ClipSetting(
        view=view, said_view=view, pose=pose, probe=probe, console=penetrating(console, probe),
        recording=Recording(beats=1.0, jpeg_quality=quality),
    )  # fmt: skip


def draw_table(rng: np.random.Generator) -> EchoTable:
    """Return tissues that answer a little otherwise; tissues of one kind stay alike."""
    shift = {echo: (rng.normal(0, ECHO_DB), rng.uniform(0.6, 1.5)) for echo in dict.fromkeys(ECHOES.values())}
    return echo_table(
        np,
        {
            label: replace(
                echo,
                scatter_db=echo.scatter_db + (float(shift[echo][0]) if echo.scatter_db > SILENT_DB else 0.0),
                gaps_db=echo.gaps_db * float(shift[echo][1]),
            )
            for label, echo in ECHOES.items()
        },
    )
