"""Units as machines, sheets and codes write them, and the way from one to another."""

from __future__ import annotations

from types import MappingProxyType

# Unit: (what it measures, how many of the first unit of that kind one of it is).
_UNITS: MappingProxyType[str, tuple[str, float]] = MappingProxyType(
    {
        "mm": ("length", 1.0),
        "cm": ("length", 10.0),
        "m": ("length", 1000.0),
        "m/s": ("velocity", 1.0),
        "cm/s": ("velocity", 0.01),
        "mm/s": ("velocity", 0.001),
        "ms": ("time", 1.0),
        "s": ("time", 1000.0),
        "1": ("share", 1.0),
        "%": ("share", 0.01),
        "mmhg": ("pressure", 1.0),
        "ml": ("volume", 1.0),
        "l": ("volume", 1000.0),
        "ml/m2": ("volume by surface", 1.0),
        "ml/kg": ("volume by weight", 1.0),
        "cm/s/ms": ("velocity by time", 1.0),
        "cm/kg^0.294": ("cm/kg^0.294", 1.0),
        "cm/kg^0.315": ("cm/kg^0.315", 1.0),
        "cm/kg^0.332": ("cm/kg^0.332", 1.0),
    }
)
# Other ways of writing, the codes of UCUM among them (mm[Hg], {ratio}, cm3).
_WRITTEN: MappingProxyType[str, str] = MappingProxyType(
    {
        "msec": "ms",
        "sec": "s",
        "mm[hg]": "mmhg",
        "ratio": "1",
        "{ratio}": "1",
        "percent": "%",
        "cm3": "ml",
        "cc": "ml",
        "cm^3": "ml",
        "ml/m^2": "ml/m2",
        "ml/m²": "ml/m2",
        "cm³": "ml",
        "cm/sec": "cm/s",
        "m/sec": "m/s",
        "cms": "cm",
        "centimeter": "cm",
        "millimeter": "mm",
    }
)


class UnitError(ValueError):
    """A unit is not known, or it measures something else."""

    def __init__(self, unit: str, wanted: str) -> None:
        self.unit = unit
        self.wanted = wanted
        found = f"the unit {unit!r}" if unit else "no unit"
        super().__init__(f"expected a value in {wanted} or a unit like it, found {found}; state the unit")


def _known(unit: str) -> str:
    written = unit.strip().lower().replace(" ", "")
    return _WRITTEN.get(written, written)


def convert_unit(value: float, unit: str, wanted: str) -> float:
    """Return the value in another unit of the same kind.

    A ratio or an index by body weight may come without a unit, because the trade writes it so.

    Parameters
    ----------
    value : float
        Number in `unit`.
    unit, wanted : str
        Units as written, e.g. "cm", "m/s", "mm[Hg]".

    Raises
    ------
    UnitError
        If one of the units is not known or the two do not measure the same.

    Examples
    --------
    >>> convert_unit(3.6, "cm", "mm")
    36.0
    """
    old, new = _known(unit), _known(wanted)
    if old in ("", "1") and (new == "1" or new.startswith("cm/kg^")):
        return value
    if old not in _UNITS or new not in _UNITS or _UNITS[old][0] != _UNITS[new][0]:
        raise UnitError(unit, wanted)
    if old == new:
        return value
    return value * _UNITS[old][1] / _UNITS[new][1]


def say_value(value: float, unit: str) -> str:
    """Return a number with its unit as the trade writes it: 3.60 cm, 36.0 mm, 1.53, 44 %.

    Examples
    --------
    >>> say_value(3.6, "cm"), say_value(1.534, "1")
    ('3.60 cm', '1.53')
    """
    known = _known(unit)
    decimals = {"mm": 1, "ms": 0, "mmhg": 0, "cm/s": 0, "%": 1, "ml": 1, "ml/m2": 1}.get(known, 2)
    text = f"{value:.{decimals}f}"
    if known == "%" and text.endswith(".0"):
        text = text[:-2]
    shown = {"mmhg": "mmHg", "ml": "mL", "ml/m2": "mL/m²", "ml/kg": "mL/kg", "1": "", "": ""}.get(known, known)
    return f"{text} {shown}".rstrip()
