"""The left atrium, its auricle and pulmonary veins: it grows away from aorta and septum until it measures as drawn."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from fanlight.heart.anatomy import Anatomy
from fanlight.heart.aorta import Aorta
from fanlight.heart.av_valve import AvValve
from fanlight.heart.base_plane import BasePlane
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.rods import Egg, Rod
from fanlight.heart.semilunar_valve import Root
from fanlight.heart.triple import Triple, across, add, minus, scaled, unit

# Directions and shares of growth are engineering judgement: a large atrium bulges to the left, dorsally and caudally,
# because aorta and septum stand in its way elsewhere.
_CENTRE = (0.40, -0.13, 0.07)  # from the middle of the mitral plane, units
_AWAY = (0.20, -0.10, 0.34)  # shift of the centre per unit that the atrium is wider than a healthy dog's
_RADII = (0.45, 0.38, 0.56)
_GROWTH = (0.34, 0.36, 0.44)
_CHANGE = 0.09  # of the radii between smallest and largest
_EARLY_DIASTOLE = 0.9  # filling when LA:Ao is measured
# Caudal veins of the left and of the right lung, and the cranial ones, which open beside the auricle.
_VEINS = ((0.35, -0.60, 0.72), (0.55, -0.80, -0.22), (0.95, -0.30, 0.15))


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftAtrium:
    """The left atrium now, in rest coordinates of the heart."""

    body: Egg
    vestibule: Rod  # from the mitral ring into the body
    wall_mm: float
    auricle: tuple[Rod, Rod]
    veins: tuple[Rod, ...]
    bulge_mm: float  # width beyond a healthy dog's


def left_atrium(anatomy: Anatomy, state: CycleState, base: BasePlane, aorta: Aorta, mitral: AvValve) -> LeftAtrium:
    """Return the atrium at this moment."""
    u = base.unit_mm
    extra = extra_for(anatomy.sizes.la_ao_ratio, aorta.resting_root, base.resting, aorta.wall_mm)
    body = atrium(base, extra, state.atrial_filling)
    swell = 1.0 + 0.4 * extra
    foot = add(body.centre, (-0.06, 0.26, 0.30), u * (1.0 + 0.5 * extra))
    # A wide pulmonary trunk pushes the auricle to the left.
    trunk_mm = 0.5 * anatomy.sizes.pulmonary_ao_ratio * anatomy.sizes.aorta_mm
    aside = (0.0, 0.0, 1.3 * max(trunk_mm - 0.245 * u, 0.0))
    middle = add(base.fixed(0.28, 0.46, 0.68), (0.0, 0.05, 0.2), extra * u)
    tip = add(base.fixed(0.20, 0.76, 0.60), (0.0, 0.05, 0.2), extra * u)
    middle, tip = add(middle, aside), add(tip, aside)
    veins = []
    for direction in _VEINS:
        out = unit(direction)
        reach = 1.0 / math.sqrt(sum((d / r) ** 2 for d, r in zip(out, body.radii, strict=True)))
        mouth = add(body.centre, out, 0.88 * reach)
        veins.append(Rod(start=mouth, end=add(mouth, out, 0.55 * u), start_mm=0.105 * u, end_mm=0.09 * u))
    return LeftAtrium(
        body=body,
        vestibule=Rod(
            start=add(mitral.centre, mitral.up, 0.10 * u),
            end=body.centre,
            start_mm=0.95 * mitral.radius_mm,
            end_mm=0.75 * min(body.radii),
        ),
        wall_mm=0.045 * u,
        auricle=(
            Rod(start=foot, end=middle, start_mm=0.19 * u * swell, end_mm=0.15 * u * swell),
            Rod(start=middle, end=tip, start_mm=0.15 * u * swell, end_mm=0.08 * u * swell),
        ),
        veins=tuple(veins),
        bulge_mm=extra * u,
    )


def atrium(base: BasePlane, extra: float, filling: float) -> Egg:
    """Return the atrium's body, `extra` units wider than a healthy dog's; `filling` is 0 smallest, 1 largest."""
    swell = base.unit_mm * (1.0 + _CHANGE * (filling - 1.0))
    a, b, c = (swell * (r + g * extra) for r, g in zip(_RADII, _GROWTH, strict=True))
    return Egg(centre=add(base.fixed(*_CENTRE), scaled(_AWAY, extra * base.unit_mm)), radii=(a, b, c))


def beside_aorta_mm(body: Egg, root: Root, wall_mm: float) -> float:
    """Return the atrium's width on the line that runs on from the commissure of left and non-coronary cusp.

    That is where the short axis measures it: from the aorta's outer wall to the far wall of the atrium.
    """
    start = root.at(0.5, 0.0, 0.0)
    towards: Triple = across(minus(root.at(0.5, 1.0, 180.0), start), root.axis)
    p = minus(start, body.centre)
    a = sum((d / r) ** 2 for d, r in zip(towards, body.radii, strict=True))
    b = sum(x * d / r**2 for x, d, r in zip(p, towards, body.radii, strict=True))
    c = sum((x / r) ** 2 for x, r in zip(p, body.radii, strict=True)) - 1.0
    inside = b * b - a * c
    if inside <= 0.0:
        return 0.0
    near, far = (-b - math.sqrt(inside)) / a, (-b + math.sqrt(inside)) / a
    return max(far - max(near, root.radius_at(0.5, -1.0) + wall_mm), 0.0)


@lru_cache(maxsize=256)  # a beating heart asks again at each of its moments
def extra_for(ratio: float, root: Root, base: BasePlane, wall_mm: float) -> float:
    """Return the growth with which the atrium measures `ratio` times the aorta in early diastole.

    Width grows with `extra` throughout, so halving the interval finds it. `root` and `base` are those at rest.
    """
    wanted = ratio * 2.0 * root.radius_at(0.5)
    low, high = -0.5, 3.0
    for _ in range(14):  # to a few ten thousandths of a unit
        middle = 0.5 * (low + high)
        if beside_aorta_mm(atrium(base, middle, _EARLY_DIASTOLE), root, wall_mm) < wanted:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
