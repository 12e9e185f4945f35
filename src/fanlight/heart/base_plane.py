"""The plane of the atrioventricular valves, from which everything at the base of the heart is placed."""

from __future__ import annotations

from dataclasses import dataclass, replace

from fanlight.heart.anatomy import Anatomy
from fanlight.heart.left_ventricle import LeftVentricle
from fanlight.heart.triple import Triple

_HEALTHY_BASE_RADIUS = 0.44  # of the ventricle at the mitral plane, units: see `left_ventricle`
_HEALTHY_SEPTUM = 0.74  # from the long axis to the right side of the septum, units: half a unit and its wall


@dataclass(frozen=True, slots=True, kw_only=True)
class BasePlane:
    """Where the base stands now. Places are given in units from the middle of the mitral plane."""

    unit_mm: float
    level_mm: float
    ring: float  # radius of the ventricle's base now over a healthy one's at rest
    ring_at_rest: float
    push_mm: float  # by which a wide left ventricle pushes the right heart away

    @property
    def resting(self) -> BasePlane:
        """Return the plane with the ring at rest and the right heart unpushed: it is the same at all moments."""
        return replace(self, ring=self.ring_at_rest, push_mm=0.0)

    @property
    def widened_mm(self) -> float:
        """Return how much wider than a healthy one the left ventricle's base is at rest, never below 0."""
        return max(self.ring_at_rest - 1.0, 0.0) * _HEALTHY_BASE_RADIUS * self.unit_mm

    def left(self, a: float, b: float, c: float) -> Triple:
        """Return a place that goes with the ring of the left ventricle: it narrows when that contracts."""
        u = self.unit_mm
        return (self.level_mm + a * u, b * u * self.ring, c * u * self.ring)

    def right(self, a: float, b: float, c: float) -> Triple:
        """Return a place of the right heart."""
        u = self.unit_mm
        return (self.level_mm + a * u, b * u, c * u - self.push_mm)

    def fixed(self, a: float, b: float, c: float) -> Triple:
        """Return a place that neither ventricle moves sideways."""
        u = self.unit_mm
        return (self.level_mm + a * u, b * u, c * u)


def base_plane(anatomy: Anatomy, lv: LeftVentricle) -> BasePlane:
    """Return the plane of the base for a left ventricle."""
    u = anatomy.sizes.unit_mm
    return BasePlane(
        unit_mm=u,
        level_mm=lv.base_mm,
        ring=lv.ring_ratio * lv.rest_base_radius_mm / (_HEALTHY_BASE_RADIUS * u),
        ring_at_rest=lv.rest_base_radius_mm / (_HEALTHY_BASE_RADIUS * u),
        push_mm=lv.septal_surface_mm - _HEALTHY_SEPTUM * u,
    )
