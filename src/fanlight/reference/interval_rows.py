"""Rows of the interval table as values, checked while they are read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fanlight.study import House, ReferenceKind, Species

_NUMBERS: dict[str, frozenset[str]] = {
    "power": frozenset({"a", "a_lower", "a_upper", "b"}),
    "percentile_curve": frozenset({"a", "b", "percentile"}),
    "range": frozenset({"lower", "upper"}),
    "limit": frozenset({"threshold"}),
    "index_limit": frozenset({"threshold", "exponent"}),
    "line_limit": frozenset({"slope_per_kg", "intercept"}),
    "band": frozenset({"lower", "rounded_to"}),
    "group_mean": frozenset({"mean", "sd"}),
    "group_range": frozenset({"median", "lowest", "highest"}),
    "spread": frozenset({"cv_percent"}),
}
_MORE_NUMBERS = {"centre", "sensitivity_percent", "specificity_percent", "upper"}
_WORDS = {
    "abnormal_if",
    "size_quantity",
    "index_quantity",
    "stage",
    "predicts",
    "defines",
    "group",
    "grade",
    "scale",
    "what",
}
_FLAGS = {"low_side_speaks", "lower_in", "upper_in", "part", "skewed"}
_KNOWN = {
    "quantities", "species", "breeds", "exclude_groups", "exclude_breeds", "sex", "adult", "weight_kg", "weight_basis",
    "technique", "near_technique", "near_note", "phase", "window", "unstated", "needs_named", "unless_named", "kind",
    "gives_z", "order", "form", "unit", "n", "basis", "citation", "via", "status", "checked", "same_as", "curve_of",
    "applies_when", "note", "usual",
}  # fmt: skip
_ABNORMAL_IF = {">", ">=", "<", "<="}


@dataclass(frozen=True, slots=True, kw_only=True)
class IntervalRow:
    """One reference number or curve, with the animals and the way of measuring that it holds for."""

    key: str
    quantities: tuple[str, ...]
    species: Species
    kind: ReferenceKind
    form: str  # names the formula, see the head of intervals.toml
    unit: str  # of the limits
    numbers: tuple[tuple[str, float], ...]  # that the form needs, by name
    details: tuple[tuple[str, str], ...]  # further words: "predicts", "stage", "grade", "scale" …
    flags: tuple[tuple[str, bool], ...]
    gives_z: bool
    order: int
    adult: bool
    weight_kg: tuple[float, float] | None
    weight_basis: str
    breeds: tuple[str, ...]
    exclude_groups: tuple[str, ...]
    exclude_breeds: tuple[str, ...]
    sex: str
    technique: tuple[str, ...]
    near_technique: tuple[str, ...]
    near_note: str
    phase: tuple[str, ...]
    window: tuple[str, ...]
    unstated: str  # "withhold" or "orientation"
    needs_named: tuple[str, ...]
    unless_named: tuple[str, ...]
    n: int  # animals; 0: not stated or not seen
    basis: str
    citation: str
    via: str
    status: str  # "seen", "memory", "derived"
    checked: str  # "yes", "no", "": nothing to hold it against
    same_as: str
    curve_of: str
    applies_when: str
    note: str

    def number(self, name: str) -> float | None:
        """Return a number of this row, or None when it has none of this name."""
        return dict(self.numbers).get(name)

    def detail(self, name: str) -> str:
        """Return a word of this row, or "" when it has none of this name."""
        return dict(self.details).get(name, "")

    def flag(self, name: str, default: bool) -> bool:
        """Return a flag of this row."""
        return dict(self.flags).get(name, default)


@dataclass(frozen=True, slots=True, kw_only=True)
class RefusedRow:
    """A number that stands somewhere in print or memory and must not be used."""

    key: str
    kind: ReferenceKind
    species: Species
    quantities: tuple[str, ...]
    citation: str
    reason: str
    needed: str  # what would mend it


def _check(row: IntervalRow) -> None:
    missing = _NUMBERS[row.form] - {name for name, _ in row.numbers}
    if missing:
        raise ValueError(f"form {row.form} needs {sorted(missing)}")
    if row.form in ("limit", "index_limit", "line_limit") and row.detail("abnormal_if") not in _ABNORMAL_IF:
        raise ValueError(f"abnormal_if must be one of {sorted(_ABNORMAL_IF)}, got {row.detail('abnormal_if')!r}")
    if row.gives_z and row.kind is not ReferenceKind.REFERENCE_INTERVAL:
        raise ValueError(f"only a reference interval gives z, this row is a {row.kind}")
    if row.unstated not in ("withhold", "orientation"):
        raise ValueError(f"unstated must be withhold or orientation, got {row.unstated!r}")
    if row.status not in ("seen", "memory", "derived"):
        raise ValueError(f"status must be seen, memory or derived, got {row.status!r}")
    silent = (ReferenceKind.STUDY_INCLUSION, ReferenceKind.REPEATABILITY, ReferenceKind.OTHER_FACT)
    if row.kind is not ReferenceKind.REFERENCE_INTERVAL and row.kind not in silent and not row.needs_named:
        raise ValueError(f"a {row.kind} needs the disease for which it speaks (needs_named)")


def _row(key: str, row: Mapping[str, Any]) -> IntervalRow:
    form = row["form"]
    if form not in _NUMBERS:
        raise ValueError(f"form must be one of {sorted(_NUMBERS)}, got {form!r}")
    numeric = _NUMBERS[form] | _MORE_NUMBERS
    if unknown := set(row) - _KNOWN - numeric - _WORDS - _FLAGS:
        raise ValueError(f"unknown keys {sorted(unknown)}")
    numbers = {name: float(row[name]) for name in sorted(numeric) if name in row}
    if "usual" in row:
        numbers |= {"usual_lower": float(row["usual"][0]), "usual_upper": float(row["usual"][1])}
    weight = row.get("weight_kg", ())
    read = IntervalRow(
        key=key,
        quantities=tuple(row["quantities"]),
        species=Species(row["species"]),
        kind=ReferenceKind(row["kind"]),
        form=form,
        unit=row["unit"],
        numbers=tuple(numbers.items()),
        details=tuple((name, row[name]) for name in sorted(_WORDS) if name in row),
        flags=tuple((name, bool(row[name])) for name in sorted(_FLAGS) if name in row),
        gives_z=bool(row["gives_z"]),
        order=int(row["order"]),
        adult=bool(row["adult"]),
        weight_kg=(float(weight[0]), float(weight[1])) if weight else None,
        weight_basis=row.get("weight_basis", ""),
        breeds=tuple(row.get("breeds", ())),
        exclude_groups=tuple(row.get("exclude_groups", ())),
        exclude_breeds=tuple(row.get("exclude_breeds", ())),
        sex=row.get("sex", ""),
        technique=tuple(row["technique"]),
        near_technique=tuple(row.get("near_technique", ())),
        near_note=row.get("near_note", ""),
        phase=tuple(row.get("phase", ())),
        window=tuple(row.get("window", ())),
        unstated=row["unstated"],
        needs_named=tuple(row.get("needs_named", ())),
        unless_named=tuple(row.get("unless_named", ())),
        n=int(row["n"]),
        basis=row["basis"],
        citation=row["citation"],
        via=row.get("via", ""),
        status=row["status"],
        checked=row["checked"],
        same_as=row.get("same_as", ""),
        curve_of=row.get("curve_of", ""),
        applies_when=row["applies_when"],
        note=row.get("note", ""),
    )
    _check(read)
    return read


def read_intervals(house: House) -> dict[str, IntervalRow]:
    """Return all rows that may be used, by key, in the order of the table.

    Raises
    ------
    ValueError
        Naming file and row, when a row is incomplete or says more than its kind may.
    """
    return dict(house.kept("intervals", _all_rows))


def _all_rows(house: House) -> dict[str, IntervalRow]:
    rows: dict[str, IntervalRow] = {}
    for key, row in house.table("intervals")["rows"].items():
        try:
            rows[key] = _row(key, row)
        except KeyError as error:
            raise ValueError(f"intervals.toml, row {key}: {error} is missing") from error
        except (ValueError, TypeError, IndexError) as error:
            raise ValueError(f"intervals.toml, row {key}: {error}") from error
    return rows


def read_refused(house: House) -> dict[str, RefusedRow]:
    """Return the rows that must not be used, by key, with the reason for each."""
    refused: dict[str, RefusedRow] = {}
    for key, row in house.table("intervals")["refused"].items():
        try:
            fields = dict(row)
            refused[key] = RefusedRow(
                key=key,
                kind=ReferenceKind(fields.pop("kind")),
                species=Species(fields.pop("species")),
                quantities=tuple(fields.pop("quantities")),
                **fields,
            )
        except (KeyError, ValueError, TypeError) as error:
            raise ValueError(f"intervals.toml, refused row {key}: {error}") from error
    return refused
