"""The 2-D picture: from an animal, a probe's pose and the console's settings to grey levels along the lines."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from fanlight.heart.cycle_state import CycleState
from fanlight.heart.pose import Pose
from fanlight.simulate.beams import Beams
from fanlight.simulate.console import Console
from fanlight.simulate.contact import FULL_CONTACT, Contact
from fanlight.simulate.probe import Probe
from fanlight.simulate.scene import Scene


def render(
    scene: Scene,
    pose: Pose | Callable[[float], Pose],
    probe: Probe,
    console: Console,
    states: Sequence[CycleState],
    rng: np.random.Generator,
    *,
    contact: Contact = FULL_CONTACT,
) -> Beams:
    """Return the picture of each state.

    Parameters
    ----------
    scene : Scene
        What lies before the probe; `scene_of(animal)` makes one.
    pose : Pose or function of time in ms
        Where the probe stands.
    states : sequence of CycleState
        One a frame; the times are theirs.
    contact : Contact
        How the face touches the skin.
    """
    raise NotImplementedError  # the image formation follows within the hour; the signature stands
