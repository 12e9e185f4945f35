"""Which chambers a view must show whole, and which of them no lung may cover."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fanlight.study import Basis, House, Structure

_KEYS = {"whole", "clear", "basis"}


@dataclass(frozen=True, slots=True, kw_only=True)
class ViewChambers:
    """What the House asks of the chambers of one view. Both may be empty."""

    view: str
    whole: tuple[Structure, ...]  # that no edge of the picture may cut
    clear: tuple[Structure, ...]  # that neither lung nor bone may cover
    basis: Basis


def read_chambers(house: House) -> dict[str, ViewChambers]:
    """Return what is asked of each view, by its key.

    Raises
    ------
    ValueError
        Naming the row, when a view has none, or a row holds an unknown view, key or structure.
    """
    rows, known = house.table("chambers")["views"], house.table("views")["views"]
    if missing := sorted(set(known) - set(rows)):
        raise ValueError(f"chambers.views lacks {', '.join(missing)}; a view that asks for nothing has empty lists")
    if unknown := sorted(set(rows) - set(known)):
        raise ValueError(f"chambers.views.{unknown[0]}: no such view")
    return {key: _row(key, row) for key, row in rows.items()}


def _row(key: str, row: Mapping[str, Any]) -> ViewChambers:
    where = f"chambers.views.{key}"
    if set(row) != _KEYS:
        raise ValueError(f"{where} needs {', '.join(sorted(_KEYS))}; it has {', '.join(sorted(row))}")
    try:
        basis = Basis(row["basis"])
    except ValueError as error:
        raise ValueError(f"{where}: {error}") from error
    return ViewChambers(view=key, whole=_named(row["whole"], where), clear=_named(row["clear"], where), basis=basis)


def _named(names: list[str], where: str) -> tuple[Structure, ...]:
    try:
        return tuple(Structure[str(name).upper()] for name in names)
    except KeyError as error:
        known = ", ".join(item.name.lower() for item in Structure)
        raise ValueError(f"{where}: no structure {error}; there are {known}") from error
