"""How large the simulated hearts are, measured on label maps with calipers, beside published intervals.

Nothing is read from the model's own numbers: an animal is drawn from its seed, a standard pose is set, the plane is
sliced at the moment of the beat at which the trade measures, and the calipers of fanlight.heart.calipers are laid on
the labels. Seeds are of ring A (below 10 000): the shapes were set on such animals, so the figures show that the
simulator does what it was meant to, not how it does on others.

    python -m measure.heart_sizes              all tables; writes docs/heart-model.md
    python -m measure.heart_sizes --seeds 3    prints them for few animals
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from fanlight.heart.animal import Animal, draw_animal
from fanlight.heart.calipers import Caliper, longest_lv, measure_beat, measure_shortening, measure_view, moments_of
from fanlight.heart.cycle import Still, state_at, still_time_ms
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.heart.movements import Movement, moved
from fanlight.heart.rhythm import beats
from fanlight.heart.standard_poses import standard_pose
from fanlight.reference.interval_limits import work_out_limits
from fanlight.reference.intervals import read_intervals
from fanlight.reference.load import load_house
from fanlight.study import Species
from measure._described import described
from scripts.measured import write_table

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "heart-model.md"
SCRIPT = "measure/heart_sizes.py"
N_SEEDS = 20
N_ROWS = 300  # of a map; the calipers' tests hold to less than a pixel of 0.2 to 0.5 mm
GROUPS = ((Species.DOG, 3.0), (Species.DOG, 10.0), (Species.DOG, 25.0), (Species.DOG, 45.0), (Species.CAT, 4.0))

RIGHT = "right_parasternal_"
CHORDAE, PAPILLARY = f"{RIGHT}short_axis_chordae", f"{RIGHT}short_axis_papillary_muscles"
FOUR, OUTFLOW = f"{RIGHT}long_axis_four_chamber", f"{RIGHT}long_axis_outflow"
BASE, TRUNK = f"{RIGHT}short_axis_aorta", f"{RIGHT}short_axis_pulmonary_artery"
MITRAL = f"{RIGHT}short_axis_mitral_valve"
VIEWS = (CHORDAE, PAPILLARY, FOUR, OUTFLOW, BASE, TRUNK, MITRAL)
SHORT = {CHORDAE: "chordae", PAPILLARY: "papillary", FOUR: "4-chamber", OUTFLOW: "outflow", BASE: "base", TRUNK: "PA"}


@dataclass(frozen=True, kw_only=True)
class Size:
    """One row of the tables: what is measured where, and what it is held against."""

    title: str
    view: str
    key: str
    unit: str
    dog_row: str = ""  # row of intervals.toml
    cat_row: str = ""
    dog: tuple[float | None, float | None] | None = None  # where the tables have no row
    cat: tuple[float | None, float | None] | None = None
    source: str = ""  # of the limits given here
    digits: int = 1


def _wall(title: str, view: str, key: str) -> Size:
    dog, cat = f"dog_{key}_mmode_cornell2004", f"cat_{key}_mmode_ware6"
    return Size(title=title, view=view, key=key, unit="mm", dog_row=dog, cat_row=cat)


MODEL = "engineering judgement, well above 1.65 (HOLLER2014)"
SIZES = (
    *(
        _wall(f"{title}, {SHORT[view]}", view, key)
        for view in (CHORDAE, PAPILLARY)
        for title, key in (
            ("LVIDd", "lvidd"), ("LVIDs", "lvids"), ("IVSd", "ivsd"), ("IVSs", "ivss"), ("LVWd", "lvwd"),
            ("LVWs", "lvws"),
        )
    ),
    *(
        Size(title=f"FS, {SHORT[view]}", view=view, key="fractional_shortening", unit="%",
             dog_row="dog_fs_ware6", cat_row="cat_fs_ware6")
        for view in (CHORDAE, PAPILLARY)
    ),
    Size(title="LV length / diameter, 4-chamber", view=FOUR, key="sphericity_index", unit="1", digits=2,
         dog=(1.85, 2.1), cat=(1.85, 2.1), source=MODEL),
    Size(title="RV:LV area, 4-chamber, end-diastole", view=FOUR, key="rv_lv_area_d", unit="1", digits=2,
         dog=(0.2, 0.45), cat=(0.2, 0.45),
         source="about a third: common practice, no source"),
    Size(title="EF, 4-chamber, discs", view=FOUR, key="ejection_fraction", unit="%",
         dog=(40.0, None), source="over 40 to 50 %, from memory"),
    Size(title="LA / LV, long axis, 4-chamber", view=FOUR, key="la_lv_long_axis", unit="1", digits=2,
         dog_row="dog_la_lv_long_axis_strohm2018"),
    Size(title="LA, long axis, 4-chamber", view=FOUR, key="left_atrium_long_axis", unit="mm",
         cat_row="cat_la_long_axis_from_memory"),
    Size(title="LV / Ao, long axis, outflow", view=OUTFLOW, key="lv_ao_long_axis", unit="1", digits=2,
         dog_row="dog_lv_ao_long_axis_strohm2018"),
    Size(title="LA / Ao, long axis, outflow", view=OUTFLOW, key="la_ao_long_axis", unit="1", digits=2,
         dog_row="dog_la_ao_long_axis_strohm2018"),
    Size(title="LA (4-chamber) / Ao (outflow), long axis", view="", key="la_ao_two_views", unit="1", digits=2,
         dog_row="dog_la_ao_long_axis_strohm2018"),
    Size(title="EPSS, 4-chamber", view=FOUR, key="epss", unit="mm", dog_row="dog_epss_ware6",
         cat_row="cat_epss_mmode_ware6"),
    Size(title="EPSS, outflow", view=OUTFLOW, key="epss", unit="mm", dog_row="dog_epss_ware6",
         cat_row="cat_epss_mmode_ware6"),
    Size(title="EPSS, mitral short axis", view=MITRAL, key="epss", unit="mm", dog_row="dog_epss_ware6",
         cat_row="cat_epss_mmode_ware6"),
    *(
        Size(title=f"LA:Ao, {way}", view=BASE, key=f"la_ao_by_{key}", unit="1", digits=2,
             dog=(1.1, 1.6), cat=(0.96, 1.40),
             source="dog: below 1.6, LAROUCHE2019; cat: ± 2 SD, ABBOTT2006")
        for way, key in (("commissure-parallel", "commissure"), ("single line", "line"))
    ),
    Size(title="Ao, short axis, commissure", view=BASE, key="aortic_root_by_commissure", unit="mm",
         dog_row="dog_aortic_root_mmode_cornell2004", cat_row="cat_aortic_root_mmode_ware6"),
    Size(title="PA:Ao", view=TRUNK, key="mpa_ao", unit="1", digits=2, dog_row="dog_mpa_ao_visser2016",
         cat=(None, 1.04), source="limit of dogs"),
    *(
        Size(title=f"Slope of the septum, {SHORT[view]}, + falls to the base", view=view, key="septal_slope", unit="°",
             dog=(None, None), cat=(None, None), source="none held against it: later poses are compared with it")
        for view in (FOUR, OUTFLOW)
    ),
    Size(title="Eccentricity index, end-diastole", view=PAPILLARY, key="eccentricity_index_d", unit="1", digits=2,
         dog=(0.9, 1.15), cat=(0.9, 1.15), source="about 1, from memory"),
    Size(title="Eccentricity index, end-systole", view=PAPILLARY, key="eccentricity_index_s", unit="1", digits=2,
         dog=(0.9, 1.15), cat=(0.9, 1.15), source="about 1, from memory"),
)  # fmt: skip
Values = dict[tuple[str, str], Caliper]  # (view, key)


def moments(animal: Animal) -> dict[Still, CycleState]:
    """Return the moments of one beat of the animal's own rhythm, at the end of expiration."""
    rhythm = animal.rhythm
    its = beats(rhythm, 3000.0)
    needed = {moment for view in VIEWS for moment in moments_of(view)}
    found = {}
    for moment in needed:
        state = state_at(rhythm, its, still_time_ms(rhythm, its, 1, moment))
        found[moment] = replace(state, breath=0.0)
    return found


