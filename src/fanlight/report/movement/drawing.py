"""One movement drawn: the chest from the scanned side, the probe where it stood, and which way it is asked to go."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal
from fanlight.heart.cable_end import cable_end_direction
from fanlight.heart.movements import LEFT_WINDOWS, Movement
from fanlight.heart.pose import Pose
from fanlight.heart.standard_poses import view_window
from fanlight.report.movement.arrows import Shown, arrow_strokes, shown_movement
from fanlight.report.movement.chosen import Turn
from fanlight.report.movement.probe_lines import probe_strokes
from fanlight.report.movement.side_view import HEIGHT, WIDTH, SideView, chest_strokes, chest_words, side_view
from fanlight.report.movement.sketch import Part, Sketch
from fanlight.study.sentence import capital

Floats = NDArray[np.float64]

NAMES = {
    Movement.SPACE: "step over a rib", Movement.SLIDE: "slide in the space", Movement.ROTATE: "turn",
    Movement.TILT: "tilt", Movement.ROCK: "rock",
}  # fmt: skip
_OUT_FROM = 0.6  # of the true way: then the cable end comes out of the sketch, or goes into it, as much as along it
_SECOND_WORD_FROM = 0.5  # of the larger share, as `heart.cable_end` words a direction


def draw_movement(animal: Animal, pose: Pose, turn: Turn, view_key: str, lead: str = "") -> Sketch:
    """Return the drawing of one movement.

    Parameters
    ----------
    animal : Animal
        The model.
    pose : Pose
        Where the probe stood on it.
    turn : Turn
        What is asked for; drawn in its sense, large enough to be seen.
    view_key : str
        Whose window says which side is scanned.
    lead : str
        "either", "or"; "" for a movement that stands alone.

    Raises
    ------
    ValueError
        If the movement cannot be carried out on the model.
    """
    view = side_view(animal, is_left=view_window(view_key) in LEFT_WINDOWS)
    shown = shown_movement(animal, pose, turn.movement, 1 if turn.amount >= 0 else -1, view)
    ghost = [] if turn.movement is Movement.ROTATE else probe_strokes(shown.ghost, view, Part.GHOST)
    over = probe_strokes(shown.ghost, view, Part.GHOST_OVER) if turn.movement is Movement.ROTATE else []
    name = f"{lead} {NAMES[turn.movement]}".strip()
    return Sketch(
        width=WIDTH, height=HEIGHT,
        strokes=(
            *chest_strokes(animal, view), *ghost, *probe_strokes(pose, view, Part.PROBE), *over, *arrow_strokes(shown),
        ),
        labels=tuple(chest_words(view)),
        title=f"{capital(name)}: {_way(pose, turn, shown, view)}", words=_words(turn, view),
    )  # fmt: skip


def _way(pose: Pose, turn: Turn, shown: Shown, view: SideView) -> str:
    """Return in a few words which way the arrow goes."""
    if turn.movement is Movement.ROTATE:
        return f"{'clockwise' if turn.amount > 0 else 'counter-clockwise'} seen from the cable end"
    way = direction_on_sketch(shown.line[-1] - shown.line[0], view)
    if turn.movement not in (Movement.TILT, Movement.ROCK):
        return f"probe {way}"
    true = cable_end_direction(pose, turn.movement, turn.amount)
    out = true[1] if view.is_left else -true[1]  # of the sketch, at the viewer
    beside = "" if abs(out) < _OUT_FROM else ", and at you" if out > 0 else ", and away from you"
    return f"cable end {way}{beside}"


def _words(turn: Turn, view: SideView) -> str:
    """Return what else the drawing shows, for those who cannot see it."""
    side = "left" if view.is_left else "right"
    kept = "The face keeps its place. " if turn.movement in (Movement.TILT, Movement.ROCK, Movement.ROTATE) else ""
    return f"{kept}The chest is seen from the {side} side, head at the {side}, sternum below."


def direction_on_sketch(way: Floats, view: SideView) -> str:
    """Return where a line (2,), right and down, runs on the sketch, by one or two of head, tail, back and sternum."""
    towards_head = -way[0] if view.is_left else way[0]
    named = ((towards_head, ("head", "tail")), (-way[1], ("back", "sternum")))
    most = max(abs(share) for share, _ in named)
    said = [pair[0 if share > 0 else 1] for share, pair in named if abs(share) >= _SECOND_WORD_FROM * most]
    return "towards the " + " and the ".join(said)
