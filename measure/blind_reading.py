"""Let a reader who knows nothing of the labels name view and fault on simulated pictures, and count what was right.

    python -m measure.blind_reading make FOLDER --key KEY.csv [--seed N]   60 pictures, an answer sheet, and the key
    python -m measure.blind_reading score ANSWERS.csv --key KEY.csv        writes the table of docs/simulator.md

Pictures and key lie outside the repository, apart from each other: no test may come to depend on them, and the reader
must not see the key. Each picture shows a console's screen at three moments of one clip. The answer sheet says of each
view what the house's table asks it to show, as any atlas does.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # as the simulator's worker does

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal, draw_animal
from fanlight.heart.cycle import Still
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.heart.standard_poses import STANDARD_VIEWS
from fanlight.reference.load import load_house
from fanlight.reference.views import read_views
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.clip.picture import screen_of
from fanlight.simulate.clip.ring import Ring, ring_of
from fanlight.simulate.faults.fault import Fault
from fanlight.simulate.faults.faults import FAULTS, apply, make
from fanlight.simulate.screen.screen_facts import ScreenFacts
from fanlight.simulate.screen.screen_layouts import LAYOUTS
from fanlight.simulate.steady.steady import steady_setting
from fanlight.simulate.visit.practice import draw_facts
from fanlight.study import Species
from measure._blind import (
    NONE,
    PAGE,
    READER,
    BlindReading,
    confusion,
    empty_folder,
    read_rows,
    read_said,
    share,
    write_key,
)
from measure._described import described
from measure._panel import film_of_moments
from scripts.measured import write_table

N_PICTURES, N_FAULTY = 60, 20
SCREEN_PX = 640  # width of each of the screens
# Faults that three pictures of a clip can show, at a grade at which a mentor would see them. Left out: what shows over
# time only (rate, persistence, beats, drift), what needs the label or the machine's own pixels, and M-mode.
SHOWN_FAULTS = (
    "slide_dorsal", "slide_ventral", "space_cranial", "space_caudal", "rotate_clockwise", "rotate_counterclockwise",
    "tilt_plus", "tilt_minus", "rock_plus", "rock_minus", "level_towards_apex", "level_towards_base", "foreshortened",
    "off_centre", "mirrored", "gain_high", "gain_low", "tgc_slider", "far_field_loss", "near_field_dark",
    "focus_shallow", "focus_deep", "depth_large", "depth_small", "sector_wide", "sector_narrow", "frequency_low",
    "frequency_high", "compounding_heavy", "contact_lifted", "contact_dry", "lung_in_the_way", "rib_shadow",
    "near_field_clutter", "no_ecg",
)  # fmt: skip
GRADES = (4, 5)
MOMENTS = (Still.END_DIASTOLE, Still.EARLY_FILLING, Still.END_SYSTOLE)
WEIGHTS_KG = {Species.DOG: (5.0, 35.0), Species.CAT: (3.0, 6.0)}
CAT_FRACTION = 0.2
KEY_FIELDS = ("number", "view", "fault", "grade", "amount", "unit", "species", "weight_kg", "seed")
Image = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One picture before it is made."""

    view: str
    fault: Fault | None
    animal: Animal
    setting: ClipSetting
    seed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What one picture shows, and what the reader said."""

    number: int
    view: str
    fault: str  # key, or NONE
    said_view: str
    said_fault: str


def titles() -> dict[str, str]:
    """Return the titles of the views that can be drawn, by key."""
    views = read_views(load_house())
    return {key: views[key].title for key in STANDARD_VIEWS}


def fault_titles() -> dict[str, str]:
    """Return the titles of the faults that the reader may name, by key."""
    return {NONE: "none"} | {key: FAULTS[key].title for key in SHOWN_FAULTS}


def draw_cases(seed: int) -> list[Case]:
    """Return the cases in the order of their numbers: every view three times and a few a fourth time."""
    rng = np.random.default_rng(seed)
    extra = N_PICTURES % len(STANDARD_VIEWS)
    views = [*STANDARD_VIEWS * (N_PICTURES // len(STANDARD_VIEWS)), *rng.permutation(STANDARD_VIEWS)[:extra]]
    views = [str(view) for view in rng.permutation(views)]
    faulty = {int(i) for i in rng.permutation(N_PICTURES)[:N_FAULTY]}
    wanted = [str(key) for key in rng.permutation(SHOWN_FAULTS)]
    cases = []
    for index, view in enumerate(views):
        animal = _draw_animal(seed + index, rng)
        setting = steady_setting(animal, view)
        fault: Fault | None = None
        if index in faulty:
            fault, setting = _with_fault(animal, setting, wanted, rng)
        cases.append(Case(view=view, fault=fault, animal=animal, setting=setting, seed=seed + index))
    return cases


def _draw_animal(seed: int, rng: np.random.Generator) -> Animal:
    ring_of(seed, Ring.A)
    species = Species.CAT if rng.random() < CAT_FRACTION else Species.DOG
    return draw_animal(
        species=species, weight_kg=round(float(rng.uniform(*WEIGHTS_KG[species])), 1), heart=HeartClass.NORMAL,
        chest=Chest.AVERAGE, seed=seed,
    )  # fmt: skip


def _with_fault(
    animal: Animal, setting: ClipSetting, wanted: list[str], rng: np.random.Generator
) -> tuple[Fault, ClipSetting]:
    """Take the first fault that is still wanted and can be made here off the list."""
    for key in wanted:
        if not FAULTS[key].fits(setting):
            continue
        fault = make(key, int(rng.choice(GRADES)), animal, rng)
        try:
            changed = apply(fault, setting, animal)
        except ValueError:
            continue  # no skin that way
        wanted.remove(key)
        return fault, changed
    raise SystemExit(f"no fault fits the view {setting.view}; add one to SHOWN_FAULTS")


def draw_picture(case: Case, rng: np.random.Generator) -> Image:
    """Return the moments side by side, each as the console's screen shows it."""
    layout = LAYOUTS[str(rng.choice(list(LAYOUTS)))]
    film = film_of_moments(case.animal, case.setting, MOMENTS)
    frames = screen_of(case.animal, case.setting, film, layout, _facts(case), rng).frames
    return np.hstack([_at_width(frame) for frame in frames])


