"""Reader of the causes that findings are explained by, and of the weights that were learnt for them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from enum import StrEnum
from typing import Any, NamedTuple

from fanlight.reference.criteria import read_criteria
from fanlight.study import CauseFound, CauseLevel, Criterion, House, Mode, Side

# Learnt on pictures, learnt on Doppler, and what neither could give.
WEIGHT_TABLES = ("cause_weights", "cause_weights_doppler", "cause_weights_beside")
_HALF_TURN_DEG = 180.0  # no sector opens further
_ROW = {"title", "level", "modes", "before", "drawn_as", "when", "correction", "right_when"}
_MAY = {"views", "handling", "alike", "harmless", "before_if", "telling", "undone_at_once"}


CUT = "chamber_cut"


class CutPlace(StrEnum):
    """Where a chamber is cut off: each place is a sign of its own, in tables after the criterion and a colon."""

    FAR_END = "far_end"
    SIDE = "side"
    NARROW_SIDE = "narrow_side"  # of a sector that could open further

    @property
    def sign(self) -> str:
        """The name of its sign in tables of weights."""
        return f"{CUT}:{self.value}"


def criterion_of(sign: str) -> str:
    """Return the criterion of a sign's name, which may tell a place as well."""
    return sign.partition(":")[0]


class AnimalFact(StrEnum):
    """What the request sheet may tell of the animal that makes a cause more or less likely."""

    BREATHING_NORMAL = "breathing_normal"
    BREATHING_LABOURED = "breathing_laboured"
    BREATHING_DISTRESSED = "breathing_distressed"
    CHEST_DEEP = "chest_deep"
    BODY_CONDITION_USUAL = "body_condition_usual"
    BODY_CONDITION_HIGH = "body_condition_high"
    HEART_DISEASE_NAMED = "heart_disease_named"
    HEART_LARGE_ON_RADIOGRAPHS = "heart_large_on_radiographs"


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseLimits:
    """House settings of causes and corrections; probabilities lie between 0 and 1."""

    habit_from: float
    habit_views: int
    console_from: float
    try_from: float  # from which a setting that is undone at once is worth a try
    hand_from: float
    either_from: float
    most: int
    slip: float
    held: float
    telling_clips: int  # in which a cause with telling signs must show one
    narrow_below_deg: float  # opening of a sector that could be widened

    def is_sure(self, item: CauseFound, row: CauseRow) -> bool:
        """Whether a cause is so sure that its change is named."""
        if (
            row.telling
            and len({one.clip for one in item.explains if one.criterion in row.telling}) < self.telling_clips
        ):
            return False
        is_hand = row.level is CauseLevel.HAND and not row.harmless
        return item.probability >= (self.hand_from if is_hand else self.console_from)

    def is_worth_a_try(self, item: CauseFound, row: CauseRow) -> bool:
        """Whether a cause that is not sure is likely enough that its setting is named as one to be tried."""
        likely = self.try_from <= item.probability < self.console_from
        return row.undone_at_once and not item.alternatives and likely


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseRow:
    """One cause and what is said of it."""

    key: str
    title: str
    level: CauseLevel
    modes: tuple[Mode, ...]
    views: tuple[str, ...]  # beginnings of the keys of views; empty: all
    before: float  # probability that a study has it throughout, before anything was seen
    drawn_as: tuple[str, ...]  # faults of the simulator
    when: str
    correction: str
    right_when: str
    handling: bool
    alike: Mapping[str, str]  # by the key of the other cause: what tells them apart
    harmless: bool = False  # of the hand, and cannot spoil a picture
    before_if: Mapping[AnimalFact, float] = field(default_factory=dict)  # in place of `before`, where it is known
    undone_at_once: bool = False  # a setting that spoils nothing until it is put back
    telling: tuple[str, ...] = ()  # criteria without which it is not named, however likely
    slip_times: float = 1.0  # times the House's probability of a slip

    def acts_in(self, mode: Mode, view: str) -> bool:
        """Whether a clip of this mode and view ("" not known) can show it."""
        return mode in self.modes and (not self.views or any(view.startswith(part) for part in self.views))


class Weight(NamedTuple):
    """How likely chance, or one cause by itself, raises a criterion: at all, and so far that it is missed outright."""

    raised: float
    missed: float  # below `raised`


@dataclass(frozen=True, slots=True, kw_only=True)
class Weights:
    """What was learnt: how likely a criterion is raised by chance, and how likely each cause raises it."""

    by_chance: Mapping[tuple[str, Side], Weight]
    by_cause: Mapping[str, Mapping[str, Mapping[tuple[str, Side], Weight]]]  # by cause and grade


def read_causes(house: House) -> dict[str, CauseRow]:
    """Return the causes by key.

    Raises
    ------
    ValueError
        Naming the row, when a key is missing or unknown, a number is no probability, or a criterion does not exist.
    """
    return dict(house.kept("causes", _all_causes))


def _all_causes(house: House) -> dict[str, CauseRow]:
    found = {key: _row(key, row) for key, row in house.table("causes")["causes"].items()}
    criteria = read_criteria(house)
    for key, row in found.items():
        if unknown := sorted(set(row.telling) - set(criteria)):
            raise ValueError(f"causes.causes.{key}.telling: no criterion {unknown[0]}")
        if row.undone_at_once and (row.level is not CauseLevel.CONSOLE or row.handling):
            raise ValueError(f"causes.causes.{key}.undone_at_once: only a setting of the console can be undone at once")
        if unknown := sorted(set(row.alike) - set(found)):
            raise ValueError(f"causes.causes.{key}.alike: no cause {unknown[0]}")
        if one_way := sorted(other for other in row.alike if key not in found[other].alike):
            raise ValueError(f"causes.causes.{one_way[0]}.alike must name {key} too: causes look alike both ways")
    return found


