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
from fanlight.heart.left_ventricle import LeftVentricle, left_ventricle
from fanlight.heart.mitral_valve import mitral_valve
from fanlight.heart.moving_body import Moment
from fanlight.heart.right_ventricle import tricuspid_valve
from fanlight.heart.rods import Egg
from fanlight.heart.side_by_side import side_by_side
from fanlight.heart.tissue import Tissue
from fanlight.heart.wall_motion import LEFT_MUSCLE, MITRAL, leaflet_velocity, right_wall_velocity, ring_velocity

Floats = NDArray[np.floating[Any]]
Labels = NDArray[np.uint8]


def _has(kinds: Iterable[Tissue]) -> NDArray[np.bool_]:
    """Return for each label whether it is one of some kinds."""
    return np.isin(np.arange(256), [int(kind) for kind in kinds])


class _Parts:
    """What the parts of a heart stand on at a moment, worked out once."""

    def __init__(self, anatomy: Anatomy, state: CycleState) -> None:
        self.anatomy, self.state, self.lv = anatomy, state, left_ventricle(anatomy, state)
        self.base = base_plane(anatomy, self.lv)


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
    known: dict[int, tuple[_Parts, _Parts]] = {}
    for kinds, shape_of, velocity in _SOLID:
        at = np.flatnonzero(kinds[labels])
        if not len(at):
            continue
        moment_of = at // n
        is_asked = np.bincount(moment_of, minlength=len(moments)) > 0
        which, rows = np.flatnonzero(is_asked), (np.cumsum(is_asked) - 1)[moment_of]
        some = []
        for k in which.tolist():
            if k not in known:
                each = moments[k]
                known[k] = _Parts(each.anatomy, each.state), _Parts(each.anatomy, each.later)
            some.append((shape_of(known[k][0]), shape_of(known[k][1]), moments[k].step_s))
        now, later, step_s = side_by_side(some, rows)
        moved = velocity(now, later, step_s, tuple(v.ravel()[at, None] for v in rests), labels[at, None])
        for i in range(3):
            out[i, at] = moved[i][:, 0]
    return np.ascontiguousarray(out.reshape(3, -1, n).transpose(1, 0, 2))


def _left(parts: _Parts) -> LeftVentricle:
    return parts.lv


def _mitral(parts: _Parts) -> AvValve:
    return mitral_valve(parts.anatomy, parts.state, parts.base, parts.lv)


def _right(parts: _Parts) -> Egg:
    return right_body_now(parts.anatomy, parts.state, parts.base)


def _tricuspid(parts: _Parts) -> AvValve:
    return tricuspid_valve(parts.anatomy, parts.state, parts.base)


def _swing(now: AvValve, later: AvValve, step_s: float, p: Points, label: Labels) -> Any:
    return leaflet_velocity(now, later, step_s, p, label > 0, np)


# labels, the part that carries them at a state, and how the part's motion moves them
_SOLID: tuple[tuple[NDArray[np.bool_], Callable[[_Parts], Any], Callable[..., Any]], ...] = (
    (_has(LEFT_MUSCLE), _left, partial(ring_velocity, xp=np)),
    (_has(MITRAL), _mitral, _swing),
    (_has([Tissue.RV_WALL]), _right, partial(right_wall_velocity, xp=np)),
    (_has([Tissue.TRICUSPID_LEAFLET]), _tricuspid, _swing),
)