def measure_animal(case: tuple[Species, float, HeartClass, int]) -> Values:
    """Return every size of one animal."""
    species, weight_kg, heart, seed = case
    animal = draw_animal(
        species=species, weight_kg=weight_kg, heart=heart, chest=tuple(Chest)[seed % len(Chest)], seed=seed
    )
    states = moments(animal)
    found: Values = {}
    for view in VIEWS:
        beat = measure_beat(animal, states, standard_pose(animal, view), view, n_rows=N_ROWS)
        found |= {(view, key): caliper for key, caliper in beat.items()}
    for view in (FOUR, OUTFLOW):
        still = measure_view(animal, states[Still.END_DIASTOLE], standard_pose(animal, view), view, n_rows=N_ROWS)
        found[view, "septal_slope"] = still["septal_slope"]
    atrium, ring = found[FOUR, "left_atrium_long_axis"], found[OUTFLOW, "aortic_ring"]
    both = atrium.value / ring.value if atrium.value is not None and ring.value is not None else None
    found["", "la_ao_two_views"] = Caliper(
        name="la_ao_two_views", convention="", value=both, unit="1", reason="" if both else atrium.reason or ring.reason
    )
    return found


def limits(size: Size, species: Species, weight_kg: float) -> tuple[float | None, float | None, str] | None:
    """Return the published limits in the unit of the size, and their source; None where there are none."""
    key = size.dog_row if species is Species.DOG else size.cat_row
    if key:
        row = read_intervals(load_house())[key]
        found = work_out_limits(row, size.key if size.key in row.quantities else row.quantities[0], weight_kg)
        scale = 10.0 if row.unit == "cm" else 1.0
        low, high = (None if side is None else side * scale for side in (found.lower, found.upper))
        return low, high, row.citation
    own = size.dog if species is Species.DOG else size.cat
    return None if own is None else (*own, size.source)


