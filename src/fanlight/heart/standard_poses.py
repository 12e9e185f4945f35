"""The pose of every standard view, defined by landmarks of the heart at the end of expiration.

No angle is given for any view: each is a plane through named places of this animal's heart and a place on its skin, so
that the views follow size, axis of the heart and disease. Landmarks are those of the moment at which the trade sets
the plane: end-diastole, unless said otherwise. Lengths in mm at 10 kg grow with the animal.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fanlight.heart import views_from_left as left
from fanlight.heart import views_from_right as right
from fanlight.heart.animal import Animal
from fanlight.heart.cycle import RESTING, Still, still
from fanlight.heart.heart_at import HeartAt, heart_at
from fanlight.heart.lung import outside_notches_mm
from fanlight.heart.pose import Pose, Vector
from fanlight.heart.skin import inward_normals
from fanlight.heart.view_rule import ViewRule, best_pose
from fanlight.heart.windows import Window, allowed_contacts_mm, window_centre_mm

Floats = NDArray[np.float64]
FREE_UNDER_WALL_MM = 8.0  # at 10 kg: a hand keeps where no lung lies so far under the wall. Engineering judgement

_RULES: dict[str, tuple[Window, Callable[[HeartAt], ViewRule]]] = {
    "right_parasternal_long_axis_four_chamber": (Window.RIGHT_PARASTERNAL, right.four_chamber),
    "right_parasternal_long_axis_outflow": (Window.RIGHT_PARASTERNAL, right.outflow),
    "right_parasternal_short_axis_apex": (Window.RIGHT_PARASTERNAL, right.short_axis(right.apex_level, 8.0)),
    "right_parasternal_short_axis_papillary_muscles": (
        Window.RIGHT_PARASTERNAL,
        right.short_axis(right.papillary_level),
    ),
    "right_parasternal_short_axis_chordae": (Window.RIGHT_PARASTERNAL, right.short_axis(right.chordae_level)),
    "right_parasternal_short_axis_mitral_valve": (Window.RIGHT_PARASTERNAL, right.short_axis(right.mitral_level)),
    "right_parasternal_short_axis_aorta": (Window.RIGHT_PARASTERNAL, right.heart_base),
    "right_parasternal_short_axis_pulmonary_artery": (Window.RIGHT_PARASTERNAL, right.pulmonary_artery),
    "left_apical_four_chamber": (Window.LEFT_APICAL, left.apical_four_chamber),
    "left_apical_four_chamber_right_heart": (Window.LEFT_APICAL, left.apical_right_heart),
    "left_apical_five_chamber": (Window.LEFT_APICAL, left.apical_five_chamber),
    "left_apical_two_chamber": (Window.LEFT_APICAL, left.apical_two_chamber),
    "left_apical_three_chamber": (Window.LEFT_APICAL, left.apical_three_chamber),
    "left_cranial_long_axis_aorta": (Window.LEFT_CRANIAL, left.cranial_aorta),
    "left_cranial_long_axis_right_inflow": (Window.LEFT_CRANIAL, left.cranial_right_inflow),
    "left_cranial_long_axis_right_auricle": (Window.LEFT_CRANIAL, left.cranial_right_auricle),
    "left_cranial_long_axis_right_outflow": (Window.LEFT_CRANIAL, left.cranial_right_outflow),
    "left_cranial_short_axis": (Window.LEFT_CRANIAL, left.cranial_short_axis),
    "subcostal_outflow": (Window.SUBCOSTAL, left.subcostal_outflow),
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
    heart = heart_at(animal, still(_MOMENTS.get(view_key, Still.END_DIASTOLE)))
    contacts, inward, centre = _places(animal, window)
    return best_pose(_RULES[view_key][1](heart), contacts, inward, centre, heart.k)


@lru_cache(maxsize=16)  # all views of an animal ask for few windows
def _places(animal: Animal, window: Window) -> tuple[Floats, Floats, Vector]:
    """Return allowed skin points (N, 3), the skin's normals there, and where a hand sets the probe down first."""
    heart, wall = heart_at(animal, RESTING), animal.thorax.wall
    contacts = allowed_contacts_mm(wall, animal.thorax.ribs, window)
    inward = inward_normals(wall, contacts)
    under = contacts + inward * (wall.thickness_mm + FREE_UNDER_WALL_MM * heart.k)
    free = outside_notches_mm(animal.thorax.notches, 0.0, *under.T) < 0.0
    if window is not Window.SUBCOSTAL and free.any():
        contacts, inward = contacts[free], inward[free]
    return contacts, inward, window_centre_mm(wall, window, heart.points, heart.axes)
