"""The tissue along a beam at many moments, sliced side by side: equal bit for bit to one moment at a time."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.held_motion import rest_places, slice_shapes
from fanlight.heart.layout import layout
from fanlight.heart.moving_body import Moment
from fanlight.heart.thorax import heart_shift_mm

_AT_ONCE = 64  # moments side by side (numerical)


def tissue_along(animal: Animal, states: Sequence[CycleState], points: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Return the tissue (state, point) at points of shape (point, 3) of the patient frame, mm; 0 beside the heart."""
    parts = [_slices(animal, states[k : k + _AT_ONCE], points) for k in range(0, len(states), _AT_ONCE)]
    return np.concatenate(parts) if parts else np.empty((0, len(points)), np.uint8)


def _slices(animal: Animal, states: Sequence[CycleState], points: NDArray[np.float64]) -> NDArray[np.uint8]:
    moments = []
    for state in states:
        x, y, z = (float(each) for each in heart_shift_mm(animal.thorax, state.breath))
        moments.append(
            Moment(
                anatomy=animal.anatomy, at_ms=state.time_ms, step_s=0.0, state=state, later=state,
                shift_mm=(x, y, z), breath_mm_s=(0.0, 0.0, 0.0),
            )
        )  # fmt: skip
    hearts = [layout(animal.anatomy, state) for state in states]
    _, rests = rest_places(moments, (points[:, 0], points[:, 1], points[:, 2]))
    return np.asarray(slice_shapes(hearts, range(len(states)), rests)[0], np.uint8)