def is_inside(value: float, low: float | None, high: float | None) -> bool:
    """Whether a value lies within limits, an open side counting as met."""
    return (low is None or value >= low) and (high is None or value <= high)


def words(low: float | None, high: float | None, digits: int) -> str:
    """Return limits as a reader says them."""
    if low is None:
        return f"up to {high:.{digits}f}"
    return f"from {low:.{digits}f}" if high is None else f"{low:.{digits}f}–{high:.{digits}f}"


def normal_table(results: dict[tuple[Species, float], list[Values]]) -> str:
    """Return the table of normal animals."""
    lines = [
        "| Size | animal | n | mean (range) | published | inside | source |",
        "|---|---|---|---|---|---|---|",
    ]
    for size in SIZES:
        for (species, weight_kg), animals in results.items():
            values = [v for a in animals if (v := a[size.view, size.key].value) is not None]
            held = limits(size, species, weight_kg)
            if held is None:
                continue
            low, high, source = held
            unit = "" if size.unit == "1" else f" {size.unit}"
            spread = "–"
            if values:
                d = size.digits
                spread = f"{np.mean(values):.{d}f} ({min(values):.{d}f}–{max(values):.{d}f}){unit}"
            inside = sum(is_inside(value, low, high) for value in values)
            is_held = (low, high) != (None, None)
            published = f"{words(low, high, size.digits)}{unit}" if is_held else "–"
            met = f"{inside} of {len(values)}" if is_held else "–"
            lines.append(
                f"| {size.title} | {species.value} {weight_kg:g} kg | {len(values)} of {len(animals)} | {spread} | "
                f"{published} | {met} | {source} |"
            )
    return "\n".join(lines)


