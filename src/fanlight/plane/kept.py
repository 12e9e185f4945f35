"""Marks that a person kept where the engine proposed them: of planes and poses they tell what the network tells.

Who keeps a proposal unmoved agrees with it and places nothing anew. What movements of the probe may be advised from was
measured with marks that a hand set, so that kept ones stand for the network's own, which are there as well: with its
spread and its doubt, and out of letters wherever the network's are.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from fanlight.heart.fit.pose_values import METHOD
from fanlight.plane.planes import ASKED_MODES
from fanlight.study import ClipReading, FileMarks, MarkKind, StandLeftOut, WindowStand

_AS_NETWORK = "lie where the engine proposed them and count as the network's"


def set_by_hand(marks: Mapping[str, FileMarks]) -> dict[str, FileMarks]:
    """Return marks without those that lie where the engine proposed them.

    Parameters
    ----------
    marks : mapping of str to FileMarks
        By the key of the clip; views, scales and axes stay.
    """
    return {
        key: replace(item, drawn=tuple(mark for mark in item.drawn if mark.proposed_spread_px is None))
        for key, item in marks.items()
    }


def with_kept_told(
    stands: Iterable[WindowStand], readings: Iterable[ClipReading], marks: Mapping[str, FileMarks], landmarks_from: int
) -> tuple[WindowStand, ...]:
    """Return where the probe stood, with why landmarks that were kept as proposed told nothing of it.

    Parameters
    ----------
    stands : iterable of WindowStand
        Told from `set_by_hand(marks)`. Where the network's landmarks tell a pose nothing is added.
    readings : iterable of ClipReading
        Those that were asked for it.
    marks : mapping of str to FileMarks
        All of them, by the key of the clip.
    landmarks_from : int
        How many different ones set by hand tell a pose.
    """
    listed = tuple(stands)
    kept = {key: n for key, item in marks.items() if (n := _n_kept(item))}
    told = {item.clip for stand in listed for item in stand.clips}
    told |= {item.clip for stand in listed for item in stand.left_out}
    beside = tuple(
        replace(stand, left_out=tuple(_with_kept(item, kept.get(item.clip, 0)) for item in stand.left_out))
        for stand in listed
    )
    unsaid = tuple(
        StandLeftOut(clip=key, reason=_why(kept[key], landmarks_from))
        for key in (item.clip.key for item in readings if item.mode.mode in ASKED_MODES)
        if key in kept and key not in told
    )
    return (*beside, *((_nothing(unsaid),) if unsaid else ()))


def _n_kept(item: FileMarks) -> int:
    """Return of how many different landmarks a proposal was kept."""
    return len({
        mark.landmark
        for mark in item.drawn
        if mark.kind is MarkKind.POINT and mark.landmark and mark.proposed_spread_px is not None
    })  # fmt: skip


def _with_kept(item: StandLeftOut, n: int) -> StandLeftOut:
    return replace(item, reason=f"{item.reason}; {n} more {_AS_NETWORK}") if n else item


def _why(n: int, landmarks_from: int) -> str:
    return f"{n} of its landmarks {_AS_NETWORK}, which tell nothing here: set at least {landmarks_from} by hand"


def _nothing(left: tuple[StandLeftOut, ...]) -> WindowStand:
    return WindowStand(window="", clips=(), place=(), left_out=left, has_settled=True, method=METHOD, rests_on="")
