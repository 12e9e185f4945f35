"""What can be measured: names, units, and the words and codes of reports."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.reference.wording import compact
from fanlight.study import House


@dataclass(frozen=True, slots=True, kw_only=True)
class QuantityName:
    """One quantity that the reference tables know."""

    key: str
    title: str
    symbol: str
    unit: str
    technique: str  # "" when it can be taken in several ways
    words: tuple[str, ...]
    codes: tuple[tuple[str, str], ...]  # LOINC code, technique that the code states or ""


def read_quantities(house: House) -> dict[str, QuantityName]:
    """Return all quantities by key; ValueError names the row that is incomplete."""
    return dict(house.kept("quantities", _all_quantities))


def _all_quantities(house: House) -> dict[str, QuantityName]:
    quantities: dict[str, QuantityName] = {}
    for key, row in house.table("quantities").items():
        try:
            quantities[key] = QuantityName(
                key=key,
                title=row["title"],
                symbol=row["symbol"],
                unit=row["unit"],
                technique=row.get("technique", ""),
                words=tuple(row["words"]),
                codes=tuple(row.get("codes", {}).items()),
            )
        except KeyError as error:
            raise ValueError(f"quantities.toml, row {key}: {error} is missing") from error
    return quantities


def match_quantity(house: House, label: str) -> str:
    """Return the key of the quantity that a label names, or "" when it names none of the table.

    The label must agree as a whole, apart from case, spaces and punctuation: "LVIDd", "LA/Ao", "E:A".
    """
    wanted = compact(label)
    if not wanted:
        return ""
    return house.kept("quantity names", _keys_by_name).get(wanted, "")


def _keys_by_name(house: House) -> dict[str, str]:
    """Return the key of each quantity by each of its names, compacted; of two that share one the first counts."""
    found: dict[str, str] = {}
    for quantity in read_quantities(house).values():
        for name in (quantity.key.replace("_", " "), quantity.symbol, quantity.title, *quantity.words):
            found.setdefault(compact(name), quantity.key)
    return found


def match_quantity_code(house: House, code: str) -> tuple[str, str]:
    """Return quantity key and technique of a LOINC code; two empty strings when the table does not know it."""
    for quantity in read_quantities(house).values():
        for known, technique in quantity.codes:
            if known == code.strip():
                return quantity.key, technique or quantity.technique
    return "", ""
