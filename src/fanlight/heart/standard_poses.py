"""The pose of every standard view, defined by landmarks of the heart at the end of expiration.

No angle is given for any view: each is a plane through named places of this animal's heart and a place on its skin, so
that the views follow size, axis of the heart and disease. Landmarks are those of the moment at which the trade sets
the plane: end-diastole, unless said otherwise. Lengths in mm at 10 kg grow with the animal.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal, animal_axes, animal_landmarks
from fanlight.heart.cycle import RESTING, Still, still
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.landmark import Axis, Landmark
from fanlight.heart.lung import outside_notches_mm
from fanlight.heart.pose import Pose, Vector
from fanlight.heart.skin import inward_normals
from fanlight.heart.view_rule import Near, Toward, ViewRule, best_pose
from fanlight.heart.windows import Window, allowed_contacts_mm, window_centre_mm

Floats = NDArray[np.float64]

CRANIAL, LEFT, DORSAL = np.eye(3)
AURICLE_BOW_MM = 6.0  # at 10 kg
BESIDE_ROOT_MM = 10.0  # at 10 kg: from the hinge that aorta and mitral valve share into the left atrium
FREE_UNDER_WALL_MM = 8.0  # at 10 kg: a hand keeps where no lung lies so far under the wall. Engineering judgement


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Heart:
    """Landmarks and axes of an animal at one moment of an even beat, and its size, for the rules below."""

    animal: Animal
    points: dict[Landmark, Vector]
    axes: dict[Axis, Vector]
    k: float  # cube root of weight over 10 kg

    def during(self, moment: Still) -> _Heart:
        """Return the same heart at another moment."""
        return _heart_at(self.animal, still(moment))

    @property
    def hanging(self) -> _Heart:
        """Return the heart at end-diastole with the mitral leaflets hanging wide open."""
        return _heart_at(self.animal, replace(RESTING, mitral_opening=1.0))

    def at(self, *names: Landmark) -> Vector:
        """Return the mean of landmarks."""
        return np.asarray(np.mean([self.points[name] for name in names], axis=0))

    def near(self, hold_mm: float, *names: Landmark) -> list[Near]:
        """Ask the plane to pass landmarks."""
        return [Near(point_mm=self.points[name], hold_mm=hold_mm * self.k) for name in names]

    def clear(self, clear_mm: float, hold_mm: float, *names: Landmark) -> list[Near]:
        """Ask the plane to keep clear of landmarks."""
        return [
            Near(point_mm=self.points[name], hold_mm=hold_mm * self.k, clear_mm=clear_mm * self.k) for name in names
        ]

    def toward(self, axis: Axis, hold_deg: float, sign: float = 1.0) -> Toward:
        """Ask for a direction of the heart."""
        return Toward(direction=sign * self.axes[axis], hold_deg=hold_deg)

    @property
    def transverse(self) -> Vector:
        """Return the direction across the left ventricle, along the septum: cranial and ventral."""
        return np.cross(self.axes[Axis.SEPTUM_NORMAL], self.axes[Axis.LV_LONG])

    def level(self, point_mm: Vector) -> float:
        """Return how far a point lies from the ventricle's centre towards the base, mm."""
        return float((point_mm - self.points[Landmark.LV_CENTRE]) @ self.axes[Axis.LV_LONG])

    def on_axis(self, level_mm: float) -> Vector:
        """Return the point of the ventricle's long axis at a level."""
        return np.asarray(self.points[Landmark.LV_CENTRE] + level_mm * self.axes[Axis.LV_LONG])


@lru_cache(maxsize=32)
def _heart_at(animal: Animal, state: CycleState) -> _Heart:
    return _Heart(
        animal=animal,
        points=animal_landmarks(animal, state),
        axes=animal_axes(animal, state),
        k=animal.thorax.scale_ratio,
    )


L = Landmark


def _unit(vector: Vector) -> Vector:
    return np.asarray(vector / np.linalg.norm(vector))


def _right_four_chamber(h: _Heart) -> ViewRule:
    """Apex, mitral centre and tricuspid centre; beam square to the septum."""
    apex, mitral = h.at(L.LV_APEX), h.at(L.MITRAL_CENTRE)
    return ViewRule(
        aim_mm=0.2 * apex + 0.8 * mitral,
        along=mitral - apex,
        near=h.near(5.0, L.TRICUSPID_CENTRE, L.FOSSA_OVALIS, L.LA_CENTRE),
        beam=h.toward(Axis.SEPTUM_NORMAL, 10.0),
        marker=mitral - apex,
    )


