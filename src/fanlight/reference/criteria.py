"""Reader of the criteria tables: one table a family, one row a criterion."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fanlight.reference.handling import Reach
from fanlight.study import Advice, Band, Basis, ClipVerdict, Criterion, House, Purpose

_PREFIX = "criteria/"
_ADVICE_KEYS = {"means", "cause", "correction", "handling", "moves", "otherwise"}
_ROW_KEYS = {
    "title", "unit", "band", "basis", "source", "right", "low", "high", "weight", "limits", "retake",
    "retake_when_borderline", "retake_reach",
    "study_level", "settings",
}  # fmt: skip

_HOUSES = 8
_READ: dict[str, dict[str, Criterion]] = {}  # by fingerprint of the House: each answer of the desk asks for them


def _advice(row: Mapping[str, Any] | None, where: str) -> Advice | None:
    if row is None:
        return None
    if unknown := set(row) - _ADVICE_KEYS:
        raise ValueError(f"{where}: unknown keys {sorted(unknown)}; known: {sorted(_ADVICE_KEYS)}")
    return Advice(
        means=row["means"], cause=row["cause"], correction=row["correction"],
        handling=bool(row.get("handling", False)), moves=bool(row.get("moves", False)),
        otherwise=row.get("otherwise", ""),
    )  # fmt: skip


def _criterion(family: str, key: str, row: Mapping[str, Any]) -> Criterion:
    where = f"criteria/{family}.toml, row {key}"
    if unknown := set(row) - _ROW_KEYS:
        raise ValueError(f"{where}: unknown keys {sorted(unknown)}; known: {sorted(_ROW_KEYS)}")
    try:
        return Criterion(
            key=key,
            family=family,
            title=row["title"],
            unit=row["unit"],
            band=Band(**row["band"]),
            basis=Basis(row["basis"]),
            source=row.get("source", ""),
            right=row["right"],
            low=_advice(row.get("low"), where),
            high=_advice(row.get("high"), where),
            weight=float(row["weight"]),
            limits=tuple((Purpose(p), ClipVerdict(v)) for p, v in row.get("limits", {}).items()),
            retake=row.get("retake", ""),
            retake_when_borderline=bool(row.get("retake_when_borderline", False)),
            retake_touches=row.get("retake_reach", 0) == Reach.TOUCHES,
            retake_moves=row.get("retake_reach", 0) == Reach.MOVES,
            study_level=bool(row.get("study_level", False)),
            settings=tuple((k, float(v)) for k, v in row.get("settings", {}).items()),
        )
    except (KeyError, ValueError, TypeError) as error:
        raise ValueError(f"{where}: {error}") from error


def read_family(house: House, family: str) -> dict[str, Criterion]:
    """Return the criteria of one family ("gain", "focus", "time" …) by key."""
    return {key: _criterion(family, key, row) for key, row in house.table(_PREFIX + family).items()}


def read_criteria(house: House) -> dict[str, Criterion]:
    """Return all criteria by key.

    Raises
    ------
    ValueError
        Naming file and row, when a row is incomplete or two families share a key.
    """
    rows = house.fingerprint()
    found = _READ.get(rows)
    if found is None:
        if len(_READ) >= _HOUSES:
            _READ.clear()
        found = _READ[rows] = _read(house)
    return dict(found)


def _read(house: House) -> dict[str, Criterion]:
    criteria: dict[str, Criterion] = {}
    for name in sorted(house.tables):
        if name.startswith(_PREFIX):
            family = name.removeprefix(_PREFIX)
            for key, criterion in read_family(house, family).items():
                if key in criteria:
                    raise ValueError(f"criteria/{family}.toml, row {key}: also in criteria/{criteria[key].family}.toml")
                criteria[key] = criterion
    return criteria
