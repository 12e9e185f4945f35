"""How often the criteria of the plane are right: landmarks and masks with a network's errors, marks with a person's.

    python -m measure.plane_criteria --records FOLDER                  draws, judges, writes docs/criteria-plane.md
    python -m measure.plane_criteria --records FOLDER --print-only --ring A --subjects 14
    python -m measure.plane_criteria --records FOLDER --tables-only

No pixel is formed: the true landmarks and a slice through the animal are given the errors of the network as the model
card has them, or of a hand. A plane is a steady hand's or has one fault of the pose, of strength 3 to 5. The truth is
that of `measure/_plane_truth.py`. The standard planes were learnt on other animals of ring A
(design/plane_standard.py).
"""

from __future__ import annotations

import argparse
import os
import pickle
import sys
from collections import defaultdict
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # one core a worker

import numpy as np

from fanlight.plane.planes import PlaneRules, read_plane_rules, with_planes
from fanlight.reference.load import load_house
from fanlight.simulate.clip.ring import Ring
from fanlight.study import Finding, Side, Verdict
from measure._criterion_clips import draw_subject, views_of
from measure._described import described
from measure._plane_clips import Plane, planes_of, steady_planes
from measure._plane_observed import as_network, as_nobody, as_person
from measure._plane_truth import truth_of
from measure._recognition_figures import share_words
from scripts.measured import write_table

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "criteria-plane.md"
FIRST_SEED = {Ring.A: 0, Ring.B: 10_000, Ring.C: 15_000}
N_SUBJECTS = 7  # of each ring: one of each class of heart
VIEWS_A_SUBJECT = 6
BESIDE = ("right_parasternal_long_axis_four_chamber", "left_apical_four_chamber", "right_parasternal_short_axis_aorta")
BY_PERSON = frozenset({"ventricle_length", "cusps_even", "ventricle_round", "aorta_round", "papillary_even"})
MEASURED_BY = (
    "measure/plane_criteria.py", "measure/_plane_clips.py", "measure/_plane_observed.py", "measure/_plane_truth.py",
    "measure/_criterion_clips.py", "src/fanlight/reference/plane.py", "src/fanlight/reference/tables/plane.toml",
    "src/fanlight/reference/tables/plane_standard.toml", "src/fanlight/reference/tables/criteria/plane.toml",
    *(f"src/fanlight/plane/{name}.py" for name in (
        "planes", "places", "sight", "told", "slope", "centre", "length", "shares", "level", "rounds", "sides")),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What one criterion said of one plane, beside the truth."""

    criterion: str
    wrong: bool | None  # the truth; None: between
    judged: bool
    verdict: Verdict
    side: Side
    fault: str
    strength: int
    view: str
    is_normal: bool
    seed: int


def draw(jobs: Iterable[tuple[int, Ring, Path]], workers: int) -> None:
    """Draw the planes of all subjects that are not there yet."""
    todo = [job for job in jobs if not _path(*job).exists()]
    with ProcessPoolExecutor(workers) as pool:
        for done, _ in enumerate(pool.map(_draw_one, todo), start=1):
            print(f"{done} of {len(todo)} subjects", file=sys.stderr, flush=True)


def _draw_one(job: tuple[int, Ring, Path]) -> None:
    seed, ring, _ = job
    subject, wanted = draw_subject(seed, ring), views_of(seed)[:VIEWS_A_SUBJECT]
    planes = list(planes_of(subject, wanted))
    planes += steady_planes(subject, tuple(view for view in BESIDE if view not in wanted))
    path = _path(*job)
    part = path.with_suffix(".part")
    part.write_bytes(pickle.dumps(planes))
    part.rename(path)


def _path(seed: int, ring: Ring, folder: Path) -> Path:
    return folder / f"planes-{ring.value}-{seed:05d}.pickle"


def answers_of(planes: list[Plane], rules: PlaneRules) -> list[Answer]:
    """Return what all criteria say of the planes of one subject."""
    steady = {plane.view: plane for plane in planes if not plane.fault}
    wanted = views_of(planes[0].seed)[:VIEWS_A_SUBJECT]
    found = []
    for number, plane in enumerate(planes):
        if plane.view not in wanted:
            continue
        rng = np.random.default_rng([plane.seed, number, 223])
        truth = truth_of(plane, steady[plane.view], rules.tables)
        seen = {item.criterion: item for item in with_planes((as_network(plane, 1, rng),), rules)[0].findings}
        marked = _marked(plane, [steady[view] for view in BESIDE if view != plane.view and view in steady], rules, rng)
        for key, wrong in truth.items():
            item = (marked if key in BY_PERSON else seen)[key]
            found.append(Answer(
                criterion=key, wrong=wrong, judged=item.verdict is not Verdict.NOT_ASSESSABLE, verdict=item.verdict,
                side=item.side, fault=plane.fault, strength=plane.strength, view=plane.view,
                is_normal=plane.heart == "normal", seed=plane.seed,
            ))  # fmt: skip
    return found


def _marked(plane: Plane, others: list[Plane], rules: PlaneRules, rng: np.random.Generator) -> dict[str, Finding]:
    """Return what a person's marks tell, with the steady hand's clips of the same animal beside."""
    planes = [plane, *others]
    marks = {f"clip{number}": as_person(each, rng) for number, each in enumerate(planes, start=1)}
    readings = tuple(as_nobody(each, number) for number, each in enumerate(planes, start=1))
    return {item.criterion: item for item in with_planes(readings, rules, marks)[0].findings}


Rings = dict[str, list[Answer]]


def table(rings: Rings, criteria: Iterable[str]) -> str:
    """Return how often each criterion is right, rings side by side."""
    lines = [
        f"| criterion | planes | {' | '.join(f'ring {name}' for name in rings)} |",
        "|---" * (len(rings) + 2) + "|",
    ]
    for key in criteria:
        lines += [
            _row(key, "raised where truly so", rings, lambda a: a.wrong is True, _raised),
            _row(key, "of these missed, not borderline", rings, lambda a: a.wrong is True, _missed),
            _row(key, "quiet where truly right", rings, lambda a: a.wrong is False, _quiet),
            _row(key, "… in normal hearts", rings, lambda a: a.wrong is False and a.is_normal, _quiet),
            _row(key, "… in diseased hearts", rings, lambda a: a.wrong is False and not a.is_normal, _quiet),
            _row(key, "quiet on a steady hand's planes", rings, lambda a: not a.fault, _quiet),
        ]
    return "\n".join(lines)


def _raised(item: Answer) -> bool:
    return item.verdict in (Verdict.BORDERLINE, Verdict.MISSED)


def _missed(item: Answer) -> bool:
    return item.verdict is Verdict.MISSED


def _quiet(item: Answer) -> bool:
    return not _raised(item)


def _row(key: str, words: str, rings: Rings, choice, is_right) -> str:  # type: ignore[no-untyped-def]
    cells = []
    for answers in rings.values():
        asked = [item for item in answers if item.criterion == key and choice(item)]
        judged = [item for item in asked if item.judged]
        said = share_words(sum(is_right(item) for item in judged), len(judged))
        cells.append(f"{said}; {len(asked) - len(judged)} n. a." if len(asked) > len(judged) else said)
    return f"| `{key}` | {words} | {' | '.join(cells)} |"


def fault_table(rings: Rings, criteria: Iterable[str]) -> str:
    """Return, for each fault of the pose, how often each criterion is raised on it; all rings but A together."""
    by: dict[tuple[str, str], list[bool]] = defaultdict(list)
    for name, answers in rings.items():
        if name != "A":
            for item in answers:
                if item.judged:
                    by[item.fault or "none", item.criterion].append(_raised(item))
    keys, faults = list(criteria), sorted({fault for fault, _ in by})
    lines = [f"| fault | {' | '.join(f'`{key}`' for key in keys)} |", "|---" * (len(keys) + 1) + "|"]
    for fault in faults:
        cells = [
            f"{100 * np.mean(by[fault, key]):.0f} %, n {len(by[fault, key])}" if by[fault, key] else "–" for key in keys
        ]
        lines.append(f"| {fault.replace('_', ' ')} | {' | '.join(cells)} |")
    return "\n".join(lines)


def main() -> None:
    """Read the command line, draw, judge, write."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--records", type=Path, required=True, help="a folder")
    parser.add_argument("--subjects", type=int, default=N_SUBJECTS, help="of each ring")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--ring", choices=[ring.value for ring in Ring], help="one ring only; not for the page")
    parser.add_argument("--print-only", action="store_true")
    parser.add_argument("--tables-only", action="store_true")
    given = parser.parse_args()
    if given.ring and not given.print_only:
        parser.error("the page shows all rings: --ring needs --print-only")
    rings = [Ring(given.ring)] if given.ring else list(Ring)
    given.records.mkdir(parents=True, exist_ok=True)
    jobs = [(FIRST_SEED[ring] + k, ring, given.records) for k in range(given.subjects) for ring in rings]
    if not given.tables_only:
        draw(jobs, given.workers)
    rules = read_plane_rules(load_house())
    found: Rings = {ring.value: [] for ring in rings}
    for seed, ring, folder in jobs:
        path = _path(seed, ring, folder)
        if not path.exists():
            raise SystemExit(f"{path} is missing: run without --tables-only first")
        found[ring.value] += answers_of(pickle.loads(path.read_bytes()), rules)  # written above, by this script
    keys = [key for key in rules.criteria if any(item.criterion == key for ring in found.values() for item in ring)]
    if given.print_only:
        print(table(found, keys), fault_table(found, keys), sep="\n\n")
        return
    _write(found, keys)


def _write(found: Rings, keys: list[str]) -> None:
    facts = {
        "script": "measure/plane_criteria.py",
        "describes": described(*MEASURED_BY),
        "seeds": ", ".join(
            f"ring {name} {min(a.seed for a in each)}-{max(a.seed for a in each)}" for name, each in found.items()
        ),
    }
    write_table(PAGE, "plane-criteria", table(found, keys), **facts)  # type: ignore[arg-type]
    write_table(PAGE, "plane-faults", fault_table(found, keys), **facts)  # type: ignore[arg-type]


if __name__ == "__main__":
    main()