CLASS_SIZES = (
    (CHORDAE, "lvidd"), (CHORDAE, "fractional_shortening"), (CHORDAE, "ivsd"), (CHORDAE, "lvwd"),
    (FOUR, "sphericity_index"), (FOUR, "rv_lv_area_d"), (FOUR, "epss"),
    (BASE, "la_ao_by_commissure"),
    (BASE, "la_ao_by_line"), (TRUNK, "mpa_ao"), (PAPILLARY, "eccentricity_index_d"),
    (PAPILLARY, "eccentricity_index_s"),
)  # fmt: skip


def class_table(results: dict[HeartClass, list[Values]], species: Species, weight_kg: float) -> str:
    """Return the table of classes of heart: mean, and how many lie below and above the limits of healthy animals."""
    sizes = [size for size in SIZES if (size.view, size.key) in CLASS_SIZES]
    lines = [
        "| Size | " + " | ".join(heart.value.replace("_", " ") for heart in results) + " |",
        "|---" * (len(results) + 1) + "|",
    ]
    for size in sizes:
        held = limits(size, species, weight_kg)
        assert held is not None
        low, high, _ = held
        cells = []
        for animals in results.values():
            values = [v for a in animals if (v := a[size.view, size.key].value) is not None]
            if not values:
                cells.append(f"– (0 of {len(animals)})")
                continue
            under = sum(low is not None and value < low for value in values)
            over = sum(high is not None and value > high for value in values)
            away = ", ".join(f"{n} {side}" for n, side in ((under, "below"), (over, "above")) if n) or "inside"
            few = "" if len(values) == len(animals) else f", n {len(values)}"
            cells.append(f"{np.mean(values):.{size.digits}f} ({away}{few})")
        lines.append(f"| {size.title} ({words(low, high, size.digits)}) | " + " | ".join(cells) + " |")
    return "\n".join(lines)


TURNS = (
    *((Movement.TILT, amount) for amount in (-8.0, -4.0, 4.0, 8.0)),
    *((Movement.ROTATE, amount) for amount in (-12.0, -6.0, 6.0, 12.0)),
    *((Movement.ROCK, amount) for amount in (-8.0, 8.0)),
    *((Movement.SLIDE, amount) for amount in (-10.0, -5.0, 5.0, 10.0)),
)


def measure_turned(seed: int) -> dict[tuple[str, float, str], float | None]:
    """Return what turning the probe does to one dog of 10 kg: each size over its own at the standard pose."""
    animal = draw_animal(
        species=Species.DOG,
        weight_kg=10.0,
        heart=HeartClass.NORMAL,
        chest=tuple(Chest)[seed % len(Chest)],
        seed=seed,
    )
    states = moments(animal)
    found: dict[tuple[str, float, str], float | None] = {}
    looks: tuple[tuple[str, Still, Callable[[dict[str, Caliper]], Iterable[tuple[str, Caliper]]]], ...] = (
        (BASE, Still.AFTER_AORTIC_CLOSURE, lambda view: [
            ("LA:Ao, commissure-parallel", view["la_ao_by_commissure"]),
            ("LA:Ao, single line", view["la_ao_by_line"]),
            ("roundness of the root (not over standard)", view["aortic_root_roundness"]),
        ]),
        (CHORDAE, Still.END_DIASTOLE, lambda view: [
            ("LVIDd, chordae", view["lv_internal_diameter"]),
            ("roundness of the ventricle (not over standard)", view["lv_roundness"]),
        ]),
        (FOUR, Still.END_DIASTOLE, lambda view: [
            ("LV diameter, 4-chamber", view["lv_internal_diameter"]),
            ("LV length, 4-chamber", view["lv_length"]),
            ("slope of the septum, ° (not over standard)", view["septal_slope"]),
        ]),
    )  # fmt: skip
    for view_key, moment, pick in looks:
        pose = standard_pose(animal, view_key)
        standard = dict(pick(measure_view(animal, states[moment], pose, view_key, n_rows=N_ROWS)))
        for movement, amount in (None, 0.0), *TURNS:
            there = pose if movement is None else moved(animal, pose, movement, amount)
            name = "standard" if movement is None else movement.value
            for title, caliper in pick(measure_view(animal, states[moment], there, view_key, n_rows=N_ROWS)):
                first = standard[title].value
                if "not over" in title:
                    found[name, amount, title] = caliper.value
                else:
                    both = caliper.value is not None and first is not None
                    found[name, amount, title] = caliper.value / first if both else None  # type: ignore[operator]
        if view_key == FOUR:
            longest = longest_lv(animal, states[moment], n_rows=N_ROWS)
            found["standard", 0.0, "foreshortening index"] = measure_shortening(
                standard["LV length, 4-chamber"], longest
            ).value
    return found


