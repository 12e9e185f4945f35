"""Let a reader who knows nothing of the labels name view and fault on simulated pictures, and count what was right.

    python -m measure.blind_reading make FOLDER --key KEY.csv [--seed N]   60 pictures, an answer sheet, and the key
    python -m measure.blind_reading score ANSWERS.csv --key KEY.csv        writes the table of docs/simulator.md

Pictures and key lie outside the repository, apart from each other: no test may come to depend on them, and the reader
must not see the key. Each picture shows a console's screen at three moments of one clip. The answer sheet says of each
view what the house's table asks it to show, as any atlas does.
"""

from __future__ import annotations

import argparse
import csv
import os
import sys
from collections import Counter
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
from fanlight.simulate.clip.ring import Ring, SeedError, ring_of
from fanlight.simulate.faults.fault import Fault
from fanlight.simulate.faults.faults import FAULTS, apply, make
from fanlight.simulate.screen.screen_facts import ScreenFacts
from fanlight.simulate.screen.screen_layouts import LAYOUTS
from fanlight.simulate.steady.steady import steady_setting
from fanlight.simulate.visit.practice import draw_facts
from fanlight.study import Species
from measure._described import described
from measure._panel import film_of_moments
from measure._wilson import wilson
from scripts.measured import write_table

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "simulator.md"
N_PICTURES, N_FAULTY = 60, 20
SCREEN_PX = 640  # width of each of the screens
NONE = "none"
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
    folder, key = folder.resolve(), key.resolve()
    for path, what in ((folder, "the pictures"), (key, "the key")):
        if path.is_relative_to(ROOT):
            raise SystemExit(f"{path}: {what} must lie outside the repository {ROOT}; name a folder elsewhere")
    if key.is_relative_to(folder):
        raise SystemExit(f"{key}: the key must not lie beside the pictures; name a file outside {folder}")
    if folder.exists() and any(folder.iterdir()):
        raise SystemExit(f"{folder}: expected an empty folder, found files; name another or empty it")
    folder.mkdir(parents=True, exist_ok=True)
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
    key.parent.mkdir(parents=True, exist_ok=True)
    with key.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([KEY_FIELDS, *rows])


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
    """Return key and answers side by side.

    Raises
    ------
    SystemExit
        If a number is missing, comes twice or does not exist, or a word is not on the answer sheet.
    """
    truth = {int(row["number"]): row for row in _rows(key, ("number", "view", "fault"))}
    said: dict[int, tuple[str, str]] = {}
    views, faults = _by_word(titles()), _by_word(fault_titles())
    for line, row in enumerate(_rows(answers, ("number", "view", "fault")), start=2):
        where = f"{answers.name}, line {line}"
        if not row["number"].strip().isdigit() or int(row["number"]) not in truth:
            raise SystemExit(f"{where}: expected a number of the key, found {row['number']!r}; correct the number")
        number = int(row["number"])
        if number in said:
            raise SystemExit(f"{where}: number {number} comes twice; keep one of the answers")
        said[number] = (_word(row["view"], views, f"{where}, view"), _word(row["fault"], faults, f"{where}, fault"))
    missing = sorted(set(truth) - set(said))
    if missing:
        raise SystemExit(f"{answers.name}: no answer for {', '.join(map(str, missing))}; answer every picture")
    return [
        Reading(number=n, view=row["view"], fault=row["fault"], said_view=said[n][0], said_fault=said[n][1])
        for n, row in sorted(truth.items())
    ]


def _rows(path: Path, columns: Sequence[str]) -> list[dict[str, str]]:
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            rows = list(csv.DictReader(file))
    except OSError as error:
        raise SystemExit(f"{path}: cannot be read ({error.strerror}); name a CSV file") from None
    missing = [name for name in columns if not rows or rows[0].get(name) is None]
    if missing:
        raise SystemExit(f"{path.name}: expected the columns {', '.join(columns)}, found no {', '.join(missing)}")
    return rows