def _row(key: str, row: Mapping[str, Any]) -> CauseRow:
    where = f"causes.causes.{key}"
    if missing := sorted(_ROW - set(row)):
        raise ValueError(f"{where} lacks {', '.join(missing)}")
    if unknown := sorted(set(row) - _ROW - _MAY):
        raise ValueError(f"{where}: unknown {unknown[0]}; known are {', '.join(sorted(_ROW | _MAY))}")
    try:
        return CauseRow(
            key=key, title=row["title"], level=CauseLevel(row["level"]), modes=tuple(Mode(m) for m in row["modes"]),
            views=tuple(row.get("views", ())), before=_inner(row["before"], f"{where}.before"),
            drawn_as=tuple(row["drawn_as"]),
            when=row["when"], correction=row["correction"], right_when=row["right_when"],
            handling=bool(row.get("handling", False)), alike=dict(row.get("alike", {})),
            harmless=bool(row.get("harmless", False)), undone_at_once=bool(row.get("undone_at_once", False)),
            telling=tuple(row.get("telling", ())),
            before_if={
                AnimalFact(fact): _inner(value, f"{where}.before_if.{fact}")
                for fact, value in row.get("before_if", {}).items()
            },
        )  # fmt: skip
    except ValueError as error:
        raise ValueError(f"{where}: {error}") from error


def read_cause_limits(house: House) -> CauseLimits:
    """Return the limits.

    Raises
    ------
    ValueError
        Naming the row, when one is missing, unknown, or lies outside what it can be.
    """
    row = house.table("causes")["limits"]
    names = {field.name for field in fields(CauseLimits)}
    if set(row) != names:
        raise ValueError(f"causes.limits needs {', '.join(sorted(names))}; it has {', '.join(sorted(row))}")
    whole = {"habit_views", "most", "telling_clips"}
    if not 0 < row["narrow_below_deg"] < _HALF_TURN_DEG:
        raise ValueError(
            f"causes.limits.narrow_below_deg must lie between 0 and 180 degrees, got {row['narrow_below_deg']!r}"
        )
    for name in names - whole - {"narrow_below_deg"}:
        _share(row[name], f"causes.limits.{name}")
    for name in sorted(whole):
        if isinstance(row[name], bool) or not isinstance(row[name], int) or row[name] < 1:
            raise ValueError(f"causes.limits.{name} must be a whole number of 1 or more, got {row[name]!r}")
    limits = CauseLimits(**row)
    if not limits.slip < limits.held:
        raise ValueError("causes.limits.slip must lie below causes.limits.held: a habit acts more often than a slip")
    if limits.try_from > limits.console_from:
        raise ValueError("causes.limits.try_from must not lie above console_from: what is sure needs no try")
    return limits


def read_try_words(house: House) -> str:
    """Return what is said of a setting that is likely enough to be tried and not sure.

    Raises
    ------
    ValueError
        If the table has no such words.
    """
    said = house.table("causes").get("words", {}).get("to_try")
    if not isinstance(said, str) or not said.strip():
        raise ValueError(f"causes.words.to_try must be a sentence that says the setting is to be tried, got {said!r}")
    return said


def read_weights(house: House) -> Weights:
    """Return what was learnt for the causes that the House has, by cause and grade.

    Raises
    ------
    ValueError
        Naming the row, when a weight is no pair of probabilities, or a cause that can be told from findings has none.
    """
    return house.kept("cause_weights", _all_weights)


def _all_weights(house: House) -> Weights:
    criteria = read_criteria(house)
    by_chance: dict[tuple[str, Side], Weight] = {}
    by_cause: dict[str, dict[str, dict[tuple[str, Side], Weight]]] = {}
    for name in WEIGHT_TABLES:
        table = house.table(name)
        by_chance |= _signs(table["by_chance"], f"{name}.by_chance", criteria)
        for key, grades in table["by_cause"].items():
            for grade, row in grades.items():
                signs = _signs(row, f"{name}.by_cause.{key}.{grade}", criteria)
                by_cause.setdefault(key, {}).setdefault(grade, {}).update(signs)
    if missing := sorted(set(read_causes(house)) - set(by_cause)):
        tables = ", ".join(WEIGHT_TABLES)
        raise ValueError(f"by_cause.{missing[0]} is missing in {tables}; run python -m training.fit_causes")
    return Weights(by_chance=by_chance, by_cause=by_cause)


def _signs(
    row: Mapping[str, Mapping[str, object]], where: str, criteria: Mapping[str, Criterion]
) -> dict[tuple[str, Side], Weight]:
    known = {*criteria, *(place.sign for place in CutPlace)}
    if unknown := sorted(set(row) - known):
        raise ValueError(f"{where}: no criterion {unknown[0]}")
    return {
        (sign, Side(side)): _weight(value, f"{where}.{sign}.{side}")
        for sign, sides in row.items()
        for side, value in sides.items()
    }


def _weight(value: object, where: str) -> Weight:
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise ValueError(f"{where} must be two numbers, how often raised and how often missed outright, got {value!r}")
    raised, missed = (_inner(own, where) for own in value)
    if missed >= raised:  # else borderline would be impossible
        raise ValueError(f"{where}: missed outright must lie below raised, got {missed} and {raised}")
    return Weight(raised, missed)


def _share(value: object, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= 1:
        raise ValueError(f"{where} must lie between 0 and 1, got {value!r}")
    return float(value)


def _inner(value: object, where: str) -> float:
    share = _share(value, where)
    if not 0 < share < 1:
        raise ValueError(f"{where} must lie above 0 and below 1, got {value!r}: nothing is impossible or certain")
    return share
