"""How often the 2-D criteria see a console fault that is there, and how often they see one that is not.

Each criterion is asked on phantoms without any fault (specificity) and on phantoms with one clear fault (sensitivity).
Ring A are seeds that the bands were set on (below 10 000); ring B are fresh seeds (10 000 to 19 999), on which nothing
is tuned. A criterion counts as raised when it is borderline or missed. The phantom is a simulation of speckle, not an
animal: see the docstring of tests/critique/speckle_phantom.py for what it leaves out.

    python -m measure.console_faults            both rings; writes docs/accuracy.md
    python -m measure.console_faults --ring A   prints ring A only, for tuning
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np

from fanlight.critique.accumulator import Family
from fanlight.critique.families import FAMILIES
from fanlight.study import Verdict
from scripts.measured import write_table
from tests.critique.speckle_phantom import Setting, healthy, judge, make

ROOT = Path(__file__).resolve().parent.parent
FIRST_SEED = {"A": 0, "B": 10_000}
N_HEALTHY, N_FAULTY = 100, 40
N_FRAMES = 14
Fault = Callable[[Setting, np.random.Generator], Setting]


@dataclass(frozen=True, kw_only=True)
class Case:
    """One fault: what is done to a healthy setting, and which criterion should see it."""

    name: str
    family: str
    criterion: str
    fault: Fault


@dataclass(frozen=True, kw_only=True)
class Count:
    """How many of the clips that could be judged were raised."""

    raised: int
    judged: int
    asked: int


def _slider(s: Setting, rng: np.random.Generator) -> Setting:
    step = float(rng.uniform(12, 18)) * (1 if rng.random() < 0.5 else -1)
    place = int(rng.integers(2, 7))  # the outermost sliders are judged as near field and far field
    return replace(s, tgc_db=tuple(t + step * (i == place) for i, t in enumerate(s.tgc_db)))


def _lung(s: Setting, rng: np.random.Generator, lines: bool) -> Setting:
    share = float(rng.uniform(0.3, 0.5))
    at = 1 - share / 2 if rng.random() < 0.5 else share / 2
    frames = N_FRAMES if lines else 42
    return replace(s, lung_share=share, lung_at=at, lung_lines=lines, lung_breath_frames=36.0, n_frames=frames)


CASES = (
    Case(name="gain 18 to 26 dB too low", family="gain", criterion="overall_gain",
         fault=lambda s, rng: replace(s, gain_db=s.gain_db - float(rng.uniform(18, 26)))),
    Case(name="gain 22 to 30 dB too high", family="gain", criterion="cavity_haze",
         fault=lambda s, rng: replace(s, gain_db=s.gain_db + float(rng.uniform(22, 30)))),
    Case(name="gain 32 to 38 dB too high", family="gain", criterion="saturation",
         fault=lambda s, rng: replace(s, gain_db=s.gain_db + float(rng.uniform(32, 38)))),
    Case(name="near field 22 to 32 dB down", family="near_field", criterion="near_field_brightness",
         fault=lambda s, rng: replace(s, near_loss_db=float(rng.uniform(22, 32)))),
    Case(name="standing haze over 30 to 40 %", family="near_field", criterion="near_field_clutter",
         fault=lambda s, rng: replace(s, clutter_db=float(rng.uniform(10, 16)),
                                      clutter_mm=s.depth_mm * float(rng.uniform(0.3, 0.4)))),
    Case(name="one slider off by 12 to 18 dB", family="tgc", criterion="tgc_banding", fault=_slider),
    Case(name="36 to 48 dB lost to the bottom", family="penetration", criterion="far_field_loss",
         fault=lambda s, rng: replace(s, far_loss_db_cm=float(rng.uniform(36, 48)) / (0.8 * s.body_depth_mm / 10))),
    Case(name="focus at 11 to 17 % of the depth", family="focus", criterion="focal_depth",
         fault=lambda s, rng: replace(s, focus_mm=s.depth_mm * float(rng.uniform(0.11, 0.17)))),
    Case(name="focus at 115 to 150 % of the depth", family="focus", criterion="focal_depth",
         fault=lambda s, rng: replace(s, focus_mm=s.depth_mm * float(rng.uniform(1.15, 1.5)))),
    Case(name="depth 1.9 to 2.6 times too large", family="depth_use", criterion="depth_use",
         fault=lambda s, rng: replace(s, depth_mm=s.body_depth_mm * float(rng.uniform(1.9, 2.6)))),
    Case(name="sector 55 to 65° wider than the heart", family="sector_width", criterion="sector_spare_width",
         fault=lambda s, rng: replace(s, width_deg=2 * s.heart_half_width_deg + float(rng.uniform(55, 65)))),
    Case(name="rib over 10 to 25 % of the width", family="shadow", criterion="rib_shadow",
         fault=lambda s, rng: replace(s, shadow_share=float(rng.uniform(0.1, 0.25)),
                                      shadow_at=float(rng.uniform(0.15, 0.85)))),
    Case(name="12 to 30 % of the face lifted", family="shadow", criterion="poor_contact",
         fault=lambda s, rng: replace(s, lifted_share=float(rng.uniform(0.12, 0.3)),
                                      lifted_ring_down=bool(rng.random() < 0.5))),
    Case(name="lung lines over 30 to 50 %", family="lung", criterion="lung_cover",
         fault=lambda s, rng: _lung(s, rng, True)),
    Case(name="lung veil over 30 to 50 %", family="lung", criterion="lung_cover",
         fault=lambda s, rng: _lung(s, rng, False)),
    Case(name="JPEG quality 10 to 25", family="export", criterion="compression_blocks",
         fault=lambda s, rng: replace(s, jpeg_quality=int(rng.integers(10, 26)))),
    Case(name="enlarged 1.2 to 1.9 times", family="export", criterion="rescaled",
         fault=lambda s, rng: replace(s, scale_factor=float(rng.uniform(1.2, 1.9)),
                                      scale_kind=int(rng.choice([cv2.INTER_LINEAR, cv2.INTER_CUBIC])))),
)  # fmt: skip
ASKED = tuple(dict.fromkeys((case.family, case.criterion) for case in CASES))


def wilson(k: int, n: int) -> tuple[float, float]:
    """Return the 95 % interval of a share (E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209-212)."""
    if n == 0:
        return 0.0, 1.0
    z, p = 1.96, k / n
    middle = (p + z * z / (2 * n)) / (1 + z * z / n)
    half = z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n)) / (1 + z * z / n)
    return max(0.0, middle - half), min(1.0, middle + half)


def _family(name: str) -> Family:
    return next(family for family in FAMILIES if family.name == name)


def _verdicts(seed: int, case: Case | None) -> dict[str, Verdict]:
    rng = np.random.default_rng(seed)
    setting = replace(healthy(rng), n_frames=N_FRAMES)
    if case is not None:
        setting = case.fault(setting, rng)
    phantom = make(setting, rng)
    names = dict.fromkeys(family for family, _ in ASKED) if case is None else [case.family]
    return {k: f.verdict for name in names for k, f in judge(phantom, _family(name)).items()}


def _run(job: tuple[int, int | None]) -> dict[str, Verdict]:
    seed, index = job
    cv2.setNumThreads(1)
    return _verdicts(seed, None if index is None else CASES[index])


def _count(results: list[dict[str, Verdict]], criterion: str) -> Count:
    verdicts = [result[criterion] for result in results]
    told = [v for v in verdicts if v is not Verdict.NOT_ASSESSABLE]
    return Count(raised=sum(v is not Verdict.MET for v in told), judged=len(told), asked=len(verdicts))


def measure_ring(ring: str, pool: ProcessPoolExecutor) -> tuple[dict[str, Count], list[Count]]:
    """Return false alarms per criterion on healthy phantoms, and hits per case on faulty ones."""
    first = FIRST_SEED[ring]
    plain = list(pool.map(_run, [(first + i, None) for i in range(N_HEALTHY)], chunksize=5))
    alarms = {criterion: _count(plain, criterion) for _, criterion in ASKED}
    hits = []
    for index, case in enumerate(CASES):
        # seeds apart from the healthy ones, and from those of the other cases
        seeds = [first + 1000 + 100 * index + i for i in range(N_FAULTY)]
        hits.append(_count(list(pool.map(_run, [(seed, index) for seed in seeds], chunksize=5)), case.criterion))
    return alarms, hits


def _share(k: int, n: int) -> str:
    low, high = wilson(k, n)
    return "none judged" if n == 0 else f"{100 * k / n:.0f} % ({100 * low:.0f}–{100 * high:.0f}), n {n}"


def _table(rings: dict[str, tuple[dict[str, Count], list[Count]]]) -> str:
    heads = [f"{what}, ring {ring}" for what in ("sensitivity", "specificity") for ring in rings]
    lines = [
        "Share of clips, with the 95 % interval (Wilson) and the number of clips that could be judged. Sensitivity: a "
        "clip with this one clear fault is raised. Specificity: a clip without any fault is not. Ring A: seeds that "
        "the bands were set on. Ring B: fresh seeds. All clips are simulated speckle; "
        "the simulation is not the clinic.",
        "",
        f"| fault | criterion | {' | '.join(heads)} |",
        "|---" * (2 + len(heads)) + "|",
    ]
    for index, case in enumerate(CASES):
        cells = []
        for ring in rings.values():
            hit = ring[1][index]
            cells.append(_share(hit.raised, hit.judged) + _left_out(hit))
        for ring in rings.values():
            alarm = ring[0][case.criterion]
            cells.append(_share(alarm.judged - alarm.raised, alarm.judged) + _left_out(alarm))
        lines.append(f"| {case.name} | `{case.criterion}` | {' | '.join(cells)} |")
    return "\n".join(lines)


def _left_out(count: Count) -> str:
    left = count.asked - count.judged
    return f"; {left} not assessable" if left else ""


def main() -> None:
    """Measure, and write or print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--ring", choices=["A"], help="print ring A only")
    only = parser.parse_args().ring
    with ProcessPoolExecutor(2) as pool:
        rings = {ring: measure_ring(ring, pool) for ring in ([only] if only else ["A", "B"])}
    table = _table(rings)
    if only:
        print(table)
        return
    write_table(
        ROOT / "docs" / "accuracy.md",
        "console-faults",
        table,
        script="measure/console_faults.py",
        describes=[
            *(f"src/fanlight/critique/{name}.py" for name in (
                "beam_moments", "beating_map", "dark_beams", "depth_use", "export", "focus", "gain", "lung",
                "near_field", "penetration", "percentiles", "sector_width", "shadow", "tgc", "tissue")),
            *(f"src/fanlight/reference/tables/criteria/{name}.toml" for name in (
                "depth_use", "export", "focus", "gain", "lung", "near_field", "penetration", "sector_width", "shadow",
                "tgc")),
            "tests/critique/speckle_phantom.py",
        ],
        seeds="ring A 0-2639, ring B 10000-12639",
    )  # fmt: skip


if __name__ == "__main__":
    main()
