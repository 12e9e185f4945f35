"""Which moments of a strip are told by one: those at which a heart is shaped alike, and lies alike before the beam."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.left_ventricle import base_motion
from fanlight.heart.moving_body import Moment

# A heart is shaped alike within these shares of the way of walls and atria, of leaflets; the wall of a cat moves by
# 3 mm, that of a large dog by 7 (numerical: a test tells what it costs).
ALIKE = {
    **dict.fromkeys(("contraction", "right_contraction", "base_descent", "atrial_filling"), 0.05),
    **dict.fromkeys(("mitral_opening", "tricuspid_opening", "aortic_opening", "pulmonic_opening"), 0.08),
}
MOST_ALIKE = 64  # moments of one shape, which bounds what is remembered: a heart at rest keeps one for long (numerical)
# Points lie alike in a shape if breath and base have carried it alike within so much each way: about as far as the
# walls that one shape stands for are apart (numerical: a test tells what it costs).
PLACED_MM = 0.25


def shaped_alike(moments: Sequence[Moment]) -> dict[int, list[int]]:
    """Return for each moment all those that are given one shape with it, that of the middle one of the list.

    The shape that serves most moments is taken first, then the one that serves most of the others. Moments of one shape
    are given the very same list.
    """
    shapes = [[getattr(m.state, name) / most for name, most in ALIKE.items()] for m in moments]
    out: dict[int, list[int]] = {}
    for shape, others in _gathered(shapes, MOST_ALIKE):
        half = (len(others) + 1) // 2
        served = [*others[:half], shape, *others[half:]]
        out.update(dict.fromkeys(served, served))
    return out


def placed_alike(moments: Sequence[Moment], groups: dict[int, list[int]]) -> dict[int, int]:
    """Return for each moment the one of its group, from `shaped_alike`, at whose places the points are asked for."""
    places = [(*m.shift_mm, base_motion(m.anatomy, m.state).descent_mm) for m in moments]
    out = {k: k for k in range(len(moments))}
    for group in {id(group): group for group in groups.values() if len(group) > 1}.values():
        for one, others in _gathered([[value / PLACED_MM for value in places[k]] for k in group], len(group)):
            out.update({group[other]: group[one] for other in others})
    return out


def _gathered(rows: Sequence[Sequence[float]], at_most: int) -> list[tuple[int, list[int]]]:
    """Return rows, each with the others that it serves: no number of them is more than 1 from its own."""
    values = np.array(rows, np.float32)
    near: NDArray[Any] = np.ones((len(values), len(values)), bool)
    for part in values.T:
        near &= np.abs(part[:, None] - part) <= 1
    out = []
    while near.any():
        one = int(near.sum(axis=1).argmax())
        others = [int(k) for k in np.flatnonzero(near[one]) if k != one][: at_most - 1]
        near[:, [one, *others]] = False
        near[[one, *others]] = False
        out.append((one, others))
    return out
