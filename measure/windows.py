"""What the windows of the simulated chest give: how flow meets the beam, how far a probe leans, what lung hides.

Animals of ring A, all classes of heart, dogs of 2.5 to 60 kg and cats of 2.5 to 7 kg. Nothing is drawn or imaged: poses
are searched for, and tissue is asked for along lines of the sector.

    python -m measure.windows              writes docs/heart-model.md
    python -m measure.windows --animals 4  prints the tables for few animals
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal, animal_axes, animal_landmarks, draw_animal, sample
from fanlight.heart.axis import Axis
from fanlight.heart.cycle import RESTING
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.heart.movements import lean_deg
from fanlight.heart.pose import Pose
from fanlight.heart.standard_poses import STANDARD_VIEWS, standard_pose, view_window
from fanlight.heart.tissue import NOT_HEART, Tissue
from fanlight.heart.windows import Window
from fanlight.study import Landmark, Species
from measure._described import described
from scripts.measured import write_table

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "heart-model.md"
SCRIPT = "measure/windows.py"
FIRST_SEED, N_ANIMALS = 1000, 40
BREATHS = (0.5, 1.0, 1.5)  # shares of a quiet breath
HALF_SECTOR_DEG, N_LINES, STEP_MM = 45.0, 61, 1.0  # the step holds at 10 kg and grows with the chest
DEPTH_MM = 110.0  # at 10 kg


@dataclass(frozen=True, slots=True, kw_only=True)
class Flow:
    """A flow that Doppler asks for: where it is met, and which way it runs along the beam."""

    title: str
    view: str
    axis: Axis
    valve: Landmark
    sense: int  # +1: away from the probe
    is_required: bool


FLOWS = (
    Flow(title="mitral, left apical four-chamber", view="left_apical_four_chamber", axis=Axis.MITRAL_INFLOW,
         valve=Landmark.MITRAL_CENTRE, sense=-1, is_required=True),
    Flow(title="aortic, left apical five-chamber", view="left_apical_five_chamber", axis=Axis.AORTIC_OUTFLOW,
         valve=Landmark.AORTIC_CENTRE, sense=1, is_required=True),
    Flow(title="tricuspid, left cranial right inflow", view="left_cranial_long_axis_right_inflow",
         axis=Axis.TRICUSPID_INFLOW, valve=Landmark.TRICUSPID_CENTRE, sense=-1, is_required=True),
    Flow(title="pulmonic, left cranial right outflow", view="left_cranial_long_axis_right_outflow",
         axis=Axis.PULMONIC_OUTFLOW, valve=Landmark.PULMONIC_CENTRE, sense=1, is_required=True),
    Flow(title="tricuspid, left apical turned to the right heart", view="left_apical_four_chamber_right_heart",
         axis=Axis.TRICUSPID_INFLOW, valve=Landmark.TRICUSPID_CENTRE, sense=-1, is_required=False),
    Flow(title="aortic, subcostal", view="subcostal_outflow", axis=Axis.AORTIC_OUTFLOW,
         valve=Landmark.AORTIC_CENTRE, sense=1, is_required=False),
    Flow(title="pulmonic, right short axis", view="right_parasternal_short_axis_pulmonary_artery",
         axis=Axis.PULMONIC_OUTFLOW, valve=Landmark.PULMONIC_CENTRE, sense=1, is_required=False),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What one animal gave."""

    angle_deg: dict[str, float]  # by title of the flow
    lean_deg: dict[Window, list[float]]  # of each view of the window
    heart_depth_mm: dict[
        Window, list[float]
    ]  # along the beam, for a chest of 10 kg; NaN where lung or bone comes first
    hidden: dict[Window, dict[float, list[float]]]  # by breath: share of the heart in the fan behind lung


def animal_of(seed: int) -> Animal:
    """Return the animal of a seed: every fourth a cat, classes and chests in turn."""
    rng = np.random.default_rng([seed, 17])
    is_cat = seed % 4 == 3
    weight_kg = rng.uniform(2.5, 7.0) if is_cat else float(np.exp(rng.uniform(np.log(2.5), np.log(60.0))))
    return draw_animal(
        species=Species.CAT if is_cat else Species.DOG,
        weight_kg=float(weight_kg),
        heart=tuple(HeartClass)[seed % len(HeartClass)],
        chest=tuple(Chest)[seed % len(Chest)],
        seed=seed,
    )


def tissue_of(animal: Animal, pose: Pose, breath: float) -> tuple[NDArray[np.uint8], NDArray[np.float64]]:
    """Return the tissue on (depth, line) of the sector and the depths, mm."""
    step_mm = STEP_MM * animal.thorax.scale_ratio
    depths = 0.3 + step_mm * np.arange(round(DEPTH_MM / STEP_MM))
    angles = np.radians(np.linspace(-HALF_SECTOR_DEG, HALF_SECTOR_DEG, N_LINES))
    r, a = np.meshgrid(depths, angles, indexing="ij")
    points = pose.to_patient(np.stack([r * np.sin(a), np.zeros_like(r), r * np.cos(a)], axis=-1))
    x, y, z = (np.ascontiguousarray(points[..., i], dtype=np.float32) for i in range(3))
    return np.asarray(sample(animal, replace(RESTING, breath=breath), x, y, z).tissue), depths.astype(np.float64)


