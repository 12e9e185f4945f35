"""Sizes of a healthy heart drawn for an animal's weight, inside published intervals.

Names as a cardiologist says them: lv, left ventricle; fs, fractional shortening; la_ao, left atrium over aortic root.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fanlight.reference.interval_limits import work_out_limits
from fanlight.reference.intervals import read_intervals
from fanlight.reference.units import convert_unit
from fanlight.study import House, Species

# Published intervals hold 95 % of animals that differ in breed, training and observer. Drawn hearts keep to the middle
# of them so that a heart called normal also measures as normal (engineering judgement).
_SPREAD_KEPT = 0.6
_NORMAL_95 = 3.92  # width of a 95 % interval in standard deviations
_SHARED = 0.6  # correlation between the sizes of one animal: a large heart is large throughout (engineering judgement)
_DOG_ROWS = {
    "lvidd": "dog_lvidd_mmode_cornell2004",
    "lvids": "dog_lvids_mmode_cornell2004",
    "ivsd": "dog_ivsd_mmode_cornell2004",
    "lvwd": "dog_lvwd_mmode_cornell2004",
    "aortic_root": "dog_aortic_root_mmode_cornell2004",
}
# Cat tables give no curve by weight, only ranges for cats in general (intervals.toml, cat_*_ware6). Dimensions follow a
# power law of weight (HAGGSTROM2016, abstract); its coefficients were not seen, so a weak power about the middle of the
# range at 4 kg stands in for it: engineering judgement, clipped to the published range.
_CAT_ROWS = {"lvidd": "cat_lvidd_mmode_ware6", "aortic_root": "cat_aortic_root_mmode_ware6"}
_CAT_WEIGHT_KG = 4.0
_CAT_POWER = 0.25
_CAT_WALL_MM = 4.0  # 42 of 51 healthy cats below 4.5 mm, none above 5.7 (CATDOPPLER2012)
_CAT_WALL_SPREAD = 0.06  # of the logarithm: keeps 95 % of drawn walls between 3.5 and 4.5 mm
_CAT_WALL_POWER = 0.12  # weight correlation is weak (same source)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizes:
    """Sizes at end-diastole, mm, and the ratios that shape and move the heart."""

    unit_mm: float  # inner diameter that the healthy left ventricle has: the measure of everything else
    lv_diameter_mm: float
    lv_length_ratio: float  # apex to mitral plane over diameter
    septum_mm: float
    free_wall_mm: float
    aorta_mm: float  # root at the sinuses
    la_ao_ratio: float  # short axis, early diastole
    fs_fraction: float
    descent_ratio: float  # of the base in systole, in units
    rv_free_wall_mm: float
    rv_size_ratio: float  # depth of the right ventricle, 1 healthy
    pulmonary_ao_ratio: float  # trunk over aortic root


def _typical_mm(house: House, key: str, quantity: str, weight_kg: float) -> tuple[float, float]:
    """Return centre in mm and standard deviation of the logarithm of a published interval at this weight."""
    row = read_intervals(house)[key]
    limits = work_out_limits(row, quantity, weight_kg)
    if limits.lower is None or limits.upper is None:
        raise ValueError(f"row {key!r} has no two limits; a heart cannot be drawn from it")
    centre = limits.centre if limits.centre is not None else math.sqrt(limits.lower * limits.upper)
    return convert_unit(centre, row.unit, "mm"), math.log(limits.upper / limits.lower) / _NORMAL_95


def draw_sizes(*, species: Species, weight_kg: float, house: House, rng: np.random.Generator) -> Sizes:
    """Return sizes of one healthy heart.

    Parameters
    ----------
    species : Species
    weight_kg : float
        Body weight; dogs 2 to 95 kg and cats 1.5 to 12 kg.
    house : House
        Table "intervals".
    rng : numpy.random.Generator

    Raises
    ------
    ValueError
        If the weight lies outside what the tables cover.
    """
    low, high = (2.0, 95.0) if species is Species.DOG else (1.5, 12.0)
    if not low <= weight_kg <= high:
        raise ValueError(
            f"a {species.value} of {weight_kg:g} kg cannot be drawn: the tables cover {low:g} to {high:g} kg; "
            "choose a weight in that range"
        )
    shared = float(np.clip(rng.normal(), -2.0, 2.0))

    def scatter(sd: float) -> float:
        own = float(np.clip(rng.normal(), -2.0, 2.0))
        return math.exp(_SPREAD_KEPT * sd * (_SHARED * shared + math.sqrt(1.0 - _SHARED**2) * own))

    typical: dict[str, tuple[float, float]] = {}
    ranges: dict[str, tuple[float, float]] = {}
    if species is Species.DOG:
        typical = {name: _typical_mm(house, key, name, weight_kg) for name, key in _DOG_ROWS.items()}
        fs_centre = 1.0 - typical["lvids"][0] / typical["lvidd"][0]  # falls with weight, as in the table
        fs = float(np.clip(rng.normal(fs_centre, 0.025), 0.28, 0.44))
        # Mean and spread as textbooks and limits of 1.5 to 1.6 for an enlarged atrium leave them.
        la_ao = float(np.clip(rng.normal(1.37, 0.07), 1.2, 1.52))
    else:
        for name, key in _CAT_ROWS.items():
            centre, sd = _typical_mm(house, key, name, weight_kg)
            row = read_intervals(house)[key]
            lower, upper = row.number("lower") or centre, row.number("upper") or centre
            by_weight = centre * (weight_kg / _CAT_WEIGHT_KG) ** _CAT_POWER
            ranges[name] = (lower, upper)
            typical[name] = (float(np.clip(by_weight, 1.05 * lower, 0.95 * upper)), sd)
        wall = _CAT_WALL_MM * (weight_kg / _CAT_WEIGHT_KG) ** _CAT_WALL_POWER
        typical["ivsd"] = typical["lvwd"] = (wall, _CAT_WALL_SPREAD / _SPREAD_KEPT)
        fs = float(np.clip(rng.normal(0.46, 0.04), 0.38, 0.56))  # 35 to 65 % in the guide (WARE6)
        la_ao = float(np.clip(rng.normal(1.18, 0.07), 1.02, 1.36))  # 1.18 ± 0.11 (ABBOTT2006)
    mm = {name: centre * scatter(sd) for name, (centre, sd) in typical.items()}
    for name, (lower, upper) in ranges.items():
        mm[name] = float(np.clip(mm[name], 1.02 * lower, 0.98 * upper))
    return Sizes(
        unit_mm=mm["lvidd"],
        lv_diameter_mm=mm["lvidd"],
        lv_length_ratio=float(np.clip(rng.normal(1.95, 0.05), 1.85, 2.08)),  # engineering judgement: well above 1.65
        septum_mm=mm["ivsd"],
        free_wall_mm=mm["lvwd"],
        aorta_mm=mm["aortic_root"],
        la_ao_ratio=la_ao,
        fs_fraction=fs,
        descent_ratio=float(rng.normal(0.26, 0.015)),  # about 8 mm at 10 kg: engineering judgement
        rv_free_wall_mm=0.33 * mm["lvwd"],  # a third to a half of the left (common practice, no source)
        rv_size_ratio=float(np.clip(rng.normal(1.0, 0.06), 0.85, 1.15)),
        pulmonary_ao_ratio=float(np.clip(rng.normal(0.86, 0.04), 0.76, 0.96)),  # below 1.04 (VISSER2016)
    )
