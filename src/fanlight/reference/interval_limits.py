"""What a row of the interval table works out to for one animal, and where a value stands to it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fanlight.reference.interval_rows import IntervalRow

_WHOLE_WIDTH = 3.92  # 95 % of a normal distribution lie within 1.96 SD on either side
_HALF_WIDTH = 1.96


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Limits in the unit of the row. None: no limit on that side."""

    lower: float | None = None
    upper: float | None = None
    centre: float | None = None
    lower_is_inside: bool = True  # whether a value on the limit itself is still inside
    upper_is_inside: bool = True


def needs_weight(row: IntervalRow, quantity: str) -> bool:
    """Whether the limits, or the animals that they hold for, depend on body weight."""
    by_formula = row.form in ("power", "percentile_curve", "line_limit")
    by_index = row.form == "index_limit" and quantity == row.detail("size_quantity")
    return by_formula or by_index or row.weight_kg is not None


def work_out_limits(row: IntervalRow, quantity: str, weight_kg: float | None) -> Limits:
    """Return the limits of a row for an animal of this weight.

    Parameters
    ----------
    row : IntervalRow
        Row of the table.
    quantity : str
        Quantity that is weighed: an index limit speaks of the index and of the size behind it.
    weight_kg : float or None
        Body weight.

    Raises
    ------
    ValueError
        If the row needs the weight and there is none.
    """
    number = dict(row.numbers)
    if weight_kg is None and needs_weight(row, quantity):
        raise ValueError(f"row {row.key} needs the body weight; state it in kilograms")
    if row.form == "power":
        scale = float(weight_kg or 0.0) ** number["b"]
        return Limits(lower=number["a_lower"] * scale, upper=number["a_upper"] * scale, centre=number["a"] * scale)
    if row.form == "percentile_curve":
        return Limits(centre=number["a"] * float(weight_kg or 0.0) ** number["b"])
    if row.form == "range":
        return Limits(lower=number["lower"], upper=number["upper"], centre=number.get("centre"))
    if row.form == "band":
        return Limits(
            lower=number["lower"],
            upper=number.get("upper"),
            lower_is_inside=row.flag("lower_in", True),
            upper_is_inside=row.flag("upper_in", True),
        )
    if row.form in ("limit", "index_limit", "line_limit"):
        threshold = number.get("threshold", 0.0)
        if row.form == "index_limit" and quantity == row.detail("size_quantity"):
            threshold *= float(weight_kg or 0.0) ** number["exponent"]
        if row.form == "line_limit":
            threshold = number["slope_per_kg"] * float(weight_kg or 0.0) + number["intercept"]
        sign = row.detail("abnormal_if")
        if sign.startswith(">"):
            return Limits(upper=threshold, upper_is_inside=sign == ">")
        return Limits(lower=threshold, lower_is_inside=sign == "<")
    return Limits()


def place(value: float, limits: Limits) -> str:
    """Return "inside", "below" or "above"."""
    if limits.lower is not None:
        on_limit = math.isclose(value, limits.lower, rel_tol=1e-9)
        if (on_limit and not limits.lower_is_inside) or (not on_limit and value < limits.lower):
            return "below"
    if limits.upper is not None:
        on_limit = math.isclose(value, limits.upper, rel_tol=1e-9)
        if (on_limit and not limits.upper_is_inside) or (not on_limit and value > limits.upper):
            return "above"
    return "inside"


def z_score(value: float, limits: Limits, *, skewed: bool = False) -> float:
    """Return how many standard deviations a value lies from the centre, on the scale of logarithms.

    Sizes of hearts scatter by shares, not by millimetres, and prediction intervals of power laws are made on the
    scale of logarithms. Where the limits lie unevenly about the centre (`skewed`), the distance from the centre to
    the limit on the side of the value counts as 1.96 standard deviations.

    Parameters
    ----------
    value : float
        Above 0, in the unit of the limits.
    limits : Limits
        Both limits (2.5th and 97.5th percentile) and the centre.
    skewed : bool
        Whether the two sides are taken apart.

    Raises
    ------
    ValueError
        If the value is not above 0 or the limits are not complete and rising.
    """
    lower, centre, upper = limits.lower, limits.centre, limits.upper
    if lower is None or upper is None or centre is None or not 0 < lower < centre < upper:
        raise ValueError("z needs a lower limit, a centre and an upper limit that rise from above 0")
    if not value > 0:
        raise ValueError(f"z needs a value above 0, got {value}")
    if skewed:
        sd = math.log(upper / centre) if value >= centre else math.log(centre / lower)
        return math.log(value / centre) * _HALF_WIDTH / sd
    return math.log(value / centre) * _WHOLE_WIDTH / math.log(upper / lower)