def _right_outflow(h: _Heart) -> ViewRule:
    """Aortic centre, tip of the open septal leaflet and left atrium at its largest; the apex gives way.

    From the right these do not lie in one plane with the apex: the aorta lies on the cranioventral side of the plane
    through contact and long axis, the atrium on the other. The trade measures valve, leaflet and atrium here, not
    length.
    """
    apex, aorta = h.at(L.LV_APEX), h.at(L.AORTIC_CENTRE)
    filling, systole = h.during(Still.EARLY_FILLING), h.during(Still.END_SYSTOLE)
    return ViewRule(
        aim_mm=0.08 * apex + 0.25 * aorta + 0.67 * filling.at(L.MITRAL_SEPTAL_TIP),
        near=[
            *h.near(1.0, L.AORTIC_CENTRE),
            *filling.near(2.0, L.MITRAL_SEPTAL_TIP),
            *systole.near(0.7, L.LA_CENTRE),
            *h.near(20.0, L.AORTIC_ASCENDING, L.LV_APEX),
            *h.clear(10.0, 2.0, L.PAPILLARY_CAUDAL_TIP),
        ],
        beam=h.toward(Axis.SEPTUM_NORMAL, 16.0),
        marker=aorta - apex,
    )


def _right_short_axis(level_mm: Callable[[_Heart], float], hold_deg: float = 4.0) -> Callable[[_Heart], ViewRule]:
    """Square to the left ventricle's axis at a level, within about `hold_deg`."""

    def rule(h: _Heart) -> ViewRule:
        return ViewRule(
            aim_mm=h.on_axis(level_mm(h)),
            normal=h.toward(Axis.LV_LONG, hold_deg),
            beam=h.toward(Axis.SEPTUM_NORMAL, 15.0),
            marker=h.transverse,
        )

    return rule


def _papillary_level(h: _Heart) -> float:
    """Half-way up the papillary muscles."""
    return h.level(
        h.at(L.PAPILLARY_CRANIAL_TIP, L.PAPILLARY_CRANIAL_BASE, L.PAPILLARY_CAUDAL_TIP, L.PAPILLARY_CAUDAL_BASE)
    )


def _apex_level(h: _Heart) -> float:
    """Nearer to the apex than to the roots of the papillary muscles: the cavity is clearly smaller there."""
    return h.level(0.7 * h.at(L.LV_APEX) + 0.3 * h.at(L.PAPILLARY_CRANIAL_BASE, L.PAPILLARY_CAUDAL_BASE))


def _tip_levels(h: _Heart) -> tuple[float, float]:
    """Levels of the two leaflet tips, the one nearer to the apex first."""
    low, high = sorted(h.level(h.points[tip]) for tip in (L.MITRAL_SEPTAL_TIP, L.MITRAL_PARIETAL_TIP))
    return low, high


def _chordae_level(h: _Heart) -> float:
    """Half-way from the tips of the papillary muscles to the tips of the leaflets, were they open."""
    tips = max(h.level(h.at(L.PAPILLARY_CRANIAL_TIP)), h.level(h.at(L.PAPILLARY_CAUDAL_TIP)))
    return 0.5 * (tips + _tip_levels(h.hanging)[0])


def _mitral_level(h: _Heart) -> float:
    """Half-way from the tips of the leaflets to the annulus."""
    return 0.5 * (_tip_levels(h)[1] + h.level(h.at(L.MITRAL_CENTRE)))


def _right_heart_base(h: _Heart) -> ViewRule:
    """Root of the aorta in its sinuses, square to it, through the middle of the left atrium and its auricle.

    So high that cusps are cut at the end of diastole too, when the base stands nearest to the head.
    """
    return ViewRule(
        aim_mm=0.25 * h.at(L.AORTIC_CENTRE) + 0.75 * h.at(L.AORTIC_SINUS_CENTRE),
        normal=h.toward(Axis.AORTIC_OUTFLOW, 8.0),
        near=[
            *h.near(1.5, L.LA_CENTRE),
            *h.near(4.0, L.LEFT_AURICLE_TIP),
            *h.near(8.0, L.PULMONIC_CENTRE),
        ],
        beam=Toward(direction=_unit(h.at(L.LA_CENTRE) - h.at(L.AORTIC_SINUS_CENTRE)), hold_deg=12.0),
        marker=h.transverse,
    )


