"""Points of the plane beside the pose: replaced by what the pose names, else told as something to look for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from fanlight.coach.movements.advise import Advised
from fanlight.coach.movements.named import Named, is_heard
from fanlight.plane.planes import PLANE_CRITERIA
from fanlight.reference.movements import MovementTables
from fanlight.study import Correction, Priority, WindowStand
from fanlight.study.sentence import capital

# What a movement of the probe would change; a mirrored picture or a wrong name is put right elsewhere.
_OF_HAND = frozenset(PLANE_CRITERIA) - {"picture_mirrored", "window_of_label"}
_Counted = Mapping[tuple[str, str, str], Correction]  # by criterion, side and clip


def with_movements(
    priorities: Iterable[Priority], moves: Iterable[Advised], named: Sequence[Named], stands: Iterable[WindowStand],
    tables: MovementTables,
) -> tuple[Priority, ...]:  # fmt: skip
    """Return the points of a letter with what the pose says of the movement in their place.

    Of clips in which a movement is named it stands in place of the criterion's own. Where the hand stood right, or a
    pose is silent, in all clips none is advised, since it may be the animal. Elsewhere nothing tells which movement is
    off, and the words say so; where such points of one view ask for opposite movements neither is advised.

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
    stands, points = tuple(stands), tuple(priorities)
    quiet = _silent(stands) | dict.fromkeys(_stood_right(stands, named, tables), tables.animal)
    views = {clip.clip: clip.view for stand in stands for clip in stand.clips}
    opposed = _opposed(points, counted, views, tables)
    return tuple(
        _reworded(item, counted, quiet, tables, is_opposed=item in opposed)
        if item.criterion in _OF_HAND and item.correction
        else item
        for item in points
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


def _silent(stands: Iterable[WindowStand]) -> dict[str, str]:
    """Return the clips of whose pose nothing is advised, and why."""
    return {
        clip.clip: f"Nothing is advised of this plane: {clip.silent}."
        for stand in stands
        for clip in stand.clips
        if clip.silent
    }


def _opposed(
    points: Sequence[Priority], counted: _Counted, views: Mapping[str, str], tables: MovementTables
) -> tuple[Priority, ...]:
    """Return the points whose own words ask for opposite movements in clips of one view."""
    asked = [
        (item, _senses(item, tables), {views.get(clip, clip) for clip in _open(item, counted)})
        for item in points
        if item.criterion in _OF_HAND and item.correction
    ]
    return tuple(
        item
        for item, senses, there in asked
        if any(
            there & elsewhere and _are_opposite(item, senses, other, others)
            for other, others, elsewhere in asked
            if other is not item
        )
    )


def _senses(item: Priority, tables: MovementTables) -> dict[str, int]:
    """Return the movements of which only one sense explains a point, and that sense."""
    known = [move for move, row in tables.rows.items() if (item.criterion, item.side) in row.explains]
    return {movement: sense for movement, sense in known if (movement, -sense) not in known}


def _are_opposite(item: Priority, senses: Mapping[str, int], other: Priority, others: Mapping[str, int]) -> bool:
    if item.criterion == other.criterion:
        return item.side != other.side
    return any(others.get(movement) == -sense for movement, sense in senses.items())


def _open(item: Priority, counted: _Counted) -> list[str]:
    """Return the clips of a point in which no movement is named for it."""
    return [clip for clip in item.clips if (item.criterion, str(item.side), clip) not in counted]


def _reworded(
    item: Priority, counted: _Counted, quiet: Mapping[str, str], tables: MovementTables, *, is_opposed: bool
) -> Priority:
    told = tuple(
        dict.fromkeys(counted[key] for clip in item.clips if (key := (item.criterion, str(item.side), clip)) in counted)
    )
    if held := next((each.withheld for each in told if each.withheld), ""):
        return replace(item, correction="", withheld=held)
    open_clips = _open(item, counted)
    if told and not open_clips:
        return replace(item, cause=" ".join(f"{capital(each.title)}." for each in told), correction=_words(told))
    why = " ".join(dict.fromkeys(quiet[clip] for clip in open_clips if clip in quiet))
    if item.clips and all(clip in quiet for clip in open_clips):
        return replace(item, correction=_words(told), withheld=why)
    if is_opposed:
        return replace(item, correction=_words(told), withheld=tables.opposite)
    where = "Where no pose is told: " if why else "In the other clips: " if told else ""
    before = " ".join(part for part in (_words(told), where.strip()) if part)
    said = f"{before} {tables.look_for} {item.correction}".strip()
    return replace(item, correction=said, withheld=why)


def _words(told: Iterable[Correction]) -> str:
    return " ".join(
        f"{capital(each.correction)}; right when {each.right_when}.{f' {each.either}' if each.either else ''}"
        for each in told
    )
