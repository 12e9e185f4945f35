"""Where a training stands beside its weights, and when it may go on. Knows no PyTorch, so that it is tested anywhere.

What chance decides in a training comes from PyTorch's generators alone, and these are kept; half width is bfloat16,
which needs no scaling of the blame, so there is no such state. Clips are drawn from each animal's own seed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

PAUSED = 75  # exit status of a training that stopped before its end (EX_TEMPFAIL of sysexits.h: try again)
RULES = ("seed", "seconds", "steps", "batch", "capacity")  # a run that goes on has these as it began


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """What a run must know, beside weights and generators, to take the step that it would have taken uncut."""

    rules: dict[str, Any]  # see RULES
    steps: int
    spent_s: float  # of the run's own time; what a cut costs does not count
    next_look: float  # share of the run at which clips are taken up and progress is told
    shards: tuple[str, ...]  # files of clips, in the order in which they were taken up
    held: tuple[str, ...]  # the same of those that are not learned from
    cuts: tuple[int, ...]  # steps at which the run was gone on with

    def kept(self) -> dict[str, Any]:
        """Return the place as plain values, as a checkpoint holds it."""
        return {k: list(v) if isinstance(v, tuple) else v for k, v in asdict(self).items()}


def place_of(kept: Mapping[str, Any], path: Path, rules: Mapping[str, Any]) -> Place:
    """Return where the run of a checkpoint stands, if these rules let it go on.

    Parameters
    ----------
    kept : mapping
        What the checkpoint holds.
    path : Path
        Of the checkpoint, for what is said.
    rules : mapping
        What the command line says of RULES.

    Raises
    ------
    ValueError
        If it holds weights only, the run is over, or it began by other rules; the message names file and remedy.
    """
    anew = "begin another training from its weights with --warm-from"
    if "run" not in kept:
        raise ValueError(f"{path} holds weights but not where its training stood (older than this code); {anew}")
    fields: dict[str, Any] = {k: tuple(v) if isinstance(v, list) else v for k, v in kept["run"]["place"].items()}
    place = Place(**fields)
    if share_of(place.rules, place.steps, place.spent_s) >= 1.0:
        raise ValueError(f"the training of {path} has come to its end after {place.steps} steps; {anew}")
    other = [f"--{k} {place.rules[k]}, not {rules[k]}" for k in RULES if place.rules[k] != rules[k]]
    if other:
        raise ValueError(f"the training of {path} began with {', '.join(other)}: say the same, or {anew}")
    return place


def share_of(rules: Mapping[str, Any], steps: int, spent_s: float) -> float:
    """Return how much of a run is done: by its steps where their number was given, else by its time."""
    return float(steps / rules["steps"] if rules["steps"] else spent_s / rules["seconds"])
