"""Size of the heart against the size of the animal, and ratios of its parts."""

from __future__ import annotations

import math
from enum import Enum

from fanlight.reference.formulas.domain import SizeError, positive

LVIDD_EXPONENT = 0.294  # CORNELL2004
LVIDS_EXPONENT = 0.315  # CORNELL2004


class SurfaceConstant(float, Enum):
    """k of BSA = k·BW^(2/3); remembered, the form was seen. Two constants are in print for cats: name the one used."""

    DOG = 0.101
    CAT = 0.100
    CAT_FELINECARD = 0.087  # FELINECARD page 13: surface 13 % smaller than with 0.100


def index_by_weight(size_cm: float, weight_kg: float, exponent: float) -> float:
    """Return a heart dimension divided by body weight to a power, so that animals of any size compare.

    Parameters
    ----------
    size_cm : float
        Dimension in centimetres. A value in millimetres makes the index ten times too large.
    weight_kg : float
        Body weight.
    exponent : float
        Of the publication whose limit is used: 0.294 and 0.332 are not interchangeable.

    Returns
    -------
    float
        cm/kg^exponent.

    Raises
    ------
    SizeError
        If size or weight is not above 0.

    References
    ----------
    .. [Cornell2004] CORNELL2004 in the bibliography.
    .. [Isayama2022] ISAYAMA2022, exponent 0.332 for dogs below 5 kg.

    Examples
    --------
    >>> round(index_by_weight(3.6, 8.0, LVIDD_EXPONENT), 3)
    1.953
    """
    return positive("dimension", size_cm) / math.pow(positive("body weight", weight_kg), exponent)


def allometric_size_cm(constant: float, weight_kg: float, exponent: float) -> float:
    """Return the dimension that a power law of body weight expects, in centimetres; SizeError outside above 0."""
    return positive("constant", constant) * math.pow(positive("body weight", weight_kg), exponent)


def body_surface_m2(weight_kg: float, constant: SurfaceConstant) -> float:
    """Return body surface from body weight, k·BW^(2/3).

    Parameters
    ----------
    weight_kg : float
        Body weight.
    constant : SurfaceConstant
        k in m²/kg^(2/3).

    Raises
    ------
    SizeError
        If the weight is not above 0.

    Notes
    -----
    The exponent is two thirds, not 0.67: in grams the difference is 3 % at 20 kg.

    Examples
    --------
    >>> round(body_surface_m2(20.0, SurfaceConstant.DOG), 4)
    0.7442
    """
    return constant.value * math.pow(positive("body weight", weight_kg), 2 / 3)


def fractional_shortening_percent(lvidd: float, lvids: float) -> float:
    """Return by how much of its diastolic diameter the left ventricle shortens, in percent.

    Parameters
    ----------
    lvidd, lvids : float
        Internal diameters in end-diastole and end-systole, in one unit.

    Raises
    ------
    SizeError
        If one is not above 0 or the systolic one is the larger.

    Examples
    --------
    >>> round(fractional_shortening_percent(3.6, 2.0), 1)
    44.4
    """
    positive("diameter in end-diastole", lvidd)
    positive("diameter in end-systole", lvids)
    if lvids > lvidd:
        raise SizeError(
            "diameter in end-systole", f"at most the one in end-diastole ({lvidd})", lvids, "check the two frames"
        )
    return 100 * (lvidd - lvids) / lvidd


def size_ratio(part: float, whole: float) -> float:
    """Return the ratio of two sizes taken in one unit, e.g. LA:Ao, MPA:Ao, AT:ET; SizeError outside above 0."""
    return positive("first size", part) / positive("second size", whole)


def sphericity_index(lv_length: float, lvidd: float) -> float:
    """Return left ventricular length in diastole over its diameter: small means round.

    Examples
    --------
    >>> sphericity_index(62.0, 40.0)
    1.55

    References
    ----------
    .. [Holler2014] HOLLER2014.
    """
    return size_ratio(lv_length, lvidd)


def distensibility_percent(largest: float, smallest: float) -> float:
    """Return by how much the right pulmonary artery narrows from its largest diameter, in percent.

    References
    ----------
    .. [Visser2016] VISSER2016.
    """
    positive("largest diameter", largest)
    positive("smallest diameter", smallest)
    if smallest > largest:
        raise SizeError("smallest diameter", f"at most the largest one ({largest})", smallest, "exchange the two")
    return 100 * (largest - smallest) / largest
