"""How fast blood runs in the simulated hearts at the places where the trade measures it, beside published figures.

Velocities are asked of the model where a sample volume would lie, through one beat of a normal animal; nothing is read
from its tables. Shapes were set on ring A; B are fresh seeds, C hearts deformed outside the model's family.

    python -m measure.blood_speeds              all rings; writes docs/blood-flow.md
    python -m measure.blood_speeds --seeds 2    prints the table for few animals
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from fanlight.heart.animal import animal_landmarks, draw_animal
from fanlight.heart.beat_timing import time_beat
from fanlight.heart.blood.circulation import draw_circulation
from fanlight.heart.cycle import state_at
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.heart.moving_body import moving_body
from fanlight.heart.rhythm import beats
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.clip.shifted import generator_of
from fanlight.study import Species
from fanlight.study.landmark import Landmark
from measure._described import described
from scripts.measured import write_table

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "blood-flow.md"
SCRIPT = "measure/blood_speeds.py"
N_SEEDS = 12
FIRST_SEED = {Ring.A: 0, Ring.B: 10_000, Ring.C: 15_000}
GROUPS = ((Species.DOG, 5.0), (Species.DOG, 12.0), (Species.DOG, 35.0), (Species.CAT, 4.0))
STEP_MS = 8.0  # waves last 30 ms and more
BALL_MM = 1.5  # half of a sample volume


@dataclass(frozen=True, kw_only=True)
class Row:
    """One velocity of the table, and what it is held against."""

    title: str
    key: str
    dog: str = "–"
    cat: str = "–"
    unit: str = "m/s"


ROWS = (
    Row(
        title="mitral E, leaflet tips",
        key="e",
        dog="0.75 ± 0.12 (PEREIRA2009, 40)",
        cat="0.43–0.95 (CATDOPPLER2012, 53)",
    ),
    Row(
        title="mitral A, leaflet tips",
        key="a",
        dog="0.49 ± 0.06 (PEREIRA2009, 40)",
        cat="0.32–0.76 (CATDOPPLER2012, 53)",
    ),
    Row(title="E : A", key="ea", dog="1.53 ± 0.20 (PEREIRA2009, 40)", cat="1.46 ± 0.39 (SOARES, 24)", unit="1"),
    Row(
        title="aorta, at the valve", key="ao", dog="1.0–2.0 (UCDCASES, teaching)", cat="0.77–1.40 (CATDOPPLER2012, 53)"
    ),
    Row(
        title="pulmonary artery, at the valve",
        key="pa",
        dog="below 1.6 (FRANCIS2011)",
        cat="0.65–1.21 (CATDOPPLER2012, 53)",
    ),
    Row(title="tricuspid E, ring", key="te", cat="0.37–0.85 (CATDOPPLER2012, 53)"),
    Row(title="stroke volume / weight", key="sv", unit="mL/kg"),
)
_PLACES = {
    "mitral": (Landmark.MITRAL_SEPTAL_TIP, Landmark.MITRAL_PARIETAL_TIP),
    "ao": (Landmark.AORTIC_CENTRE,),
    "pa": (Landmark.PULMONIC_CENTRE,),
    "tricuspid": (Landmark.TRICUSPID_CENTRE,),
}


def measure_animal(case: tuple[Species, float, int, str]) -> dict[str, float]:
    """Return the peak velocities of one normal animal, m/s."""
    species, weight, seed, ring = case
    animal = draw_animal(species=species, weight_kg=weight, heart=HeartClass.NORMAL, chest=Chest.AVERAGE, seed=seed)
    rng = np.random.default_rng([seed, 11])
    animal = generator_of(Ring(ring), species, weight, rng).shape(animal)
    run = beats(animal.rhythm, 1600.0)
    index = next(k for k, beat in enumerate(run) if beat.onset_ms >= 0.0)
    beat = run[index]
    body = moving_body(animal, draw_circulation(animal, rng), run, start_ms=beat.onset_ms, duration_ms=beat.rr_ms)
    times = np.arange(0.0, beat.rr_ms, STEP_MS)
    ball = BALL_MM * np.asarray([(0, 0, 0), (1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)], float)
    speeds: dict[str, list[float]] = {name: [] for name in _PLACES}
    for t in times:
        marks = animal_landmarks(animal, state_at(animal.rhythm, run, beat.onset_ms + float(t)))
        points = np.concatenate(
            [np.mean([marks[name] for name in names], axis=0) + ball for names in _PLACES.values()]
        ).astype(np.float32)
        motion = body(float(t), *(np.ascontiguousarray(points[:, axis]) for axis in range(3)))
        speed = np.sqrt(sum(np.asarray(part) ** 2 for part in motion.velocity_mm_s)) / 1000.0
        for name, part in zip(_PLACES, speed.reshape(len(_PLACES), -1), strict=True):
            speeds[name].append(float(part.max()))
    timing = time_beat(animal.rhythm, beat)
    curve = {name: np.asarray(values) for name, values in speeds.items()}
    atrial = timing.mitral.atrial.start_ms if timing.mitral.atrial is not None else beat.rr_ms
    opens, peak = timing.mitral.early.start_ms + 8.0, timing.mitral.early.peak_ms
    fused = atrial < peak + STEP_MS  # E and A are one wave: its peak counts as E, and there is no A
    early = (times > opens) & ((times < atrial) | fused)
    late, ejects = times > atrial, times < timing.pulmonic.end_ms
    flow = body.flows
    during = (flow.times_ms >= beat.onset_ms) & (flow.times_ms < beat.end_ms)
    stroke_ml = float(np.trapezoid(flow.aortic[during], flow.times_ms[during])) / 1e6
    e = float(curve["mitral"][early].max())
    a = float("nan") if fused else float(curve["mitral"][late].max())
    return {
        "e": e, "a": a, "ea": e / a, "ao": float(curve["ao"][ejects].max()), "pa": float(curve["pa"][ejects].max()),
        "te": float(curve["tricuspid"][early].max()), "sv": stroke_ml / weight,
    }  # fmt: skip


def table(found: dict[tuple[Ring, Species], Sequence[dict[str, float]]]) -> str:
    """Return means with 95 % ranges by ring and species."""
    kinds = [(ring, species) for species in (Species.DOG, Species.CAT) for ring in Ring]
    heads = [f"{species.value}, ring {ring.value} (n {len(found[ring, species])})" for ring, species in kinds]
    lines = [
        "| | unit | " + " | ".join(heads) + " | published, dog | published, cat |",
        "|---" * (len(heads) + 4) + "|",
    ]
    for row in ROWS:
        cells = []
        for kind in kinds:
            values = np.asarray([item[row.key] for item in found[kind]])
            apart = values[np.isfinite(values)]
            if not len(apart):
                cells.append("– (all fused)")
                continue
            low, high = np.percentile(apart, [2.5, 97.5])
            few = "" if len(apart) == len(values) else f", n {len(apart)}"
            cells.append(f"{apart.mean():.2f} ({low:.2f}–{high:.2f}{few})")
        lines.append(f"| {row.title} | {row.unit} | " + " | ".join(cells) + f" | {row.dog} | {row.cat} |")
    return (
        "\n".join(lines)
        + "\n\nMean, and in brackets the middle 95 % of the animals; fused E and A have no A. "
        + "Dogs of 5, 12 and 35 kg, cats of 4 kg."
    )


def main() -> None:
    """Measure, and write or print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, help="print the table for so few animals of each kind")
    given = parser.parse_args()
    n = given.seeds or N_SEEDS
    cases = [
        (species, weight, FIRST_SEED[ring] + seed, ring.value)
        for ring in Ring for species, weight in GROUPS for seed in range(n)
    ]  # fmt: skip
    with ProcessPoolExecutor(2) as pool:
        values = list(pool.map(measure_animal, cases, chunksize=2))
    found: dict[tuple[Ring, Species], list[dict[str, float]]] = {}
    for case, value in zip(cases, values, strict=True):
        found.setdefault((Ring(case[3]), case[0]), []).append(value)
    text = table({key: found[key] for key in found})
    if given.seeds:
        print(text)
        return
    seeds = ", ".join(f"ring {ring} {first} to {first + n - 1}" for ring, first in FIRST_SEED.items())
    write_table(PAGE, "blood-speeds", text, script=SCRIPT, describes=described(SCRIPT), seeds=seeds)


if __name__ == "__main__":
    main()
