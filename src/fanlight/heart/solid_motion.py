"""How fast muscle and leaflets move at points, at many moments side by side."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.anatomy import Anatomy
from fanlight.heart.av_valve import AvValve
from fanlight.heart.base_plane import base_plane
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.distance import Points
from fanlight.heart.layout import right_body_now
from fanlight.heart.left_ventricle import left_ventricle
from fanlight.heart.mitral_valve import mitral_valve
from fanlight.heart.moving_body import Moment
from fanlight.heart.right_ventricle import tricuspid_valve
from fanlight.heart.side_by_side import side_by_side
from fanlight.heart.tissue import Tissue
from fanlight.heart.wall_motion import LEFT_MUSCLE, MITRAL, leaflet_velocity, right_wall_velocity, ring_velocity

Floats = NDArray[np.floating[Any]]
Labels = NDArray[np.uint8]


def _has(kinds: Iterable[Tissue]) -> NDArray[np.bool_]:
    """Return for each label whether it is one of some kinds."""
    return np.isin(np.arange(256), [int(kind) for kind in kinds])


def solid_velocities(moments: Sequence[Moment], rests: Points, tissue: Labels) -> Floats:
    """Return the velocity (m, 3, n) of muscle and leaflets at m moments, each kind only where it lies.

    Parameters
    ----------
    moments : sequence of m Moment
        Worked out side by side: most kinds lie at a few places only.
    rests : three arrays of shape (m, n)
        From `rest_places`.
    tissue : array of shape (m, n)
        What lies there then.
    """
    n, labels = tissue.shape[1], tissue.ravel()
    out = np.zeros((3, len(labels)), np.float32)
    for kinds, shape_of, velocity in _SOLID:
        at = np.flatnonzero(kinds[labels])
        if not len(at):
            continue
        which, rows = np.unique(at // n, return_inverse=True)
        some = [moments[k] for k in which]
        now, later, step_s = side_by_side(
            [(shape_of(m.anatomy, m.state), shape_of(m.anatomy, m.later), m.step_s) for m in some], rows.tolist()
        )
        moved = velocity(now, later, step_s, tuple(v.ravel()[at, None] for v in rests), labels[at, None])
        for i in range(3):
            out[i, at] = moved[i][:, 0]
    return np.ascontiguousarray(out.reshape(3, -1, n).transpose(1, 0, 2))


def _mitral(anatomy: Anatomy, state: CycleState) -> AvValve:
    lv = left_ventricle(anatomy, state)
    return mitral_valve(anatomy, state, base_plane(anatomy, lv), lv)


def _tricuspid(anatomy: Anatomy, state: CycleState) -> AvValve:
    return tricuspid_valve(anatomy, state, base_plane(anatomy, left_ventricle(anatomy, state)))


def _swing(now: AvValve, later: AvValve, step_s: float, p: Points, label: Labels) -> Any:
    return leaflet_velocity(now, later, step_s, p, label > 0, np)


# labels, the part that carries them at a state, and how the part's motion moves them
_SOLID: tuple[tuple[NDArray[np.bool_], Callable[[Anatomy, CycleState], Any], Callable[..., Any]], ...] = (
    (_has(LEFT_MUSCLE), left_ventricle, partial(ring_velocity, xp=np)),
    (_has(MITRAL), _mitral, _swing),
    (_has([Tissue.RV_WALL]), right_body_now, partial(right_wall_velocity, xp=np)),
    (_has([Tissue.TRICUSPID_LEAFLET]), _tricuspid, _swing),
)
