"""Codes under which numbers stand in a DICOM structured report: rows of dicom_codes.toml."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from fanlight.study import House

_MOST_LETTERS = 64  # Code Meaning is a Long String (PS3.5 6.2)
_CODE_LETTERS = 16  # Code Value is a Short String (PS3.5 6.2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Coded:
    """A code of PS3.3 8.8: value, scheme and meaning."""

    value: str
    scheme: str
    meaning: str

    def __post_init__(self) -> None:
        for name, text, most in (("code", self.value, _CODE_LETTERS), ("meaning", self.meaning, _MOST_LETTERS)):
            if not 0 < len(text) <= most:
                raise ValueError(f"a {name} has 1 to {most} letters, got {len(text)} in {text!r}; shorten it")


@dataclass(frozen=True, slots=True, kw_only=True)
class QuantityCodes:
    """The codes of one quantity."""

    derived: bool  # follows from other numbers
    public: tuple[tuple[frozenset[str], Coded], ...]  # what must be known of how it was taken, and the code
    own: Coded | None

    def best(self, taken: Collection[str]) -> Coded | None:
        """Return the public code that says most of what is known and nothing more, else ours; None: there is none."""
        fitting = [(len(needs), code) for needs, code in self.public if needs <= set(taken)]
        return max(fitting, key=lambda item: item[0])[1] if fitting else self.own


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportCodes:
    """All codes that a structured report needs."""

    scheme: str  # ours
    scheme_name: str
    scheme_owner: str
    own: Mapping[str, Coded]  # our own concepts, by key
    modes: Mapping[str, Coded]
    methods: Mapping[str, Coded]
    derivations: Mapping[str, Coded]
    species: Mapping[str, Coded]
    units: Mapping[str, Coded]  # by what is written
    quantities: Mapping[str, QuantityCodes]

    def unit(self, written: str) -> Coded | None:
        """Return the UCUM code of a unit as it is written; None: the table does not know it. No unit is a ratio's."""
        return self.units.get(written.strip().lower().replace(" ", "") or "1")


def read_report_codes(house: House) -> ReportCodes:
    """Return the codes.

    Raises
    ------
    ValueError
        Naming the row that is incomplete, or whose code or meaning is too long.
    """
    table = house.table("dicom_codes")
    scheme = str(table["scheme"]["designator"])
    return ReportCodes(
        scheme=scheme,
        scheme_name=table["scheme"]["name"],
        scheme_owner=table["scheme"]["responsible"],
        own={key: _coded(f"own.{key}", {"value": key, "scheme": scheme, "meaning": words})
             for key, words in table["own"].items()},
        modes=_rows(table, "modes"),
        methods=_rows(table, "methods"),
        derivations=_rows(table, "derivations"),
        species=_rows(table, "species"),
        units={
            written: _coded(f"units.{row['ucum']}", {"value": row["ucum"], "scheme": "UCUM", "meaning": row["meaning"]})
            for row in table["units"]
            for written in row["written"]
        },
        quantities={key: _quantity(key, row, scheme) for key, row in table["quantities"].items()},
    )  # fmt: skip


def _rows(table: Mapping[str, Any], name: str) -> dict[str, Coded]:
    return {key: _coded(f"{name}.{key}", row) for key, row in table[name].items()}


def _coded(where: str, row: Mapping[str, Any]) -> Coded:
    try:
        return Coded(value=row["value"], scheme=row["scheme"], meaning=row["meaning"])
    except KeyError as error:
        raise ValueError(f"dicom_codes.toml, row {where}: {error} is missing") from error
    except ValueError as error:
        raise ValueError(f"dicom_codes.toml, row {where}: {error}") from error


def _quantity(key: str, row: Mapping[str, Any], scheme: str) -> QuantityCodes:
    where = f"quantities.{key}"
    public = tuple(
        (frozenset(str(code.get("technique", "")).split()), _coded(where, {**code, "scheme": "LN"}))
        for code in row.get("codes", ())
    )
    own = _coded(where, {**row["own"], "scheme": scheme}) if "own" in row else None
    if own is None and not any(not needs for needs, _ in public):
        raise ValueError(f"dicom_codes.toml, row {where}: no code fits when nothing is said of how it was taken")
    return QuantityCodes(derived=bool(row.get("derived", False)), public=public, own=own)
