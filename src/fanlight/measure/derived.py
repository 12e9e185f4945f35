"""Numbers that follow from given ones by a published formula: indices by weight, and shortening."""

from __future__ import annotations

from collections.abc import Iterable

from fanlight.reference.formulas.heart_size import (
    LVIDD_EXPONENT,
    LVIDS_EXPONENT,
    fractional_shortening_percent,
    index_by_weight,
)
from fanlight.reference.units import convert_unit
from fanlight.study import GivenMeasurement, Patient


def _one_of_each(given: Iterable[GivenMeasurement]) -> dict[str, GivenMeasurement]:
    """Return the quantities that were given once; of several values nobody said which is meant."""
    found: dict[str, list[GivenMeasurement]] = {}
    for item in given:
        found.setdefault(item.quantity, []).append(item)
    return {key: items[0] for key, items in found.items() if key and len(items) == 1}


def _value_in(given: GivenMeasurement, unit: str) -> float | None:
    try:
        return convert_unit(given.value, given.unit, unit)
    except ValueError:
        return None


def derive(given: Iterable[GivenMeasurement], patient: Patient) -> tuple[GivenMeasurement, ...]:
    """Return what follows from the given numbers of one giver, leaving out what was given itself.

    LVIDd / BW^0.294 and LVIDs / BW^0.315 of a dog (CORNELL2004), and fractional shortening when both diameters were
    taken in the same way. Nothing is derived from a quantity that was given more than once.

    Parameters
    ----------
    given : iterable of GivenMeasurement
        All from one giver.
    patient : Patient
        Species and weight; without them no index is derived.
    """
    sizes = _one_of_each(given)
    lvidd, lvids = sizes.get("lvidd"), sizes.get("lvids")
    derived: list[GivenMeasurement] = []

    def add(quantity: str, label: str, value: float, unit: str, sources: tuple[GivenMeasurement, ...]) -> None:
        if quantity not in sizes:
            derived.append(
                GivenMeasurement(
                    quantity=quantity,
                    label=label,
                    value=value,
                    unit=unit,
                    given_by=f"computed from the {sources[0].given_by}",
                    method=sources[0].method,
                    clip_name=sources[0].clip_name,
                )
            )

    if patient.species == "dog" and patient.weight_kg is not None:
        for quantity, label, source, exponent in (
            ("lviddn", "LVIDd / BW^0.294", lvidd, LVIDD_EXPONENT),
            ("lvidsn", "LVIDs / BW^0.315", lvids, LVIDS_EXPONENT),
        ):
            size_cm = _value_in(source, "cm") if source is not None else None
            if source is not None and size_cm is not None and size_cm > 0:
                index = index_by_weight(size_cm, patient.weight_kg, exponent)
                add(quantity, label, index, f"cm/kg^{exponent}", (source,))
    if lvidd is not None and lvids is not None and lvidd.method == lvids.method:
        diastole, systole = _value_in(lvidd, "mm"), _value_in(lvids, "mm")
        if diastole is not None and systole is not None and 0 < systole < diastole:
            add("fractional_shortening", "FS", fractional_shortening_percent(diastole, systole), "%", (lvidd, lvids))
    return tuple(derived)
