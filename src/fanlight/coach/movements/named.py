"""Which movements of the hand are sure enough to be named, clip by clip: at most two of a view, never opposite ones."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from fanlight.reference.movements import MovementLimits, MovementTables
from fanlight.study import ClipStand, LandmarksBy, ProbeOffset, WindowStand

Move = tuple[str, int]  # movement and sense, as the probe stood


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """A movement that is named in one clip, or one of two."""

    clip: str  # Clip.key
    view: str
    move: Move
    offset: ProbeOffset
    probability: float  # of the movement; of either, where there is another
    other: Move | None = None  # that would explain the picture as well
    other_offset: ProbeOffset | None = None  # of that one

    @property
    def n_movements(self) -> int:
        """How many movements are told with it."""
        return 1 if self.other is None else 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Opposed:
    """One movement that clips of one view ask for in both senses."""

    view: str
    movement: str
    plus_clips: tuple[str, ...]  # Clip.key
    minus_clips: tuple[str, ...]
    kept: int  # the sense that is much surer, 1 or -1; 0: neither


def named_movements(stands: Iterable[WindowStand], tables: MovementTables) -> tuple[Named, ...]:
    """Return what is named of all clips: the likeliest of each view, at most as many as the House tells of one.

    Of opposite movements of one view only one that is much surer is named, else neither.

    Parameters
    ----------
    stands : iterable of WindowStand
        Of the study. What is silent names nothing, nor does what rests on the network's landmarks unless the House
        lets it.
    tables : MovementTables
        Of the House.
    """
    kept: list[Named] = []
    order = list(tables.rows)
    for found in _by_view(stands, tables.limits).values():
        gone = {(item.movement, sense) for item in _opposed(found, tables.limits) for sense in (1, -1)
                if sense != item.kept}  # fmt: skip
        left = [item for item in found if item.move not in gone and item.other not in gone]
        left.sort(key=lambda item: (-item.probability, order.index(item.move)))
        told: list[Move] = []
        for item in left:
            moves = [move for move in (item.move, item.other) if move is not None and move not in told]
            if len(told) + len(moves) <= tables.limits.most_a_view:
                told += moves
                kept.append(item)
    return tuple(kept)


def opposed_movements(stands: Iterable[WindowStand], tables: MovementTables) -> tuple[Opposed, ...]:
    """Return the movements for which clips of one view ask in both senses, of whatever would be named otherwise."""
    return tuple(item for found in _by_view(stands, tables.limits).values() for item in _opposed(found, tables.limits))


def _by_view(stands: Iterable[WindowStand], limits: MovementLimits) -> dict[str, list[Named]]:
    by_view: dict[str, list[Named]] = defaultdict(list)
    for stand in stands:
        for clip in stand.clips:
            if is_heard(stand, clip, limits):
                by_view[clip.view] += [*_single(clip, stand, limits), *_pairs(clip, limits)]
    return by_view


def _opposed(found: Iterable[Named], limits: MovementLimits) -> list[Opposed]:
    by_move: dict[Move, list[Named]] = defaultdict(list)
    for item in found:
        for move in (item.move, item.other):
            if move is not None:
                by_move[move].append(item)
    opposed = []
    for movement, sense in by_move:
        if sense == 1 and (movement, -1) in by_move:
            plus, minus = by_move[movement, 1], by_move[movement, -1]
            clips = [tuple(dict.fromkeys(item.clip for item in each)) for each in (plus, minus)]
            opposed.append(
                Opposed(
                    view=plus[0].view, movement=movement, plus_clips=clips[0], minus_clips=clips[1],
                    kept=_surer(plus, minus, limits),
                )
            )  # fmt: skip
    return opposed


def _surer(plus: Iterable[Named], minus: Iterable[Named], limits: MovementLimits) -> int:
    """Return the sense that is much surer, 0 where neither is; an either-or is as sure as it is of both together."""
    odds = [max(item.probability / max(1 - item.probability, 1e-6) for item in each) for each in (plus, minus)]
    if max(odds) < limits.surer_odds * min(odds):
        return 0
    return 1 if odds[0] > odds[1] else -1


def others_of(named: Iterable[Named]) -> tuple[Named, ...]:
    """Return, of each "either … or", the other movement by itself: a mentor who knows the hand may say that it is this.

    Parameters
    ----------
    named : iterable of Named
        Of the study.
    """
    return tuple(
        Named(
            clip=item.clip, view=item.view, move=item.other, offset=offset,
            probability=offset.plus_probability if item.other[1] > 0 else offset.minus_probability,
        )
        for item in named
        if item.other is not None and (offset := item.other_offset) is not None
    )  # fmt: skip


def is_heard(stand: WindowStand, clip: ClipStand, limits: MovementLimits) -> bool:
    """Return whether a movement may be advised from where the probe stood in a clip."""
    may_say = clip.given_by is LandmarksBy.PERSON or limits.network_advises
    return may_say and not clip.silent and stand.window in limits.windows


def _single(clip: ClipStand, stand: WindowStand, limits: MovementLimits) -> list[Named]:
    """Return the movements that are sure by themselves; of the place also what all clips of the window say together."""
    found = [one for one in clip.offsets if one.movement != "press" and one.probability >= limits.named_from]
    here = {one.movement for one in found}
    if stand.has_one_place and len({item.view for item in stand.clips}) >= limits.habit_views:
        found += [one for one in stand.place if one.probability >= limits.named_from and one.movement not in here]
    return [
        Named(clip=clip.clip, view=clip.view, move=(one.movement, one.sense), offset=one, probability=one.probability)
        for one in found
    ]


def _pairs(clip: ClipStand, limits: MovementLimits) -> list[Named]:
    """Return the first pair of which one is sure, unless a movement of it is named by itself."""
    offsets = {one.movement: one for one in clip.offsets}
    return [
        Named(
            clip=clip.clip, view=clip.view, move=(pair.first, pair.first_sense), offset=offsets[pair.first],
            probability=pair.probability, other=(pair.second, pair.second_sense),
            other_offset=offsets[pair.second],
        )
        for pair in clip.pairs[:1]
        if pair.probability >= limits.named_from
    ]  # fmt: skip
