"""Points of the plane beside the pose: replaced by what the pose names, else told as something to look for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from fanlight.coach.movements.advise import Advised
from fanlight.coach.movements.named import Named, is_heard
from fanlight.plane.planes import PLANE_CRITERIA
from fanlight.reference.movements import MovementTables
from fanlight.study import Correction, Priority, WindowStand

# What a movement of the probe would change; a mirrored picture or a wrong name is put right elsewhere.
_OF_HAND = frozenset(PLANE_CRITERIA) - {"picture_mirrored", "window_of_label"}
_Counted = Mapping[tuple[str, str, str], Correction]  # by criterion, side and clip


def with_movements(
    priorities: Iterable[Priority], moves: Iterable[Advised], named: Sequence[Named], stands: Iterable[WindowStand],
    tables: MovementTables,
) -> tuple[Priority, ...]:  # fmt: skip
    """Return the points of a letter with what the pose says of the movement in their place.

    Of clips in which a movement is named it stands in place of the criterion's own. Where the hand stood right in all
    clips none is advised, since it may be the animal. Elsewhere nothing tells which movement is off, and the words
    say so.

    Parameters
    ----------
    priorities : iterable of Priority
    moves : iterable of Advised
        What is said of the movements that are named.
    named : sequence of Named
        Of the study.
    stands : iterable of WindowStand
        Of the study.
    tables : MovementTables
        Of the House.
    """
    counted = {
        (each.criterion, each.side.value, each.clip): item.candidate.correction
        for item in moves
        for each in item.explains
    }
    right = _stood_right(stands, named, tables)
    return tuple(
        _reworded(item, counted, right, tables) if item.criterion in _OF_HAND and item.correction else item
        for item in priorities
    )


def _stood_right(stands: Iterable[WindowStand], named: Sequence[Named], tables: MovementTables) -> frozenset[str]:
    """Return the clips whose landmarks lie as in a standard plane."""
    moved = {item.clip for item in named}
    return frozenset(
        clip.clip
        for stand in stands
        for clip in stand.clips
        if clip.clip not in moved
        and is_heard(stand, clip, tables.limits)
        and clip.none_probability >= tables.limits.none_from
    )


def _reworded(item: Priority, counted: _Counted, right: frozenset[str], tables: MovementTables) -> Priority:
    told = tuple(
        dict.fromkeys(counted[key] for clip in item.clips if (key := (item.criterion, str(item.side), clip)) in counted)
    )
    if held := next((each.withheld for each in told if each.withheld), ""):
        return replace(item, correction="", withheld=held)
    open_clips = [clip for clip in item.clips if (item.criterion, str(item.side), clip) not in counted]
    if told and not open_clips:
        return replace(item, cause=" ".join(f"{_capital(each.title)}." for each in told), correction=_words(told))
    if item.clips and all(clip in right for clip in open_clips):
        return replace(item, correction=_words(told), withheld=tables.animal)
    before = f"{_words(told)} In the other clips: " if told else ""
    return replace(item, correction=f"{before}{tables.look_for} {item.correction}")


def _words(told: Iterable[Correction]) -> str:
    return " ".join(
        f"{_capital(each.correction)}; right when {each.right_when}.{f' {each.either}' if each.either else ''}"
        for each in told
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
