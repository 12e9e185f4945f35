"""Let a reader who knows nothing of the labels name Doppler faults on simulated clips, and count what was right.

    python -m measure.doppler_blind make FOLDER --key KEY.csv [--seed N]   45 pictures, an answer sheet, and the key
    python -m measure.doppler_blind score ANSWERS.csv --key KEY.csv        writes the table of docs/simulator.md

Pictures and key lie outside the repository, apart from each other, as for the 2-D reading. Each picture is the whole
screen of a spectrum, or three frames of a colour clip with the middle line of its box over time. The reader is told
which valve and which rung the hand was after.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")

import cv2
import numpy as np

from fanlight.heart.kinds import HeartClass
from fanlight.reference.load import load_house
from fanlight.reference.views import read_views
from fanlight.simulate.clip.doppler_setting import DopplerClip
from fanlight.simulate.colour.colour_map import COLOUR_MAPS
from fanlight.simulate.faults.doppler_faults import DOPPLER_FAULTS, apply_doppler
from fanlight.simulate.faults.fault import Fault
from fanlight.simulate.screen.screen_layouts import LAYOUTS
from fanlight.study import MODE_WORDS, Mode, Species
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
from measure._criterion_clips import MOST_COVERED, covered_fraction
from measure._described import described
from measure._doppler_bench import PLACES, Rung
from measure._doppler_clips import Camera
from measure._doppler_pictures import Image, at_width, below, bench_of, beside, fullest, rgb, rung_at, time_strip
from measure._doppler_words import DOPPLER_WORDS
from scripts.measured import write_table

N_FAULTY, N_GOOD = 30, 15
N_PICTURES = N_FAULTY + N_GOOD
GRADES = (4, 5)
WEIGHTS_KG = (6.0, 32.0)
SPECTRUM_PX, COLOUR_PX = 1000, 620  # width of a spectrum's screen, of each frame of a colour clip
COLOUR_SHARE = 0.4  # of the pictures without fault
KEY_FIELDS = ("number", "fault", "grade", "mode", "valve", "view", "seed")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Case:
    """One picture before it is made."""

    rung: Rung
    clip: DopplerClip
    fault: Fault | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What one picture shows, and what the reader said."""

    number: int
    mode: str
    fault: str  # key, or NONE
    said: str


def fault_titles() -> dict[str, str]:
    """Return the titles of the faults that the reader may name, by key."""
    return {NONE: "none"} | {key: kind.title for key, kind in DOPPLER_FAULTS.items()}


def wanted_faults(seed: int) -> list[str]:
    """Return the fault of each picture in the order of their numbers: each once, some twice, then pictures without."""
    rng = np.random.default_rng([seed, 37])
    keys = [*DOPPLER_FAULTS, *rng.permutation(list(DOPPLER_FAULTS))[: N_FAULTY - len(DOPPLER_FAULTS)]]
    return [str(key) for key in rng.permutation([*keys, *[NONE] * N_GOOD])]


def _made(job: tuple[str, int, Path]) -> tuple[str, int, DopplerClip, str]:
    """Make one picture; return fault, grade, clip and view."""
    key, seed, path = job
    cv2.setNumThreads(1)
    case = draw_case(key, seed, np.random.default_rng([seed, 41]))
    cv2.imwrite(str(path), np.ascontiguousarray(draw_picture(case)[..., ::-1]))
    return key, case.fault.strength if case.fault else 0, case.clip, case.rung.view


def draw_case(key: str, seed: int, rng: np.random.Generator) -> Case:
    """Return the first rung of this animal, in an order of its own, on which the fault can be made."""
    layout = LAYOUTS[str(rng.choice(sorted(LAYOUTS)))]
    weight_kg = round(float(rng.uniform(*WEIGHTS_KG)), 1)
    bench = bench_of(seed, Species.DOG, weight_kg, HeartClass.NORMAL, layout)
    grade, is_colour = int(rng.choice(GRADES)), bool(rng.random() < COLOUR_SHARE)
    modes = DOPPLER_FAULTS[key].modes if key != NONE else {Mode.COLOUR} if is_colour else set(PLACES) - {Mode.COLOUR}
    places = [(*place, mode) for mode in PLACES if mode in modes for place in PLACES[mode]]
    for at in rng.permutation(len(places)):
        try:
            rung = rung_at(bench, *places[int(at)])
        except ValueError:
            continue  # not met from there
        if covered_fraction(bench.subject.animal, rung.steady.clip, 0.0) > MOST_COVERED:
            continue
        rung = replace(rung, steady=_with_map(rung.steady, rng))
        if key == NONE:
            return Case(rung=rung, clip=rung.steady, fault=None)
        kind = DOPPLER_FAULTS[key]
        fault = kind.make(grade, bench.subject.animal, rng)
        try:
            clip = apply_doppler(fault, rung.steady, bench.flow)
        except ValueError:
            continue  # it does not fit, or has no room there
        if covered_fraction(bench.subject.animal, clip.clip, 0.0) <= MOST_COVERED:
            return Case(rung=rung, clip=clip, fault=fault)
    raise SystemExit(f"the fault {key} can be made nowhere on the animal of seed {seed}; begin with another --seed")


def _with_map(clip: DopplerClip, rng: np.random.Generator) -> DopplerClip:
    """Return a colour clip in one of the machine's maps."""
    if clip.doppler.is_spectral:
        return clip
    machine = replace(clip.doppler.colour, map_key=str(rng.choice(sorted(COLOUR_MAPS))))
    return replace(clip, doppler=replace(clip.doppler, machine=machine))