def _right_pulmonary_artery(h: _Heart) -> ViewRule:
    """Pulmonic centre, division of the trunk and right branch, basal of the left ventricle."""
    clear = 0.35 * float(np.linalg.norm(h.at(L.MITRAL_CENTRE) - h.at(L.LV_APEX)))  # the ring is as wide, and tilted
    return ViewRule(
        aim_mm=h.at(L.PULMONIC_CENTRE, L.PULMONARY_BIFURCATION, L.AORTIC_SINUS_CENTRE),
        near=[
            *h.near(2.5, L.PULMONIC_CENTRE, L.PULMONARY_BIFURCATION),
            *h.near(4.0, L.RIGHT_PULMONARY_ARTERY_END),
            Near(point_mm=h.at(L.MITRAL_CENTRE), hold_mm=3.0 * h.k, clear_mm=clear),
        ],
        beam=h.toward(Axis.PULMONIC_OUTFLOW, 25.0),
        marker=h.transverse,
    )


def _apical_four_chamber(h: _Heart) -> ViewRule:
    """Apex and both atrioventricular valves."""
    return ViewRule(
        aim_mm=0.8 * h.at(L.MITRAL_CENTRE) + 0.2 * h.at(L.TRICUSPID_CENTRE),
        near=[
            *h.near(2.5, L.LV_APEX, L.MITRAL_CENTRE),
            *h.near(4.0, L.TRICUSPID_CENTRE, L.LA_CENTRE),
        ],
        beam=h.toward(Axis.MITRAL_INFLOW, 10.0, -1.0),
        marker=h.axes[Axis.SEPTUM_NORMAL],
    )


def _apical_right_heart(h: _Heart) -> ViewRule:
    """Right ventricle, tricuspid centre and right atrium in the middle, the left heart still beside them."""
    return ViewRule(
        aim_mm=h.at(L.TRICUSPID_CENTRE, L.RV_CENTRE),
        near=[
            *h.near(3.0, L.RV_CENTRE, L.TRICUSPID_CENTRE),
            *h.near(5.0, L.RV_APEX, L.RA_CENTRE),
            *h.near(6.0, L.MITRAL_CENTRE),
        ],
        beam=h.toward(Axis.TRICUSPID_INFLOW, 30.0, -1.0),
        marker=h.axes[Axis.SEPTUM_NORMAL],
    )


def _apical_five_chamber(h: _Heart) -> ViewRule:
    """Apex, aortic centre and ascending aorta, with the mitral valve."""
    return ViewRule(
        aim_mm=h.at(L.AORTIC_CENTRE),
        near=[*h.near(2.5, L.LV_APEX, L.AORTIC_ASCENDING), *h.near(3.0, L.MITRAL_CENTRE)],
        beam=h.toward(Axis.AORTIC_OUTFLOW, 8.0),
        marker=h.axes[Axis.SEPTUM_NORMAL],
    )


def _apical_two_chamber(h: _Heart) -> ViewRule:
    """Apex, mitral centre and left auricle, along the septum."""
    # The auricle runs round the pulmonary trunk on its lateral side: its middle lies lateral of its tip.
    clear = h.clear(16.0, 2.0, L.RA_CENTRE)
    auricle = h.at(L.LEFT_AURICLE_TIP) + AURICLE_BOW_MM * h.k * h.axes[Axis.SEPTUM_NORMAL]
    return ViewRule(
        aim_mm=h.at(L.MITRAL_CENTRE),
        near=[*h.near(2.5, L.LV_APEX, L.MITRAL_CENTRE), Near(point_mm=auricle, hold_mm=3.0 * h.k), *clear],
        normal=h.toward(Axis.SEPTUM_NORMAL, 30.0),
        beam=h.toward(Axis.MITRAL_INFLOW, 10.0, -1.0),
        marker=h.transverse,
    )


def _apical_three_chamber(h: _Heart) -> ViewRule:
    """Apex, mitral centre and aortic centre."""
    return ViewRule(
        aim_mm=h.at(L.AORTIC_CENTRE, L.MITRAL_CENTRE),
        near=h.near(2.5, L.LV_APEX, L.MITRAL_CENTRE, L.AORTIC_CENTRE),
        beam=h.toward(Axis.AORTIC_OUTFLOW, 12.0),
        marker=h.at(L.AORTIC_CENTRE) - h.at(L.MITRAL_CENTRE),
    )


