"""How a disease reshapes a healthy heart. Ranges follow published limits for the shape; they diagnose nothing."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from fanlight.heart.anatomy_sizes import Sizes
from fanlight.heart.kinds import HeartClass
from fanlight.study import Species

# What goes back in mitral disease, of what the left ventricle ejects: as much as leaves about a healthy stroke for the
# aorta at the diameters and shortening drawn below (engineering judgement).
_LEAST_LEAK, _MORE_LEAK = 0.30, 0.30


@dataclass(frozen=True, slots=True, kw_only=True)
class Disease:
    """What a disease adds that is no size: all 0 in health."""

    prolapse_fraction: float = 0.0  # of the mitral leaflets into the atrium in systole: 1 is far past the annulus
    mitral_restriction_fraction: float = 0.0  # opening lost by low flow
    regurgitant_fraction: float = 0.0  # of what the left ventricle ejects, back through the mitral valve
    septal_flattening_diastole: float = 0.0  # share of the septal radius that is lost
    septal_flattening_systole: float = 0.0
    right_atrium_ratio: float = 1.0
    effusion_mm: float = 0.0  # thickness of the fluid layer where it is thickest
    pericardium_mm: float = 0.0  # thickening


def reshape(
    sizes: Sizes, heart: HeartClass, species: Species, weight_kg: float, rng: np.random.Generator
) -> tuple[Sizes, Disease]:
    """Return sizes and shape of the heart in this class.

    Notes
    -----
    - Left atrium: LA:Ao 1.6 to 2.2; enlarged from 1.6 (LAROUCHE2019) in dogs and 1.5 in cats (ABBOTT2006).
    - Mitral disease: LVIDDN 1.7 or more (LAROUCHE2019) to 2.2, with a brisk ventricle that empties into the atrium:
      0.30 to 0.60 of what it ejects goes back (engineering judgement).
    - Dilated ventricle: LVIDDN above 1.85 (upper limit, CORNELL2004), length over diameter below 1.65 (HOLLER2014).
    - Right overload: trunk wider than the aorta (limit 1.04, VISSER2016), septum flattened most in systole.
    - Thick walls: 6 mm or more in cats (CATSCAN2015); in dogs 1.4 times the healthy wall (engineering judgement).
    - Effusion: 5 to 20 mm at 10 kg, scaled by length (engineering judgement).
    """
    severity = float(rng.uniform(0.0, 1.0))
    size = (weight_kg / 10.0) ** (1.0 / 3.0)
    # Diameter that an index of 1 cm per kg^0.294 stands for (CORNELL2004); a cat has no such index and grows in
    # proportion to its own healthy size instead.
    index_mm = 10.0 * weight_kg**0.294 if species is Species.DOG else sizes.unit_mm / 1.53
    match heart:
        case HeartClass.NORMAL:
            return sizes, Disease()
        case HeartClass.LA_ENLARGED:
            return replace(sizes, la_ao_ratio=1.65 + 0.55 * severity), Disease()
        case HeartClass.MITRAL_DISEASE:
            return (
                replace(
                    sizes,
                    lv_diameter_mm=max((1.72 + 0.43 * severity) * index_mm, 1.05 * sizes.unit_mm),
                    lv_length_ratio=sizes.lv_length_ratio * (0.93 - 0.08 * severity),
                    la_ao_ratio=1.7 + 0.5 * severity,
                    fs_fraction=min(sizes.fs_fraction + 0.06 + 0.06 * severity, 0.55),
                ),
                Disease(
                    prolapse_fraction=0.55 + 0.45 * severity, regurgitant_fraction=_LEAST_LEAK + _MORE_LEAK * severity
                ),
            )
        case HeartClass.LV_DILATED:
            return (
                replace(
                    sizes,
                    lv_diameter_mm=max((1.88 + 0.35 * severity) * index_mm, 1.12 * sizes.unit_mm),
                    lv_length_ratio=1.62 - 0.2 * severity,
                    septum_mm=0.9 * sizes.septum_mm,
                    free_wall_mm=0.9 * sizes.free_wall_mm,
                    la_ao_ratio=1.5 + 0.4 * severity,
                    fs_fraction=0.21 - 0.1 * severity,
                    descent_ratio=sizes.descent_ratio * (0.55 - 0.15 * severity),
                ),
                Disease(mitral_restriction_fraction=0.25 + 0.2 * severity),
            )
        case HeartClass.RIGHT_OVERLOAD:
            return (
                replace(
                    sizes,
                    lv_diameter_mm=(0.95 - 0.1 * severity) * sizes.lv_diameter_mm,
                    la_ao_ratio=0.92 * sizes.la_ao_ratio,
                    rv_free_wall_mm=(1.4 + 0.6 * severity) * sizes.rv_free_wall_mm,
                    rv_size_ratio=1.3 + 0.5 * severity,
                    pulmonary_ao_ratio=1.08 + 0.4 * severity,
                ),
                Disease(
                    septal_flattening_diastole=0.1 + 0.2 * severity,
                    septal_flattening_systole=0.28 + 0.3 * severity,
                    right_atrium_ratio=1.15 + 0.25 * severity,
                ),
            )
        case HeartClass.THICK_WALLS:
            if species is Species.CAT:
                septum, free = 6.3 + 2.5 * severity, 6.2 + 2.0 * severity
            else:
                septum = (1.35 + 0.25 * severity) * sizes.septum_mm
                free = (1.35 + 0.2 * severity) * sizes.free_wall_mm
            return (
                replace(
                    sizes,
                    septum_mm=septum,
                    free_wall_mm=free,
                    lv_diameter_mm=(0.94 - 0.1 * severity) * sizes.lv_diameter_mm,
                    la_ao_ratio=sizes.la_ao_ratio + 0.1 + 0.4 * severity,
                    fs_fraction=min(sizes.fs_fraction + 0.05, 0.6),
                ),
                Disease(),
            )
        case HeartClass.EFFUSION:
            layer = (5.0 + 15.0 * severity) * size
            return (
                # Pressure from outside leaves less room to fill (engineering judgement).
                replace(sizes, lv_diameter_mm=(0.97 - 0.1 * severity) * sizes.lv_diameter_mm),
                Disease(effusion_mm=layer, pericardium_mm=0.2 * math.sqrt(size)),
            )
