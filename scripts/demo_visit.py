"""Simulate the demo's second study: a beginner's first look, the probe tilted in two views, landmarks marked by hand.

    python -m scripts.demo_visit --out FOLDER --truth FOLDER [--workers N]

Where the probe stood is told to a trainee only from landmarks that a person marked (docs/pose-fit.md), and a simulator
has no person. So what a mentor would mark is made here: the landmarks that truly lie in the plane at both ends of the
beat, each beside its place by a hand's error. They lie in the study as a marks file; practice, people and animal are
invented.
"""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from fanlight.heart.fit.visible import OFF_UNITS
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.intake.kept_writing import write_marks_and_kept
from fanlight.reference.load import load_house
from fanlight.reference.plans import read_plans
from fanlight.simulate.faults.faults import apply, make
from fanlight.simulate.steady.steady import steady_setting
from fanlight.simulate.visit.examination import Examination, draw_examination
from fanlight.simulate.visit.hand_level import HandLevel
from fanlight.simulate.visit.shoot import Wanted
from fanlight.simulate.visit.shot import MadeFaults, Shot, scattered, start_ms
from fanlight.simulate.visit.write_study import make_folders, write_study
from fanlight.study import DrawnMark, FileMarks, MarkKind, Mode, Species

SEED = 105  # ring A; of those tried one whose scatter leaves the tilt plain in every clip
WEIGHT_KG = 9.0
PLAN = "focused"  # the plan of beginners
MARKS = "marks.toml"
ERROR = 0.012  # of the depth, one standard deviation of a mark each way; as in measure/pose_pictures.py
BETWEEN_S = 40.0  # from clip to clip


@dataclass(frozen=True, slots=True)
class Wish:
    """A clip that this hand stores, and what is wrong with it beside its scatter."""

    view: str
    fault: str = ""
    strength: int = 0


WISHES = (
    Wish("right_parasternal_long_axis_four_chamber", "tilt_plus", 4),
    Wish("right_parasternal_long_axis_four_chamber", "tilt_plus", 4),
    Wish("right_parasternal_short_axis_papillary_muscles"),
    Wish("right_parasternal_short_axis_aorta", "rotate_counterclockwise", 4),
    Wish("right_parasternal_short_axis_aorta", "rotate_counterclockwise", 4),
)


def draw_visit(wishes: tuple[Wish, ...] = WISHES) -> Examination:
    """Return the examination; the same clips each time."""
    drawn = draw_examination(
        seed=SEED, plan=read_plans(load_house())[PLAN], species=Species.DOG, weight_kg=WEIGHT_KG,
        heart=HeartClass.NORMAL, chest=Chest.AVERAGE, hand=HandLevel.NOVICE,
    )  # fmt: skip
    # Two things to mend, plainly: a beginner's other habits would only hide them.
    plain = replace(drawn, hand=replace(drawn.hand, habits=(), slip_fraction=0.0), missing_views=())
    rng = np.random.default_rng([SEED, 13])
    shots = tuple(_shot(plain, number, wish, rng) for number, wish in enumerate(wishes, start=1))
    return replace(plain, shots=shots)


def _shot(visit: Examination, number: int, wish: Wish, rng: np.random.Generator) -> Shot:
    probe, console = visit.generator.probe, visit.generator.console
    standard = steady_setting(visit.animal, wish.view, mode=Mode.TWO_D, probe=probe, console=console)
    setting, scatter = scattered(visit.animal, standard, visit.hand, rng)
    faults: MadeFaults = ()
    if wish.fault:
        fault = make(wish.fault, wish.strength, visit.animal, rng)
        setting, faults = apply(fault, setting, visit.animal), ((fault, ""),)
    return Shot(
        number=number, standard=standard, setting=setting, scatter=scatter, faults=faults,
        start_ms=start_ms(visit.animal, setting, rng, waits=True), since_start_s=number * BETWEEN_S,
    )  # fmt: skip


def mark_landmarks(truth: dict[str, Any], unit_mm: float, rng: np.random.Generator) -> FileMarks:
    """Return what a person marks on a clip: its view, and landmarks in the plane at the ends of a beat.

    Parameters
    ----------
    truth : dict
        Of the file, as the simulator writes it.
    unit_mm : float
        Diameter of the left ventricle: how near the plane a landmark must lie to be seen grows with it.
    rng : numpy.random.Generator
        The hand's error.
    """
    sector = truth["picture"]["sector"]
    error_px = ERROR * (sector["far_px"] - sector["near_px"])
    drawn = tuple(
        DrawnMark(
            kind=MarkKind.POINT, frame=moment["frame"], landmark=landmark["landmark"],
            points=(tuple(np.round(rng.normal((landmark["row_px"], landmark["col_px"]), error_px), 1).tolist()),),
        )
        for moment in truth["moments"]
        if moment["moment"] in ("end-diastole", "end-systole")
        for landmark in moment["landmarks"]
        if landmark["in_picture"] and abs(landmark["off_plane_mm"]) < OFF_UNITS * unit_mm
    )  # fmt: skip
    return FileMarks(name=truth["file"], view=truth["view"], drawn=drawn)


def write_visit(visit: Examination, wanted: Wanted, workers: int) -> None:
    """Write files, request sheet and marks of the study, and its truth."""
    make_folders(wanted)
    for _ in write_study(visit, wanted, workers=workers):
        pass
    marked = []
    for shot in visit.shots:
        truth = json.loads((wanted.truth / f"{shot.number:04d}.json").read_text(encoding="utf-8"))
        rng = np.random.default_rng([SEED, 17, shot.number])
        marks = mark_landmarks(truth, visit.animal.anatomy.sizes.unit_mm, rng)
        # At the papillary muscles no landmark lies in the plane: there only the view is named.
        marked.append(marks if shot.faults else replace(marks, drawn=()))
    text = f"# Invented marks on an invented case: nobody is meant.\n\n{write_marks_and_kept(marked)}"
    (wanted.study / MARKS).write_text(text, encoding="utf-8")


def main(arguments: list[str]) -> int:
    """Write the study."""
    parser = argparse.ArgumentParser(prog="python -m scripts.demo_visit", description="Simulate the second study.")
    parser.add_argument("--out", type=Path, required=True, help="folder for the study")
    parser.add_argument("--truth", type=Path, required=True, help="folder for its truth")
    parser.add_argument("--workers", type=int, default=2, help="clips made at once")
    asked = parser.parse_args(arguments)
    write_visit(draw_visit(), Wanted(study=asked.out, truth=asked.truth), asked.workers)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
