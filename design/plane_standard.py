"""Learn what the standard plane of each view looks like: slopes, places across the picture, how much of the aorta.

Run from the root of the repository, about ten minutes on one core:

    PYTHONPATH=src:. python design/plane_standard.py      writes src/fanlight/reference/tables/plane_standard.toml

No published number says how the axis of a ventricle slopes, or where a valve lies, in a standard view of a dog or a
cat; so the simulator tells, as a mean with its spread over animals of ring A, every class of heart alike. The plane
criteria themselves are measured on other animals (measure/plane_criteria.py).
"""

from __future__ import annotations

import math
import sys
from collections import defaultdict
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from fanlight.reference.load import load_house
from fanlight.reference.plane import Aorta, Lies, ViewPlane, line_name, read_views_asked
from fanlight.simulate.clip.ring import Ring
from fanlight.study import Landmark
from measure._criterion_clips import VIEWS, draw_subject
from measure._plane_clips import Plane, steady_planes
from training.label_sets import Structure

VERSION = 1
FIRST_SEED, N_SUBJECTS = 200, 140  # twenty of each class of heart
PAGE = Path("src/fanlight/reference/tables/plane_standard.toml")
ENDS = ("end_diastole", "end_systole")
REACHED_BY = 10  # per cent of standard planes that show less of the aorta
LEAST_IN_ORDER = 0.97  # of the animals in which two landmarks lie in the order that the table says
SHARES = (Structure.AORTA, Structure.LV_CAVITY, Structure.PAPILLARY)


def slope_deg(plane: Plane, moment: int, line: tuple[Landmark, Landmark], lies: Lies) -> float:
    """Return the slope of a line: base deeper counts as above 0 across the picture, base to the right down it."""
    start, end = (plane.places_mm[moment][mark] for mark in line)
    across, down = end[0] - start[0], end[2] - start[2]
    return math.degrees(math.atan2(down, across) if lies is Lies.ACROSS else math.atan2(across, down))


def across_share(plane: Plane, moment: int, mark: Landmark) -> float:
    """Return how far beside the central beam a place lies: share of the half width, above 0 to the right."""
    across, _, depth = plane.places_mm[moment][mark]
    return math.degrees(math.atan2(across, depth + plane.sector.near_px)) / (plane.sector.width_deg / 2)


def aorta_share(plane: Plane) -> float:
    """Return how much of aorta and left ventricle together the aorta is, over the beat."""
    aorta, cavity, papillary = (float(np.mean([areas[kind] for areas in plane.areas])) for kind in SHARES)
    return aorta / max(aorta + cavity + papillary, 1e-9)


def rows_of(asked: ViewPlane, planes: list[Plane]) -> list[str]:
    """Return the rows of one view."""
    lines = []
    for name, values in (
        ("slope_deg", {line_name(line): _ends(planes, lambda p, m, line=line: slope_deg(p, m, line, asked.lies))
                       for line in asked.lines}),
        ("across_share", {mark.name.lower(): _ends(planes, lambda p, m, mark=mark: across_share(p, m, mark))
                          for mark in asked.targets}),
    ):  # fmt: skip
        for what, ends in values.items():
            lines.append(f'[views.{asked.view}.{name}."{what}"]')
            lines += [f"{end} = [{mean:.3f}, {spread:.3f}]" for end, (mean, spread) in ends.items()]
    for first, second in asked.order:
        right = [p.places_mm[m][first][0] < p.places_mm[m][second][0] for p in planes for m in (0, 1)]
        if np.mean(right) < LEAST_IN_ORDER:
            share = f"{100 * np.mean(right):.0f} %"
            print(f"{asked.view}: {first.name} lies left of {second.name} in {share} only; take it out")
    shares = [aorta_share(plane) for plane in planes]
    least = float(np.percentile(shares, REACHED_BY)) if asked.aorta is Aorta.SHOWN else 0.0
    return [f"[views.{asked.view}]", f"aorta_share = {least:.4f}", *lines, ""]


def _ends(planes: list[Plane], value) -> dict[str, tuple[float, float]]:  # type: ignore[no-untyped-def]
    by_end = {end: [value(plane, moment) for plane in planes] for moment, end in enumerate(ENDS)}
    by_end["any"] = [each for values in by_end.values() for each in values]
    return {end: (float(np.mean(values)), float(np.std(values, ddof=1))) for end, values in by_end.items()}


def main() -> None:
    """Draw, reckon, write."""
    planes: dict[str, list[Plane]] = defaultdict(list)
    for seed in range(FIRST_SEED, FIRST_SEED + N_SUBJECTS):
        for plane in steady_planes(draw_subject(seed, Ring.A)):
            planes[plane.view].append(plane)
        print(f"{seed - FIRST_SEED + 1} of {N_SUBJECTS}", file=sys.stderr, flush=True)
    asked = read_views_asked(load_house())
    seeds = f"{FIRST_SEED}-{FIRST_SEED + N_SUBJECTS - 1}"
    head = f"""\
# What the standard plane of each view looks like: written by design/plane_standard.py, not by hand.
# Simulated animals of ring A, seeds {seeds}, every class of heart alike; version {VERSION}.
# Each pair is a mean with its standard deviation between animals. `slope_deg`: of a line from its apical to its basal
# end, base deeper (across the picture) or further right (down it) counts as above 0. `across_share`: of the half width
# of the picture, above 0 right of the middle. `aorta_share`: of aorta and left ventricle together, reached by nine of
# ten standard planes that must show the aorta.

[about]
seeds = "{seeds}"
ring = "A"
version = {VERSION}
script = "design/plane_standard.py"
"""
    rows = [line for view in VIEWS for line in rows_of(asked[view], planes[view])]
    PAGE.write_text(head + "\n" + "\n".join(rows).rstrip() + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