def _at_width(frame: Image) -> Image:
    size = (SCREEN_PX, round(frame.shape[0] * SCREEN_PX / frame.shape[1]))
    kind = cv2.INTER_AREA if frame.shape[1] > SCREEN_PX else cv2.INTER_CUBIC
    return np.asarray(cv2.resize(frame, size, interpolation=kind), np.uint8)


def _facts(case: Case) -> ScreenFacts:
    visit = draw_facts(seed=case.seed, species=case.animal.species, weight_kg=case.animal.weight_kg)
    console = case.setting.console
    has_ecg = case.setting.recording.has_ecg
    return ScreenFacts(
        depth_mm=console.depth_mm, frequency_mhz=console.frequency_mhz, gain_db=console.gain_db,
        dynamic_range_db=console.dynamic_range_db, frame_rate_hz=console.frame_rate_hz, harmonics=console.is_harmonic,
        focus_mm=min(console.focus_mm, console.depth_mm),
        heart_rate_bpm=round(case.animal.rhythm.rate_bpm) if has_ecg else None,
        practice=visit.practice.name, animal=visit.patient.animal_name, owner=visit.patient.responsible.family,
        case_number=visit.patient.case_number, at=visit.began_at,
    )  # fmt: skip


def make_reading(folder: Path, key: Path, seed: int) -> None:
    """Write the pictures and the answer sheet into the folder, and the key elsewhere."""
    folder, key = empty_folder(folder, key)
    rows = []
    for number, case in enumerate(draw_cases(seed), start=1):
        print(f"{number}/{N_PICTURES}", file=sys.stderr, flush=True)
        image = draw_picture(case, np.random.default_rng([seed, number]))
        cv2.imwrite(str(folder / f"{number:02d}.png"), np.ascontiguousarray(image[..., ::-1]))
        fault = case.fault
        rows.append(
            (number, case.view, fault.key if fault else NONE, fault.strength if fault else 0,
             f"{fault.amount:g}" if fault else "", fault.unit if fault else "", case.animal.species.value,
             case.animal.weight_kg, case.seed)
        )  # fmt: skip
    (folder / "answers.md").write_text(answer_sheet(), encoding="utf-8")
    write_key(key, KEY_FIELDS, rows)


