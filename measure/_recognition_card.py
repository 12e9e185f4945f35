"""The measured part of the model card: what the file is, and every figure of it, rings side by side."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import numpy as np

from fanlight.recognise.picture_network import PictureNetwork, open_network
from fanlight.recognise.picture_square import SIDE_PX
from measure._described import described
from measure._recognition_figures import (
    Rings,
    calibration_table,
    class_table,
    confusion_table,
    coverage_table,
    landmark_table,
    landmark_words,
    odd_table,
    spread_factor,
    structure_table,
    top_one_table,
)
from scripts.measured import write_table

ROOT = Path(__file__).resolve().parent.parent
MEASURED_BY = (
    "measure/recognition.py", "measure/_recognition_answers.py", "measure/_recognition_clips.py",
    "measure/_recognition_figures.py", "measure/_criterion_clips.py", "training/draw.py", "training/label_sets.py",
    "training/plane_rule.py", "training/randomise.py", "src/fanlight/recognise/picture_square.py",
)  # fmt: skip
SPEED_RUNS, SPEED_FRAMES = 15, 8


def write_card(page: Path, file: Path, rings: Rings) -> None:
    """Put all figures into the page."""
    network = open_network(file)
    first = next(iter(rings.values()))
    inside = file.resolve().relative_to(ROOT).as_posix()
    parts = [
        _facts(network, file),
        "### Views", top_one_table(rings),
        "A plane is asked for its name where the rule of plane distance gives one name three quarters of the share.",
        "### Views by class of heart and by species", class_table(rings),
        "### How many are proposed, and how many of these are wrong", coverage_table(rings),
        "Proposed: the surest name is a view and its share reaches the limit. Wrong of all: of every clip asked.",
        "### Calibration", calibration_table(rings),
        "### View by view", confusion_table(rings),
        "### Structures", "Overlap (Dice) of all pixels of all frames.", structure_table(rings),
        "### Landmarks", *(landmark_words(name, some, _factor(network)) for name, some in rings.items()),
        landmark_table(rings),
        "### Mirrored, turned half round, and phase", odd_table(rings),
    ]  # fmt: skip
    write_table(
        page, "recognition", "\n\n".join(parts), script="measure/recognition.py",
        describes=described(*MEASURED_BY, inside), seeds=_seeds(rings),
    )  # fmt: skip
    print(f"spread factor on the first ring: {spread_factor(first):.3f}")


def _factor(network: PictureNetwork) -> float:
    return float(network.facts.get("spread_factor", 1.0))


def _seeds(rings: Rings) -> str:
    spans = {name: sorted({r["seed"] for r in records}) for name, records in rings.items()}
    return ", ".join(f"ring {name} {seeds[0]}-{seeds[-1]}" for name, seeds in spans.items())


def _facts(network: PictureNetwork, file: Path) -> str:
    facts = network.facts
    trainings: list[dict[str, Any]] = facts["trainings"]
    rows = [
        ("parameters, size of the file", f"{trainings[-1]['parameters']:,}; {file.stat().st_size / 1e6:.1f} MB"),
        ("trained with the code of commit", facts["commit"]),
        ("trainings, one after another", "; ".join(
            f"seed {t['seed']}, {t['steps']} steps in {float(t['seconds_spent']):.0f} s on {t['clips']} clips"
            for t in trainings)),
        ("animals drawn", "ring A, seeds 0 to 9499 in turn as far as the time went; held out 9500 to 9999"),
        ("temperature of the views", f"{facts['temperature']:.2f}, fitted on held-out clips"),
        ("factor of the landmarks' spread", f"{_factor(network):.2f}, fitted on ring A'"),
        ("speed here, one thread, median", f"{_speed_ms(network):.0f} ms a frame"),
    ]  # fmt: skip
    return "\n".join(["| what | value |", "|---|---|", *(f"| {a} | {b} |" for a, b in rows)])


def _speed_ms(network: PictureNetwork) -> float:
    """Return the processor time of one frame, in clips of a few frames."""
    rng = np.random.default_rng(1)
    frames = rng.integers(0, 256, (SPEED_FRAMES, SIDE_PX, SIDE_PX), dtype=np.uint8)
    inside = np.ones((SIDE_PX, SIDE_PX), np.bool_)
    spent = []
    for _ in range(SPEED_RUNS + 2):
        start = time.process_time()
        network.ask(frames, inside)
        spent.append(time.process_time() - start)
    return 1000 * float(np.median(spent[2:])) / SPEED_FRAMES
