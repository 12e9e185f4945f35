"""What lies before the probe: a part that moves with the heart and a part that keeps still between breaths."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from fanlight.heart.cycle_state import CycleState
from fanlight.heart.sampled import Sampled

Array = Any

Moving = Callable[[CycleState, Array, Array, Array], Sampled]
Still = Callable[[float, Array, Array, Array], Sampled]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """Two samplers of the patient frame (mm).

    `moving` is asked for every frame, `still` again only when the breath or the probe has moved. Where `moving` says
    OUTSIDE, `still` is seen. Both get x, y, z of one shape and answer in it.
    """

    moving: Moving
    still: Still | None = None
