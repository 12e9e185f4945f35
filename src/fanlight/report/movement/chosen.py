"""Which movements get pictures: those that a correction of the letter names, each as one clip shows it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from fanlight.coach.movements.named import Named, named_movements, others_of
from fanlight.coach.priorities import is_withheld
from fanlight.heart.movements import Movement
from fanlight.heart.pose_difference import Step
from fanlight.reference.movements import MovementTables
from fanlight.study import Breathing, ClipStand, Correction, ProbeOffset, WindowStand

_ORDER = ("space", "slide", "rotate", "tilt", "rock")  # in which the fit carries movements out (docs/pose-fit.md)


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """A movement of the hand that leads back: what a trainee is asked to do."""

    movement: Movement
    amount: float  # signed, mm, spaces or degrees: the middle of the range that is said


@dataclass(frozen=True, slots=True, kw_only=True)
class ChosenMove:
    """What a correction asks for, in the clip that shows it most surely."""

    cause: str  # Correction.cause
    clip: str  # Clip.key
    view: str
    stood: tuple[tuple[str, float], ...]  # what is named of this clip: movements and their likeliest amounts
    back: tuple[Turn, ...]  # one, or two of which either may be the right one
    others: int  # movements that are named of the clip besides
    either: str = ""  # another movement that explains the picture as well, also where it is not advised now
    is_open: bool = False  # nobody has settled which of the two it is


def chosen_moves(
    corrections: Iterable[Correction], stands: Sequence[WindowStand], tables: MovementTables, breathing: Breathing
) -> Mapping[str, ChosenMove]:
    """Return the movements that corrections ask for, by their cause; what is withheld has none.

    Parameters
    ----------
    corrections : iterable of Correction
        Of the letter.
    stands : sequence of WindowStand
        Where the probe stood in the same study.
    tables : MovementTables
        Of the House.
    breathing : Breathing
        From the request sheet: of an either-or that movement is left out which is not advised now.
    """
    named = named_movements(stands, tables)
    clips = {clip.clip: clip for stand in stands for clip in stand.clips}
    found: dict[str, ChosenMove] = {}
    for item in corrections:
        shown = [each for each in (*named, *others_of(named)) if _cause(each, tables) == item.cause]
        if shown and not item.withheld:
            surest = max(shown, key=lambda each: each.probability)
            has_other = _other_is_advised(surest, tables, breathing)
            found[item.cause] = _chosen(item.cause, surest, named, clips[surest.clip], has_other=has_other)
    return found


def _cause(item: Named, tables: MovementTables) -> str:
    """Return the cause under which a named movement is told."""
    key = tables.rows[item.move].key
    return key if item.other is None else f"{key}_or_{tables.rows[item.other].key}"


def _other_is_advised(item: Named, tables: MovementTables, breathing: Breathing) -> bool:
    """Return whether the second of an either-or may be advised; false where there is none."""
    return item.other is not None and not is_withheld(breathing, touches=tables.rows[item.other].touches, moves=True)


def _chosen(cause: str, item: Named, named: Sequence[Named], clip: ClipStand, *, has_other: bool) -> ChosenMove:
    here = [each for each in named if each.clip == item.clip]
    offsets = {one.movement: one for one in clip.offsets}
    stood: dict[str, float] = {}
    for each in here:
        stood[each.move[0]] = each.offset.mean
        if each.other is not None:
            # Of two that are confounded the means together give the picture that the landmarks ask for.
            stood[each.other[0]] = offsets[each.other[0]].mean
    back = [_back(item.offset, item.move[1])]
    if item.other is not None and has_other:
        back.append(_back(offsets[item.other[0]], item.other[1]))
    return ChosenMove(
        cause=cause, clip=item.clip, view=item.view,
        stood=tuple((movement, stood[movement]) for movement in _ORDER if movement in stood), back=tuple(back),
        others=len(here) - 1, either=_either(item, here), is_open=item.other is not None,
    )  # fmt: skip


def _either(item: Named, here: Sequence[Named]) -> str:
    """Return the movement that explains the picture as well; of the second of two this is the first."""
    if item.other is not None:
        return item.other[0]
    return next((each.move[0] for each in here if each.other == item.move), "")


def _back(offset: ProbeOffset, sense: int) -> Turn:
    """Return the way back at the middle of the range that the letter says (`coach.movements.sizes`)."""
    ends = sorted((sense * offset.low, sense * offset.high))
    low = max(ends[0], offset.limit)
    return Turn(movement=Movement(offset.movement), amount=-sense * (low + max(ends[1], low)) / 2)


def steps_of(stood: Iterable[tuple[str, float]]) -> tuple[Step, ...]:
    """Return where the probe stood as steps from the standard plane."""
    return tuple(Step(movement=Movement(name), amount=amount) for name, amount in stood)