def _by_word(titles_by_key: dict[str, str]) -> dict[str, str]:
    words = {title.casefold(): key for key, title in titles_by_key.items()}
    return words | {key.casefold(): key for key in titles_by_key} | ({"": NONE} if NONE in titles_by_key else {})


def _word(said: str, words: dict[str, str], where: str) -> str:
    try:
        return words[said.strip().casefold()]
    except KeyError:
        raise SystemExit(f"{where}: expected a title of the answer sheet, found {said!r}; copy one from it") from None


def share(right: int, n: int) -> str:
    """Return a share with its 95 % Wilson interval."""
    low, high = wilson(right, n)
    return f"{right} of {n} ({100 * right / n:.0f} %; {100 * low:.0f} to {100 * high:.0f} %)" if n else "none asked"


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
        f"{len(readings)} pictures, read without labels by {reader}. **The reader is a language model's vision, not a "
        "clinician**: what it cannot name, a cardiologist may, and the other way round.",
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
        *_confusion("view", [(r.view, r.said_view) for r in readings], titles()),
        "",
        *_confusion("fault", [(r.fault, r.said_fault) for r in readings], fault_titles()),
    ]
    return "\n".join(lines)


def _confusion(what: str, pairs: Sequence[tuple[str, str]], words: dict[str, str]) -> list[str]:
    lines = [f"| {what} shown | n | named rightly | taken for |", "|---|---|---|---|"]
    for key in words:
        said = Counter(answer for truth, answer in pairs if truth == key)
        if said:
            others = "; ".join(f"{words[a]} ({n})" for a, n in said.most_common() if a != key)
            lines.append(f"| {words[key]} | {said.total()} | {said[key]} | {others or '–'} |")
    return lines


def score(answers: Path, key: Path, reader: str) -> None:
    """Write the table of a reading into docs/simulator.md."""
    readings = read_answers(answers, key)
    seeds = [row["seed"] for row in _rows(key, ("seed",))]
    write_table(
        PAGE, "read-blind", report(readings, reader), script="measure/blind_reading.py",
        describes=described("measure/blind_reading.py", "measure/_panel.py"),
        seeds=f"{seeds[0]} to {seeds[-1]}",
    )  # fmt: skip


def main() -> None:
    """Make a reading or score one."""
    parser = argparse.ArgumentParser(description="Let a reader name simulated pictures, and count what was right.")
    commands = parser.add_subparsers(dest="command")
    making = commands.add_parser("make", help="write the pictures, the answer sheet and the key")
    making.add_argument("folder", type=Path, help="empty folder outside the repository")
    making.add_argument("--key", type=Path, required=True, help="file for the key, outside that folder")
    making.add_argument("--seed", type=int, default=0, help="first of 60 seeds of ring A")
    scoring = commands.add_parser("score", help="count the answers and write docs/simulator.md")
    scoring.add_argument("answers", type=Path, help="CSV with the columns number, view and fault")
    scoring.add_argument("--key", type=Path, required=True)
    scoring.add_argument("--reader", default="one reader", help="who read, for the table")
    scoring.add_argument("--print", action="store_true", help="print the table and leave docs/ alone")
    chosen = parser.parse_args()
    cv2.setNumThreads(1)
    if chosen.command is None:  # scripts/measure runs every script without arguments; nobody can read for it
        print(f"Nothing was measured: this needs a reader.\n{__doc__}", file=sys.stderr)
    elif chosen.command == "make":
        try:
            ring_of(chosen.seed, Ring.A)
            ring_of(chosen.seed + N_PICTURES - 1, Ring.A)
        except SeedError as error:
            raise SystemExit(f"--seed {chosen.seed}: {error}; {N_PICTURES} seeds follow each other") from None
        make_reading(chosen.folder, chosen.key, chosen.seed)
    elif chosen.print:
        print(report(read_answers(chosen.answers, chosen.key), chosen.reader))
    else:
        score(chosen.answers, chosen.key, chosen.reader)


if __name__ == "__main__":
    main()