def _cranial_aorta(h: _Heart) -> ViewRule:
    """Aortic valve and ascending aorta, with the part of the left atrium beside the root."""
    hinge = h.at(L.AORTIC_MITRAL_HINGE)
    atrium = hinge + BESIDE_ROOT_MM * h.k * _unit(h.at(L.LA_CENTRE) - hinge)
    return ViewRule(
        aim_mm=h.at(L.AORTIC_CENTRE, L.AORTIC_SINUS_CENTRE),
        near=[
            *h.near(1.0, L.AORTIC_CENTRE),
            *h.near(2.5, L.AORTIC_ASCENDING),
            Near(point_mm=atrium, hold_mm=1.8 * h.k),
        ],
        marker=CRANIAL,
    )


def _cranial_right_inflow(h: _Heart) -> ViewRule:
    """Tricuspid centre between right atrium and ventricle, along the body, ventral of aorta and auricle."""
    return ViewRule(
        aim_mm=h.at(L.TRICUSPID_CENTRE),
        near=[
            *h.near(7.0, L.RA_CENTRE, L.LV_APEX),
            *h.near(4.0, L.RV_CENTRE),
            *h.clear(11.0, 2.0, L.AORTIC_CENTRE, L.AORTIC_SINUS_CENTRE),
            *h.clear(15.0, 2.0, L.LA_CENTRE),
            *h.clear(19.0, 2.0, L.RIGHT_AURICLE_TIP),
        ],
        normal=Toward(direction=_unit(np.cross(CRANIAL, h.axes[Axis.TRICUSPID_INFLOW])), hold_deg=25.0),
        beam=h.toward(Axis.TRICUSPID_INFLOW, 6.0, -1.0),
        marker=CRANIAL,
    )


def _cranial_right_auricle(h: _Heart) -> ViewRule:
    """Right atrium, tip of the right auricle and mouth of the cranial vena cava."""
    return ViewRule(
        aim_mm=h.at(L.RA_CENTRE, L.RIGHT_AURICLE_TIP),
        near=[*h.near(3.0, L.RA_CENTRE, L.RIGHT_AURICLE_TIP, L.CRANIAL_CAVAL_MOUTH), *h.near(5.0, L.TRICUSPID_CENTRE)],
        marker=CRANIAL,
    )


def _cranial_right_outflow(h: _Heart) -> ViewRule:
    """Pulmonic centre and trunk, along the flow."""
    return ViewRule(
        aim_mm=h.at(L.PULMONIC_CENTRE, L.PULMONARY_BIFURCATION),
        near=[
            *h.near(2.5, L.PULMONIC_CENTRE, L.PULMONARY_BIFURCATION),
            *h.near(12.0, L.RV_CENTRE),
            *h.clear(10.0, 2.0, L.AORTIC_SINUS_CENTRE),
            *h.clear(6.0, 2.0, L.AORTIC_CENTRE),
        ],
        beam=h.toward(Axis.PULMONIC_OUTFLOW, 8.0),
        marker=CRANIAL,
    )


def _cranial_short_axis(h: _Heart) -> ViewRule:
    """Square to the aorta at its sinuses, with tricuspid and pulmonic valve."""
    return ViewRule(
        aim_mm=0.3 * h.at(L.AORTIC_CENTRE) + 0.7 * h.at(L.AORTIC_SINUS_CENTRE),
        normal=h.toward(Axis.AORTIC_OUTFLOW, 8.0),
        near=[*h.near(2.0, L.TRICUSPID_CENTRE), *h.near(4.0, L.PULMONIC_CENTRE)],
        marker=DORSAL,
    )


def _subcostal_outflow(h: _Heart) -> ViewRule:
    """Aortic centre along the outflow, with the ventricle and the ascending aorta."""
    return ViewRule(
        aim_mm=h.at(L.AORTIC_CENTRE),
        near=[*h.near(3.0, L.AORTIC_ASCENDING, L.LV_CENTRE), *h.near(12.0, L.MITRAL_CENTRE)],
        beam=h.toward(Axis.AORTIC_OUTFLOW, 6.0),
        marker=LEFT,
    )


