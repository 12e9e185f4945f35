"""What is said of the movements that are named: when, what to do and how far, when it is right."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from fanlight.coach.causes.corrections import Candidate
from fanlight.coach.movements.named import Move, Named
from fanlight.coach.movements.sizes import size_words
from fanlight.coach.priorities import is_withheld, withheld_words
from fanlight.reference.movements import MovementRow, MovementTables
from fanlight.study import (
    Breathing,
    CauseLevel,
    ClipReading,
    Correction,
    Criterion,
    Explained,
    Finding,
    ProbeOffset,
    Verdict,
)

_RAISED = (Verdict.MISSED, Verdict.BORDERLINE)
_NO_TITLES: Mapping[str, str] = {}
_NTH = ("first", "second")  # two sorts of views are named; of more what holds for all is easier read
_Apart = list[tuple[str, list[str]]]  # words, and the views of which they hold


@dataclass(frozen=True, slots=True, kw_only=True)
class Advised:
    """A movement that is named somewhere, with the findings that are counted to it."""

    candidate: Candidate
    explains: tuple[Finding, ...]
    named: tuple[Named, ...]  # where, and from what


def advised(
    named: Iterable[Named], readings: Iterable[ClipReading], tables: MovementTables,
    criteria: Mapping[str, Criterion], breathing: Breathing, titles: Mapping[str, str] = _NO_TITLES,
) -> tuple[Advised, ...]:  # fmt: skip
    """Return what is said of each movement that is named, over all clips that name it.

    It weighs what the findings weigh that it explains, and no less in a clip than its own row says.

    Parameters
    ----------
    named : iterable of Named
        Of the study.
    readings : iterable of ClipReading
        With the findings on their planes.
    tables : MovementTables
        Of the House, as are `criteria`.
    breathing : Breathing
        From the request sheet; nothing is to be done about the probe while an animal fights for air, and another space
        is taken only when breathing is normal.
    titles : mapping of str to str, optional
        Of views, by their keys: where two views show or ask for different things each is named.
    """
    by_clip = {item.clip.key: item for item in readings}
    groups: dict[tuple[Move, Move | None], list[Named]] = defaultdict(list)
    for item in named:
        groups[item.move, item.other].append(item)
    return tuple(
        _advised(found, by_clip, _Said(tables=tables, titles=titles), criteria, breathing) for found in groups.values()
    )


def _explained(item: Named, reading: ClipReading, tables: MovementTables) -> tuple[Finding, ...]:
    """Return the findings of a clip of which a named movement, or its alternative, is the reason."""
    moves = [move for move in (item.move, item.other) if move is not None]
    known = {pair for move in moves for pair in tables.rows[move].explains}
    return tuple(each for each in reading.findings if each.verdict in _RAISED and (each.criterion, each.side) in known)


def _advised(
    found: Sequence[Named], readings: Mapping[str, ClipReading], said_of: _Said, criteria: Mapping[str, Criterion],
    breathing: Breathing,
) -> Advised:  # fmt: skip
    tables = said_of.tables
    first, row = found[0], tables.rows[found[0].move]
    withheld = _held(row, breathing)
    explained = {item.clip: _explained(item, readings[item.clip], tables) for item in found}
    weights = (max(row.weight, sum(criteria[each.criterion].weight for each in said)) for said in explained.values())
    counted = tuple(each for said in explained.values() for each in said)
    views = tuple(dict.fromkeys(item.view for item in found))
    key = row.key if first.other is None else f"{row.key}_or_{tables.rows[first.other].key}"
    candidate = Candidate(
        correction=Correction(
            cause=key, title=row.title if first.other is None else _either_title(row, tables.rows[first.other]),
            level=CauseLevel.HAND, when=said_of.when(row, views),
            correction="" if withheld else said_of.to_do(row, views, [item.offset for item in found]),
            right_when=said_of.right(row, views),
            resolves=len(counted),
            clips=tuple(dict.fromkeys(item.clip for item in found)),
            is_habit=len(views) >= tables.limits.habit_views,
            either="" if withheld else _either(found, views, said_of, breathing),
            withheld=withheld,
            explains=tuple(Explained(criterion=each.criterion, clip=each.clip) for each in counted),
        ),
        weight=sum(weights), probability=max(item.probability for item in found),
    )  # fmt: skip
    return Advised(candidate=candidate, explains=counted, named=tuple(found))


def title_of(key: str, tables: MovementTables) -> str:
    """Return the title of a movement, or of an either-or, by the key of its correction; "" where it is none."""
    rows = {row.key: row for row in tables.rows.values()}
    first, _, other = key.partition("_or_")
    if first not in rows or (other and other not in rows):
        return ""
    return _either_title(rows[first], rows[other]) if other else rows[first].title


def _either_title(row: MovementRow, other: MovementRow) -> str:
    return f"either {row.title} or {other.title}"


def _held(row: MovementRow, breathing: Breathing) -> str:
    """Return why a movement is not advised, "" where it is."""
    return withheld_words(breathing) if is_withheld(breathing, touches=row.touches, moves=True) else ""


def _either(found: Sequence[Named], views: Sequence[str], said_of: _Said, breathing: Breathing) -> str:
    """Return the other movement with its size, for when the first makes the picture worse; "" where there is none."""
    offsets = [item.other_offset for item in found if item.other_offset is not None]
    if found[0].other is None or not offsets:
        return ""
    tables = said_of.tables
    row = tables.rows[found[0].other]
    return _held(row, breathing) or tables.try_first.format(other=said_of.to_do(row, views, offsets))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Said:
    """The words of movements; of two sorts of views that differ each is named."""

    tables: MovementTables
    titles: Mapping[str, str]

    def when(self, row: MovementRow, views: Sequence[str]) -> str:
        groups = _apart(views, lambda some: self.tables.when(row, some))
        return ", or ".join(f"in {self._titles(some)} {said}" for said, some in groups) or self.tables.when(row, views)

    def to_do(self, row: MovementRow, views: Sequence[str], offsets: Sequence[ProbeOffset]) -> str:
        size = size_words(offsets, self.tables.limits)
        if "{way}" not in row.correction:
            return row.correction.format(size=size)
        ways = (f"{said} in {self._titles(some)}" for said, some in self._ways_apart(row, views))
        return row.correction.format(size=size, way=" and ".join(ways) or self._way_of_all(row, views))

    def right(self, row: MovementRow, views: Sequence[str]) -> str:
        """Return when it is right; views that what is to be done has just named are the first and the second."""
        groups = _apart(views, self.tables.right)
        are_named = len(views) == len(_NTH) and bool(self._ways_apart(row, views))
        where = [f"the {nth}" for nth in _NTH] if are_named else [self._titles(some) for _, some in groups]
        said = ", and ".join(f"in {there} {words}" for there, (words, _) in zip(where, groups, strict=False))
        return said or self.tables.right(views)

    def _ways_apart(self, row: MovementRow, views: Sequence[str]) -> _Apart:
        return _apart(views, lambda some: self._way_of_all(row, some)) if "{way}" in row.correction else []

    def _way_of_all(self, row: MovementRow, views: Sequence[str]) -> str:
        back = 1 if row.sense > 0 else 0  # what is too far towards plus goes towards minus
        ways = {_way(row, view, self.tables)[back] for view in views}
        return ways.pop() if len(ways) == 1 else self.tables.way_differs[row.movement][back]

    def _titles(self, views: Iterable[str]) -> str:
        return " and ".join(f"“{self.titles.get(view, view.replace('_', ' '))}”" for view in views)


def _apart(views: Sequence[str], words: Callable[[Sequence[str]], str]) -> _Apart:
    """Return what is said of two sorts of views, each with its views; nothing where all are alike or more differ."""
    groups: dict[str, list[str]] = defaultdict(list)
    for view in views:
        groups[words([view])].append(view)
    return list(groups.items()) if len(groups) == len(_NTH) else []


def _way(row: MovementRow, view: str, tables: MovementTables) -> tuple[str, str]:
    """Return where the cable end goes in a view as the beam is sent to plus, to minus; its way where animals differ."""
    ways = tables.ways[row.movement]
    keys = [key for key in ways if view.startswith(key)]
    return ways[max(keys, key=len)] if keys else tables.way_differs[row.movement]