def turned_table(results: Sequence[dict[tuple[str, float, str], float | None]]) -> str:
    """Return the table of turned probes."""
    titles = list(dict.fromkeys(title for _, _, title in results[0]))
    lines = ["| Movement | " + " | ".join(titles) + " |", "|---" * (len(titles) + 1) + "|"]
    for name, amount in dict.fromkeys((name, amount) for name, amount, _ in results[0]):
        unit = " mm" if name == "slide" else "°"
        cells = []
        for title in titles:
            values = [v for r in results if (v := r.get((name, amount, title))) is not None]
            few = "" if len(values) == len(results) else f", n {len(values)}"
            cells.append(f"{np.mean(values):.2f} ({min(values):.2f}–{max(values):.2f}{few})" if values else "–")
        lines.append(f"| {name}{'' if name == 'standard' else f' {amount:+g}{unit}'} | " + " | ".join(cells) + " |")
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, help="print the tables for so few animals instead of writing the page")
    parser.add_argument("--only", choices=("sizes", "classes", "turns"), help="one table, printed")
    given = parser.parse_args()
    n = given.seeds or N_SEEDS
    n_classes, n_turned = max(n // 2, 1), max(n // 2, 1)
    tables: dict[str, tuple[str, str]] = {}
    with ProcessPoolExecutor(max_workers=2) as pool:
        if given.only in (None, "sizes"):
            cases = [(s, w, HeartClass.NORMAL, seed) for s, w in GROUPS for seed in range(n)]
            values = list(pool.map(measure_animal, cases, chunksize=2))
            by_group = {g: [v for c, v in zip(cases, values, strict=True) if c[:2] == g] for g in GROUPS}
            tables["heart-sizes"] = (normal_table(by_group), f"ring A, 0 to {n - 1} for each kind of animal")
        if given.only in (None, "classes"):
            cases = [(Species.DOG, 10.0, heart, seed) for heart in HeartClass for seed in range(n_classes)]
            values = list(pool.map(measure_animal, cases, chunksize=2))
            by_class = {heart: [v for c, v in zip(cases, values, strict=True) if c[2] is heart] for heart in HeartClass}
            tables["heart-sizes-by-class"] = (
                class_table(by_class, Species.DOG, 10.0), f"ring A, 0 to {n_classes - 1} for each class; dogs of 10 kg",
            )  # fmt: skip
        if given.only in (None, "turns"):
            turned = list(pool.map(measure_turned, range(n_turned)))
            tables["heart-sizes-turned"] = (turned_table(turned), f"ring A, 0 to {n_turned - 1}; dogs of 10 kg")
    for name, (table, seeds) in tables.items():
        if given.seeds or given.only:
            print(table, end="\n\n")
        else:
            write_table(PAGE, name, table, script=SCRIPT, describes=described(SCRIPT), seeds=seeds)


if __name__ == "__main__":
    main()