def answer_sheet() -> str:
    """Return what the reader is told."""
    table = read_views(load_house())
    views = "\n".join(
        f"- {table[key].title}\n  (must show: {'; '.join(table[key].must_show)})" for key in STANDARD_VIEWS
    )
    faults = "\n".join(f"- {title}" for title in fault_titles().values())
    return f"""# Answer sheet

Simulated echocardiograms of dogs and cats, {N_PICTURES} pictures, 01.png to {N_PICTURES}.png. Each shows one clip at
end-diastole (left), in early filling (middle) and at end-systole (right). Screen right is cranial, from the right side
the base of the heart; from the apex the left heart. Some pictures have one fault, most have none. Name for each the
view that the hand was after, and the fault if there is one. Write a CSV file with the columns number, view and fault,
in these words (of a view the line before the bracket):

## Views

{views}

## Faults

{faults}
"""


def read_answers(answers: Path, key: Path) -> list[Reading]:
    """Return key and answers side by side; ends the program where they do not fit, see `read_said`."""
    truth = {int(row["number"]): row for row in read_rows(key, ("number", "view", "fault"))}
    said = read_said(answers, truth, {"view": titles(), "fault": fault_titles()})
    return [
        Reading(number=n, view=row["view"], fault=row["fault"], said_view=said[n][0], said_fault=said[n][1])
        for n, row in sorted(truth.items())
    ]


def report(readings: Sequence[Reading], reader: str) -> str:
    """Return the table of a reading as Markdown."""
    good = [r for r in readings if r.fault == NONE]
    faulty = [r for r in readings if r.fault != NONE]

    def view_right(some: Sequence[Reading]) -> str:
        return share(sum(r.view == r.said_view for r in some), len(some))

    groups = [(FAULTS[r.fault].group, FAULTS[r.said_fault].group if r.said_fault != NONE else None) for r in faulty]
    lines = [
        "## Read blind",
        "",
        f"{len(readings)} pictures, read without labels by {reader}. {READER}",
        "",
        "| asked | right, with 95 % interval (Wilson) |",
        "|---|---|",
        f"| view, planes without a fault | {view_right(good)} |",
        f"| view, clips with a fault | {view_right(faulty)} |",
        f"| view, all | {view_right(readings)} |",
        f"| the very fault, where there is one | {share(sum(r.fault == r.said_fault for r in faulty), len(faulty))} |",
        f"| a fault of the same group | {share(sum(a is b for a, b in groups), len(groups))} |",
        f"| any fault, where there is one | {share(sum(r.said_fault != NONE for r in faulty), len(faulty))} |",
        f"| no fault, where there is none | {share(sum(r.said_fault == NONE for r in good), len(good))} |",
        "",
        *confusion("view", [(r.view, r.said_view) for r in readings], titles()),
        "",
        *confusion("fault", [(r.fault, r.said_fault) for r in readings], fault_titles()),
    ]
    return "\n".join(lines)


def score(answers: Path, key: Path, reader: str) -> None:
    """Write the table of a reading into docs/simulator.md."""
    readings = read_answers(answers, key)
    seeds = [row["seed"] for row in read_rows(key, ("seed",))]
    write_table(
        PAGE, "read-blind", report(readings, reader), script="measure/blind_reading.py",
        describes=described("measure/blind_reading.py", "measure/_blind.py", "measure/_panel.py"),
        seeds=f"{seeds[0]} to {seeds[-1]}",
    )  # fmt: skip


def main() -> None:
    """Make a reading or score one."""
    BlindReading(
        doc=__doc__ or "", n_pictures=N_PICTURES, first_seed=0, columns="number, view and fault",
        make=lambda folder, key, seed, _: make_reading(folder, key, seed),
        report=lambda answers, key, reader: report(read_answers(answers, key), reader), score=score,
    ).main()  # fmt: skip


if __name__ == "__main__":
    main()
