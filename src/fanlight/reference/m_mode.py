"""Reader of the settings by which borders are found on an M-mode strip."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

from fanlight.study import House

Shares = tuple[float, float]
_PARTS = ("borders", "limits", "values")


@dataclass(frozen=True, slots=True, kw_only=True)
class MModeSettings:
    """How borders are found, and from which evidence on they are believed. Rows of m_mode.toml, explained there."""

    right_wall_share: Shares
    right_cavity_share: Shares
    septum_share: Shares
    left_cavity_share: Shares
    free_wall_share: Shares
    fluid_share: Shares
    least_layer_mm: float
    outside_cost: float
    fluid_cost: float
    chest_share: float
    pericardium_gain: float
    fastest_mm_per_ms: float
    step_ms: float
    thickening_ms: float
    least_contrast: float
    least_seen_share: float
    least_margin: float
    least_believed_share: float
    with_teichholz: bool


def read_m_mode_settings(house: House) -> MModeSettings:
    """Return the settings.

    Raises
    ------
    ValueError
        Naming the row that cannot be used, is not known or is missing, and the remedy.
    """
    table = house.table("m_mode")
    known = {field.name for field in fields(MModeSettings)}
    given: dict[str, Any] = {}
    for part in _PARTS:
        for key, value in table.get(part, {}).items():
            if key not in known:
                raise ValueError(f"m_mode.{part}.{key}: no such row; take it out, rows are {', '.join(sorted(known))}")
            given[key] = _checked(f"m_mode.{part}.{key}", value)
    if missing := sorted(known - set(given)):
        raise ValueError(f"m_mode lacks {', '.join(missing)}; write them as in the shipped table")
    return MModeSettings(**given)


def _checked(place: str, value: Any) -> Any:
    if place.endswith(".with_teichholz"):
        if not isinstance(value, bool):
            raise ValueError(f"{place} must be true or false, got {value}")
        return value
    if isinstance(value, list | tuple):
        if len(value) != 2 or not all(_is_number(share) for share in value) or not 0 <= value[0] < value[1] <= 1:
            raise ValueError(f"{place} must be a smaller and a larger share of the depth, 0 to 1, got {list(value)}")
        return tuple(value)
    if not _is_number(value) or not value > 0:
        raise ValueError(f"{place} must be above 0, got {value}")
    return value


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