def hidden_share(tissue: NDArray[np.uint8], depths_mm: NDArray[np.float64]) -> float:
    """Return which share of the heart's area in the fan lies behind lung."""
    heart = ~np.isin(tissue, list(NOT_HEART))
    behind = np.maximum.accumulate(tissue == Tissue.LUNG, axis=0)
    area = np.broadcast_to(depths_mm[:, None], tissue.shape)
    return float(area[heart & behind].sum() / area[heart].sum())


def heart_depth_mm(tissue: NDArray[np.uint8], depths_mm: NDArray[np.float64]) -> float:
    """Return where the heart begins on the middle line, mm; NaN where lung, bone or nothing comes first."""
    line = tissue[:, tissue.shape[1] // 2]
    stops = np.isin(line, [Tissue.LUNG, Tissue.RIB, Tissue.STERNUM])
    heart = ~np.isin(line, list(NOT_HEART))
    if not heart.any() or (stops.any() and np.argmax(stops) < np.argmax(heart)):
        return float("nan")
    return float(depths_mm[np.argmax(heart)])


def measure_animal(seed: int) -> Found:
    """Search the poses of one animal and measure all three."""
    animal = animal_of(seed)
    poses = {view: standard_pose(animal, view) for view in STANDARD_VIEWS}
    places, axes = animal_landmarks(animal, RESTING), animal_axes(animal, RESTING)
    angles = {}
    for flow in FLOWS:
        line = places[flow.valve] - poses[flow.view].origin_mm
        cosine = flow.sense * line @ axes[flow.axis] / np.linalg.norm(line)
        angles[flow.title] = float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))
    leans: dict[Window, list[float]] = {window: [] for window in Window}
    depths: dict[Window, list[float]] = {window: [] for window in Window}
    hidden: dict[Window, dict[float, list[float]]] = {window: {breath: [] for breath in BREATHS} for window in Window}
    for view, pose in poses.items():
        window = view_window(view)
        leans[window].append(lean_deg(animal, pose))
        tissue, depths_mm = tissue_of(animal, pose, 0.0)
        depths[window].append(heart_depth_mm(tissue, depths_mm) / animal.thorax.scale_ratio)
        for breath in BREATHS:
            hidden[window][breath].append(hidden_share(*tissue_of(animal, pose, breath)))
    return Found(angle_deg=angles, lean_deg=leans, heart_depth_mm=depths, hidden=hidden)


def spread(values: Sequence[float], unit: str = "", scale: float = 1.0) -> str:
    """Return median and 5 to 95 % of values, in words."""
    known = np.asarray(values)[~np.isnan(values)] * scale
    if not known.size:
        return "-"
    low, mid, high = np.percentile(known, [5, 50, 95])
    return f"{mid:.0f}{unit} ({low:.0f} to {high:.0f})"


def angle_table(found: Sequence[Found]) -> str:
    """Return the table of angles between flow and beam."""
    rows = ["| flow, view | median | 95 % | largest | at most 25° |", "|---|---|---|---|---|"]
    for flow in FLOWS:
        angles = np.array([one.angle_deg[flow.title] for one in found])
        title = flow.title if flow.is_required else f"{flow.title} (not required)"
        met = f"{np.count_nonzero(angles <= 25.0)} of {angles.size}"
        rows.append(
            f"| {title} | {np.median(angles):.0f}° | {np.percentile(angles, 95):.0f}° | {angles.max():.0f}° | {met} |"
        )
    return "\n".join(rows)


def window_table(found: Sequence[Found]) -> str:
    """Return the table of what each window gives."""
    rows = [
        "| window | probe leans | largest | heart begins, mm at 10 kg | hidden at half a breath | at one | at 1½ |",
        "|---|---|---|---|---|---|---|",
    ]
    for window in Window:
        leans = [lean for one in found for lean in one.lean_deg[window]]
        depths = [depth for one in found for depth in one.heart_depth_mm[window]]
        hidden = (spread([h for one in found for h in one.hidden[window][b]], " %", 100.0) for b in BREATHS)
        name = window.value.replace("_", " ")
        rows.append(f"| {name} | {spread(leans, '°')} | {max(leans):.0f}° | {spread(depths)} | {' | '.join(hidden)} |")
    rows.append(
        "\nMedian (5 to 95 %) over animals and views; of the heart in a fan of 90 degrees, what lies behind lung."
    )
    return "\n".join(rows)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--animals", type=int, help="print the tables for so few animals instead of writing the page")
    given = parser.parse_args()
    seeds = range(FIRST_SEED, FIRST_SEED + (given.animals or N_ANIMALS))
    with ProcessPoolExecutor(max_workers=2) as pool:
        found = list(pool.map(measure_animal, seeds))
    for name, table in (("flow-angles", angle_table(found)), ("windows", window_table(found))):
        if given.animals:
            print(table, end="\n\n")
        else:
            seeds_named = f"ring A, {seeds[0]} to {seeds[-1]}"
            write_table(PAGE, name, table, script=SCRIPT, describes=described(SCRIPT), seeds=seeds_named)


if __name__ == "__main__":
    main()
