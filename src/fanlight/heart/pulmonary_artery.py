"""The pulmonary trunk from its valve, left of and cranial to the aorta, to the first stretch of both branches."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.heart.anatomy import Anatomy
from fanlight.heart.base_plane import BasePlane
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.left_atrium import LeftAtrium
from fanlight.heart.rods import Rod
from fanlight.heart.semilunar_valve import Root
from fanlight.heart.triple import across, add, cross, minus, unit

_USUAL = 0.57  # aortic root over unit in a dog of 10 kg (CORNELL2004)
_ROOF = 0.87  # height of a healthy left atrium's roof over the mitral plane, units


@dataclass(frozen=True, slots=True, kw_only=True)
class PulmonaryArtery:
    """The pulmonary artery now, in rest coordinates of the heart."""

    root: Root
    trunk: Rod
    right: tuple[Rod, Rod]  # behind the ascending aorta and over the left atrium
    left: Rod
    wall_mm: float


def pulmonary_artery(anatomy: Anatomy, state: CycleState, base: BasePlane, atrium: LeftAtrium) -> PulmonaryArtery:
    """Return the artery at this moment.

    The trunk runs dorsally, so that a left cranial window near the sternum looks along it; a large left atrium lifts
    the division and with it the right branch.
    """
    u, aortic = base.unit_mm, anatomy.sizes.aorta_mm
    radius = 0.5 * anatomy.sizes.pulmonary_ao_ratio * aortic
    valve = add(base.fixed(0.10, 0.78, 0.14), (0.0, 0.5, 0.0), aortic - _USUAL * u)
    valve = add(valve, (0.5, 0.8, 0.0), base.widened_mm)
    lifted = max(0.0, atrium.body.centre[0] + atrium.body.radii[0] - (base.level_mm + _ROOF * u))
    fork = add(base.fixed(0.80, 0.32, 0.40), (1.0, 0.0, 0.25), lifted)
    axis = unit(minus(fork, valve))
    first = across((0.0, 1.0, 0.3), axis)
    branch = 0.66 * radius
    behind = (fork[0] + 0.06 * u, -0.10 * u, 0.12 * u)
    away = (fork[0] + 0.06 * u, -0.62 * u, -0.28 * u)
    return PulmonaryArtery(
        root=Root(
            centre=valve,
            axis=axis,
            first_cusp=first,
            second=cross(axis, first),
            diameter_mm=2.12 * radius,  # sinuses a little wider than the trunk
            opening=state.pulmonic_opening,
            half_mm=max(0.0115 * u, 0.26),
            trefoil=0.05,
        ),
        trunk=Rod(start=add(valve, axis, 0.05 * u), end=fork, start_mm=radius, end_mm=radius),
        right=(
            Rod(start=fork, end=behind, start_mm=branch, end_mm=branch),
            Rod(start=behind, end=away, start_mm=branch, end_mm=0.8 * branch),
        ),
        left=Rod(start=fork, end=add(fork, (0.25, 0.02, 0.50), u), start_mm=branch, end_mm=0.8 * branch),
        wall_mm=0.045 * u,
    )
