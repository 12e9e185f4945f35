"""Which movements of the hand are sure enough to be named, clip by clip: at most two of a view."""

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

    @property
    def n_movements(self) -> int:
        """How many movements are told with it."""
        return 1 if self.other is None else 2


def named_movements(stands: Iterable[WindowStand], tables: MovementTables) -> tuple[Named, ...]:
    """Return what is named of all clips: the likeliest of each view, at most as many as the House tells of one.

    Parameters
    ----------
    stands : iterable of WindowStand
        Of the study. What is silent names nothing, nor does what rests on the network's landmarks unless the House
        lets it.
    tables : MovementTables
        Of the House.
    """
    limits = tables.limits
    by_view: dict[str, list[Named]] = defaultdict(list)
    for stand in stands:
        for clip in stand.clips:
            if is_heard(stand, clip, limits):
                by_view[clip.view] += [*_single(clip, stand, limits), *_pairs(clip, limits)]
    kept: list[Named] = []
    order = list(tables.rows)
    for found in by_view.values():
        found.sort(key=lambda item: (-item.probability, order.index(item.move)))
        told: list[Move] = []
        for item in found:
            moves = [move for move in (item.move, item.other) if move is not None and move not in told]
            if len(told) + len(moves) <= limits.most_a_view:
                told += moves
                kept.append(item)
    return tuple(kept)


def is_heard(stand: WindowStand, clip: ClipStand, limits: MovementLimits) -> bool:
    """Return whether a movement may be advised from where the probe stood in a clip."""
    may_say = clip.given_by is LandmarksBy.PERSON or limits.network_advises
    return may_say and not clip.silent and stand.window in limits.windows


def _single(clip: ClipStand, stand: WindowStand, limits: MovementLimits) -> list[Named]:
    """Return the movements that are sure by themselves; of the place also what all clips of the window say together."""
    found = [one for one in clip.offsets if one.movement != "press" and one.probability >= limits.named_from]
    here = {one.movement for one in found}
    if len({item.view for item in stand.clips}) >= limits.habit_views:
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
        )
        for pair in clip.pairs[:1]
        if pair.probability >= limits.named_from
    ]  # fmt: skip
