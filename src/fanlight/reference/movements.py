"""Reader of the movements of the hand: from when on one is named, and what is said of it in each view."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from typing import Any

from fanlight.reference.criteria import read_criteria
from fanlight.reference.handling import HandlingWords, Reach, handling_words
from fanlight.study import House, Side

MOVEMENTS = ("space", "slide", "rotate", "tilt", "rock")
SENSES = {"plus": 1, "minus": -1}
_ROW = {"title", "correction", "weight", "explains", "when"}
_FARTHEST = ("slide_ratio", "space_ratio", "rotate_deg", "tilt_deg", "rock_deg")
_LEAST = ("press_ratio", *_FARTHEST)


@dataclass(frozen=True, slots=True, kw_only=True)
class MovementLimits:
    """House settings of movements; probabilities lie between 0 and 1."""

    named_from: float  # probability of the sense of a movement from which on it is named
    none_from: float  # that nothing is off, from which on a finding of the plane may be the animal
    surer_odds: float  # between opposite senses of one view, from which on the surer is told
    most_a_view: int
    habit_views: int
    landmarks_from: int  # different ones that a person named in a clip
    network_landmarks_from: int
    asks_network: bool  # whether a pose is told from the network's landmarks on the study sheet
    network_advises: bool  # whether such a pose names movements for change, too
    misfit_from: float
    together: int  # clips of one window that are fitted at once
    windows: tuple[str, ...]  # in which a movement is advised
    step_deg: float  # of a correction at most
    step_mm: float
    least: tuple[tuple[str, float], ...]  # amounts from which on an offset counts
    farthest: tuple[tuple[str, float], ...]  # the same, beyond which no hand goes


@dataclass(frozen=True, slots=True, kw_only=True)
class MovementRow:
    """One movement in one sense, as the probe stood: its name and what is said to the trainee."""

    key: str  # "tilt_plus"
    movement: str
    sense: int
    title: str
    correction: str  # {size} stands for the size, {way} for where the cable end goes
    weight: float  # of a movement that explains no finding
    explains: tuple[tuple[str, Side], ...]
    when: Mapping[str, str]  # by the beginning of the view's key: what the picture shows
    touches: bool  # goes to another place on the animal: given only when its breathing is normal


@dataclass(frozen=True, slots=True, kw_only=True)
class MovementTables:
    """All that the House says of movements."""

    limits: MovementLimits
    rows: Mapping[tuple[str, int], MovementRow]  # in the order of hands
    right_when: Mapping[str, str]  # by the beginning of the view's key
    ways: Mapping[str, Mapping[str, tuple[str, str]]]  # by tilt or rock and view: cable end of plus, of minus
    way_differs: Mapping[str, tuple[str, str]]  # the same where views or animals differ
    try_first: str
    look_for: str
    animal: str
    opposite: str

    def when(self, row: MovementRow, views: Iterable[str]) -> str:
        """Return what pictures of these views show when the probe stands so."""
        return _of_all(row.when, views)

    def right(self, views: Iterable[str]) -> str:
        """Return what right pictures of these views show."""
        return _of_all(self.right_when, views)


def _of_all(rows: Mapping[str, str], views: Iterable[str]) -> str:
    """Return what the rows say of these views; where they say different things, what holds for all."""
    said = {rows[max((key for key in rows if view.startswith(key)), key=len)] for view in views}
    return said.pop() if len(said) == 1 else rows[""]


def read_movements(house: House) -> MovementTables:
    """Return the movements.

    Raises
    ------
    ValueError
        Naming the row, when one is missing, unknown, or lies outside what it can be.
    """
    return house.kept("movements", _all)


def _all(house: House) -> MovementTables:
    table, criteria = house.table("movements"), read_criteria(house)
    handling = handling_words(house.table("handling"))
    rows = {}
    order = tuple(table["order"])
    if sorted(order) != sorted(MOVEMENTS):
        raise ValueError(f"movements.order must name {', '.join(MOVEMENTS)} once each, got {', '.join(order)}")
    for movement in order:
        for name, sense in SENSES.items():
            key = f"{movement}_{name}"
            row = _row(key, movement, sense, table["movements"], handling)
            if unknown := sorted({criterion for criterion, _ in row.explains} - set(criteria)):
                raise ValueError(f"movements.movements.{key}.explains: no criterion {unknown[0]}")
            rows[movement, sense] = row
    for name, said in (("right_when", table["right_when"]), *((row.key, row.when) for row in rows.values())):
        if "" not in said:
            raise ValueError(f'movements {name}: a row "" must say what holds in all other views')
    turned = ("tilt", "rock")
    ways = {
        movement: {view: (pair[0], pair[1]) for view, pair in table["ways"][movement].items()} for movement in turned
    }
    words = table["words"]
    return MovementTables(
        limits=_limits(table["limits"], table["least"], table["farthest"]), rows=rows, ways=ways,
        right_when=table["right_when"],
        way_differs={movement: (pair[0], pair[1]) for movement in turned for pair in [table["way_differs"][movement]]},
        try_first=words["try_first"], look_for=words["look_for"],
        animal=words["animal"], opposite=words["opposite"],
    )  # fmt: skip


def _row(key: str, movement: str, sense: int, table: Mapping[str, Any], handling: HandlingWords) -> MovementRow:
    where = f"movements.movements.{key}"
    row = table.get(key, {})
    if set(row) != _ROW:
        raise ValueError(f"{where} needs {', '.join(sorted(_ROW))}; it has {', '.join(sorted(row))}")
    if "{size}" not in row["correction"]:
        raise ValueError(f"{where}.correction must hold {{size}}: advice says how far")
    if not row["weight"] >= 0:
        raise ValueError(f"{where}.weight must be 0 or more, got {row['weight']}")
    try:
        explains = tuple((name, Side(side)) for name, side in (item.split(" ") for item in row["explains"]))
    except ValueError as error:
        raise ValueError(f"{where}.explains needs a criterion and its side in each entry: {error}") from error
    return MovementRow(
        key=key, movement=movement, sense=sense, title=row["title"], correction=row["correction"],
        weight=float(row["weight"]), explains=explains, when=row["when"],
        touches=handling.reach(row["correction"]) is Reach.TOUCHES,
    )  # fmt: skip


def _limits(row: Mapping[str, Any], least: Mapping[str, float], farthest: Mapping[str, float]) -> MovementLimits:
    names = {field.name for field in fields(MovementLimits)} - {"least", "farthest"}
    if set(row) != names:
        raise ValueError(f"movements.limits needs {', '.join(sorted(names))}; it has {', '.join(sorted(row))}")
    for name in ("named_from", "none_from"):
        if not 0.5 < row[name] < 1:
            raise ValueError(f"movements.limits.{name} must lie above 0.5 and below 1, got {row[name]!r}")
    for name in ("most_a_view", "habit_views", "together"):
        if isinstance(row[name], bool) or not isinstance(row[name], int) or row[name] < 1:
            raise ValueError(f"movements.limits.{name} must be a whole number of 1 or more, got {row[name]!r}")
    for name in ("landmarks_from", "network_landmarks_from"):
        if isinstance(row[name], bool) or not isinstance(row[name], int) or row[name] < 3:
            raise ValueError(f"movements.limits.{name} must be a whole number of 3 or more, got {row[name]!r}")
    if not row["surer_odds"] >= 1:
        raise ValueError(f"movements.limits.surer_odds must be 1 or more, got {row['surer_odds']!r}")
    for name in ("misfit_from", "step_deg", "step_mm"):
        if not row[name] > 0:
            raise ValueError(f"movements.limits.{name} must be above 0, got {row[name]!r}")
    if set(least) != set(_LEAST) or not all(value > 0 for value in least.values()):
        raise ValueError(f"movements.least needs {', '.join(_LEAST)}, each above 0")
    if set(farthest) != set(_FARTHEST) or not all(farthest[name] > least[name] for name in _FARTHEST):
        raise ValueError(f"movements.farthest needs {', '.join(_FARTHEST)}, each above that of movements.least")
    return MovementLimits(
        **{**row, "windows": tuple(row["windows"])}, least=tuple((name, float(least[name])) for name in _LEAST),
        farthest=tuple((name, float(farthest[name])) for name in _FARTHEST),
    )  # fmt: skip
