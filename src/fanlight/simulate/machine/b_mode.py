"""The 2-D picture: from an animal, a probe's pose and the console's settings to grey levels along the lines."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from fanlight.heart.cycle_state import CycleState
from fanlight.heart.pose import Pose
from fanlight.simulate.machine.beams import Beams, line_geometry
from fanlight.simulate.machine.console import Console
from fanlight.simulate.machine.contact import FULL_CONTACT, Contact
from fanlight.simulate.machine.image_former import AnatomyView, amplitudes, make_former
from fanlight.simulate.machine.probe import Probe
from fanlight.simulate.machine.receive import levels, quantise
from fanlight.simulate.machine.scene import Scene
from fanlight.simulate.machine.tissue_echo import EchoTable

Array = Any

FRAMES_AT_ONCE = 8  # blurred together: large enough for matrices to pay, small enough for the cache (measured)


def render(
    scene: Scene,
    pose: Pose | Callable[[float], Pose],
    probe: Probe,
    console: Console,
    states: Sequence[CycleState],
    rng: np.random.Generator,
    *,
    contact: Contact = FULL_CONTACT,
    table: EchoTable | None = None,
    xp: Any = np,
) -> Beams:
    """Return the picture of each state.

    Parameters
    ----------
    scene : Scene
        What lies before the probe; `animal_scene.scene_of` makes one from an animal.
    pose : Pose or function of time in ms
        Where the probe stands. A function that keeps giving the same object is as fast as a pose.
    probe, console : Probe, Console
        The machine and its settings.
    states : sequence of CycleState
        One a frame; the times are theirs.
    rng : Generator
        Draws scatterers, clutter and noise. The same seed yields the same clip.
    contact : Contact
        How the face touches the skin.
    table : EchoTable, optional
        Other tissues than those of `tissue_echo`, for phantoms.
    xp : array namespace
        NumPy, or another library of the array API standard; the scene must answer in its arrays.

    Returns
    -------
    Beams
        Grey levels (frame, depth, line), uint8.

    Raises
    ------
    ValueError
        If there are no states.
    """
    if not states:
        raise ValueError("a clip needs at least one state of the heart, got none")
    pose_at = pose if callable(pose) else _fixed(pose)
    lines = line_geometry(probe, console)
    former = make_former(xp, probe, console, lines, pose_at(states[0].time_ms), contact, rng, table)
    view = AnatomyView(scene, former.grid, xp)
    keep = console.persistence_fraction
    out: list[Array] = []
    kept: Array | None = None
    for start in range(0, len(states), FRAMES_AT_ONCE):
        seen = [view.seen(state, pose_at(state.time_ms)) for state in states[start : start + FRAMES_AT_ONCE]]
        for amplitude in amplitudes(former, seen, rng):
            grey = levels(xp, former.receiver, amplitude)
            if kept is not None and keep:
                grey = kept * keep + grey * (1 - keep)
            kept = grey
            out.append(quantise(xp, grey))
    return Beams(
        levels=xp.stack(out, axis=0),
        geometry=lines,
        times_ms=tuple(state.time_ms for state in states),
        frame_rate_hz=console.frame_rate_hz,
    )


def _fixed(pose: Pose) -> Callable[[float], Pose]:
    return lambda _: pose
