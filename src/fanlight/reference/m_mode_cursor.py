"""Reader of the limits by which the cursor of an M-mode is judged on its guide picture."""

from __future__ import annotations

from dataclasses import dataclass, fields

from fanlight.study import Basis, House

_KEYS = {"limit", "basis", "reason"}
_BELOW = {"septum_deg": 90.0, "ring_deg": 90.0, "beside_share": 1.0, "peaks_percent": 100.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class CursorLimits:
    """From when on a cursor counts as misplaced. Rows of m_mode_cursor.toml, explained there."""

    septum_deg: float  # from square to the septum
    ring_deg: float  # from the way of the tricuspid ring
    beside_share: float  # of the diameter, lost beside the middle
    peaks_percent: float  # of the beat, between the peaks of septum and free wall


def read_cursor_limits(house: House) -> CursorLimits:
    """Return the limits.

    Raises
    ------
    ValueError
        Naming the row that cannot be used, and the remedy.
    """
    table = house.table("m_mode_cursor")
    limits = {}
    for name in (field.name for field in fields(CursorLimits)):
        row = table[name]
        if set(row) != _KEYS:
            raise ValueError(f"m_mode_cursor.{name} needs {', '.join(sorted(_KEYS))}; it has {', '.join(sorted(row))}")
        limit = row["limit"]
        if isinstance(limit, bool) or not isinstance(limit, int | float) or not 0 < limit < _BELOW[name]:
            raise ValueError(f"m_mode_cursor.{name}.limit must lie above 0 and below {_BELOW[name]:g}, got {limit}")
        if row["basis"] not in set(Basis):
            raise ValueError(f"m_mode_cursor.{name}.basis must be one of {', '.join(Basis)}, got {row['basis']!r}")
        limits[name] = float(limit)
    return CursorLimits(**limits)