def draw_picture(case: Case) -> Image:
    """Return a spectrum's screen, or the fullest frame of a colour clip between two others, and its time."""
    camera = Camera(case.rung.bench, case.rung)
    if case.clip.doppler.is_spectral:
        return at_width(rgb(camera.spectrum(case.clip)[0].frames[0]), SPECTRUM_PX)
    whole, film = camera.colour(case.clip)
    frames, at = whole.screen.frames, fullest(whole)
    third = max(1, len(frames) // 3)
    shown = beside([at_width(frames[(at + k * third) % len(frames)], COLOUR_PX) for k in range(3)])
    return below([shown, time_strip(whole, film.times_ms, shown.shape[1])])


def make_reading(folder: Path, key: Path, seed: int, processes: int) -> None:
    """Write the pictures and the answer sheet into the folder, and the key elsewhere."""
    folder, key = empty_folder(folder, key)
    titles = {name: view.title for name, view in read_views(load_house()).items()}
    jobs = [(fault, seed + k, folder / f"{k + 1:02d}.png") for k, fault in enumerate(wanted_faults(seed))]
    rows: list[tuple[object, ...]] = []
    asked: list[str] = []
    with ProcessPoolExecutor(processes) as pool:
        for number, (fault, grade, clip, view) in enumerate(pool.map(_made, jobs), start=1):
            print(f"{number}/{N_PICTURES}", file=sys.stderr, flush=True)
            mode, valve = clip.doppler.mode, clip.doppler.valve.value
            rows.append((number, fault, grade, mode.value, valve, view, jobs[number - 1][1]))
            asked.append(f"- {number:02d}: {MODE_WORDS[mode]}, {valve} valve, {titles[view]}")
    (folder / "answers.md").write_text(answer_sheet(asked), encoding="utf-8")
    write_key(key, KEY_FIELDS, rows)


def answer_sheet(asked: Sequence[str]) -> str:
    """Return what the reader is told."""
    faults = "\n".join(f"- {kind.title}\n  (sign: {DOPPLER_WORDS[key].notice})" for key, kind in DOPPLER_FAULTS.items())
    return f"""# Answer sheet

Simulated Doppler of dogs, {N_PICTURES} pictures, 01.png to {N_PICTURES}.png. A spectrum shows its whole screen. A
colour clip shows three frames, the left one with the most colour, and below them the middle line of its box over the
clip's time. Most pictures have one fault, some have none. The list says what the hand was after; the rest of the
setting a steady hand would have chosen. Write a CSV file with the columns number and fault, the fault in the words of
the list (the line before the bracket) or none.

## What the hand was after

{chr(10).join(asked)}

## Faults

- none
{faults}
"""


def read_answers(answers: Path, key: Path) -> list[Reading]:
    """Return key and answers side by side; ends the program where they do not fit, see `read_said`."""
    truth = {int(row["number"]): row for row in read_rows(key, ("number", "fault", "mode"))}
    said = read_said(answers, truth, {"fault": fault_titles()})
    return [
        Reading(number=n, mode=row["mode"], fault=row["fault"], said=said[n][0]) for n, row in sorted(truth.items())
    ]  # fmt: skip


def report(readings: Sequence[Reading], reader: str) -> str:
    """Return the table of a reading as Markdown."""
    good = [r for r in readings if r.fault == NONE]
    faulty = [r for r in readings if r.fault != NONE]
    colour = [r for r in faulty if r.mode == Mode.COLOUR]
    spectra = [r for r in faulty if r.mode != Mode.COLOUR]

    def named(some: Sequence[Reading]) -> str:
        return share(sum(r.fault == r.said for r in some), len(some))

    return "\n".join(
        [
            "## Doppler faults read blind",
            "",
            f"{len(readings)} pictures, grades 4 and 5, read without labels by {reader}. {READER}",
            "",
            "| asked | right, with 95 % interval (Wilson) |",
            "|---|---|",
            f"| the very fault, where there is one | {named(faulty)} |",
            f"| the very fault, colour | {named(colour)} |",
            f"| the very fault, spectra | {named(spectra)} |",
            f"| any fault, where there is one | {share(sum(r.said != NONE for r in faulty), len(faulty))} |",
            f"| no fault, where there is none | {named(good)} |",
            "",
            *confusion("fault", [(r.fault, r.said) for r in readings], fault_titles()),
        ]
    )


def score(answers: Path, key: Path, reader: str) -> None:
    """Write the table of a reading into docs/simulator.md."""
    seeds = [row["seed"] for row in read_rows(key, ("seed",))]
    write_table(
        PAGE, "doppler-read-blind", report(read_answers(answers, key), reader), script="measure/doppler_blind.py",
        describes=described(
            "measure/doppler_blind.py", "measure/_blind.py", "measure/_doppler_pictures.py",
            "measure/_doppler_clips.py",
        ),
        seeds=f"{seeds[0]} to {seeds[-1]}",
    )  # fmt: skip


def main() -> None:
    """Make a reading or score one."""
    BlindReading(
        doc=__doc__ or "", n_pictures=N_PICTURES, first_seed=300, columns="number and fault", make=make_reading,
        processes=2,
        report=lambda answers, key, reader: report(read_answers(answers, key), reader), score=score,
    ).main()  # fmt: skip


if __name__ == "__main__":
    main()