_RULES: dict[str, tuple[Window, Callable[[_Heart], ViewRule]]] = {
    "right_parasternal_long_axis_four_chamber": (Window.RIGHT_PARASTERNAL, _right_four_chamber),
    "right_parasternal_long_axis_outflow": (Window.RIGHT_PARASTERNAL, _right_outflow),
    "right_parasternal_short_axis_apex": (Window.RIGHT_PARASTERNAL, _right_short_axis(_apex_level, 8.0)),
    "right_parasternal_short_axis_papillary_muscles": (
        Window.RIGHT_PARASTERNAL,
        _right_short_axis(_papillary_level),
    ),
    "right_parasternal_short_axis_chordae": (Window.RIGHT_PARASTERNAL, _right_short_axis(_chordae_level)),
    "right_parasternal_short_axis_mitral_valve": (Window.RIGHT_PARASTERNAL, _right_short_axis(_mitral_level)),
    "right_parasternal_short_axis_aorta": (Window.RIGHT_PARASTERNAL, _right_heart_base),
    "right_parasternal_short_axis_pulmonary_artery": (Window.RIGHT_PARASTERNAL, _right_pulmonary_artery),
    "left_apical_four_chamber": (Window.LEFT_APICAL, _apical_four_chamber),
    "left_apical_four_chamber_right_heart": (Window.LEFT_APICAL, _apical_right_heart),
    "left_apical_five_chamber": (Window.LEFT_APICAL, _apical_five_chamber),
    "left_apical_two_chamber": (Window.LEFT_APICAL, _apical_two_chamber),
    "left_apical_three_chamber": (Window.LEFT_APICAL, _apical_three_chamber),
    "left_cranial_long_axis_aorta": (Window.LEFT_CRANIAL, _cranial_aorta),
    "left_cranial_long_axis_right_inflow": (Window.LEFT_CRANIAL, _cranial_right_inflow),
    "left_cranial_long_axis_right_auricle": (Window.LEFT_CRANIAL, _cranial_right_auricle),
    "left_cranial_long_axis_right_outflow": (Window.LEFT_CRANIAL, _cranial_right_outflow),
    "left_cranial_short_axis": (Window.LEFT_CRANIAL, _cranial_short_axis),
    "subcostal_outflow": (Window.SUBCOSTAL, _subcostal_outflow),
}
STANDARD_VIEWS = tuple(_RULES)
# The moment at which the trade sets and judges a plane, where it is not end-diastole: the base moves through it.
_MOMENTS = {
    "right_parasternal_short_axis_mitral_valve": Still.EARLY_FILLING,  # the open leaflets as a fish's mouth
    "right_parasternal_short_axis_aorta": Still.AFTER_AORTIC_CLOSURE,  # atrium over aorta, cusps shut
}


def view_window(view_key: str) -> Window:
    """Return the window of a view; ValueError for a key that is not one of the standard views."""
    if view_key not in _RULES:
        raise ValueError(f"no standard view is called {view_key!r}; known: {', '.join(_RULES)}")
    return _RULES[view_key][0]


def standard_pose(animal: Animal, view_key: str) -> Pose:
    """Return the pose of a standard view on this animal, at the end of expiration.

    Parameters
    ----------
    animal : Animal
        The animal.
    view_key : str
        Key of ``views.toml``.

    Raises
    ------
    ValueError
        If the key is not one of the standard views.
    """
    window = view_window(view_key)
    heart = _heart_at(animal, still(_MOMENTS.get(view_key, Still.END_DIASTOLE)))
    contacts, inward, centre = _places(animal, window)
    return best_pose(_RULES[view_key][1](heart), contacts, inward, centre, heart.k)


@lru_cache(maxsize=16)  # all views of an animal ask for few windows
def _places(animal: Animal, window: Window) -> tuple[Floats, Floats, Vector]:
    """Return allowed skin points (N, 3), the skin's normals there, and where a hand sets the probe down first."""
    heart, wall = _heart_at(animal, RESTING), animal.thorax.wall
    contacts = allowed_contacts_mm(wall, animal.thorax.ribs, window)
    inward = inward_normals(wall, contacts)
    under = contacts + inward * (wall.thickness_mm + FREE_UNDER_WALL_MM * heart.k)
    free = outside_notches_mm(animal.thorax.notches, 0.0, *under.T) < 0.0
    if window is not Window.SUBCOSTAL and free.any():
        contacts, inward = contacts[free], inward[free]
    return contacts, inward, window_centre_mm(wall, window, heart.points, heart.axes)
