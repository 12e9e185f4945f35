"""Volumes and mass of the left ventricle from its dimensions."""

from __future__ import annotations

import math
from collections.abc import Sequence

from fanlight.reference.formulas.domain import SizeError, positive


def teichholz_volume_ml(diameter_cm: float) -> float:
    """Return left ventricular volume from one diameter, 7·D³/(2.4 + D).

    Parameters
    ----------
    diameter_cm : float
        Internal diameter.

    Raises
    ------
    SizeError
        If the diameter is not above 0.

    Notes
    -----
    It overestimates the volume of a rounded ventricle, and the index of end-systolic volume unevenly (SERRES2008):
    the method of discs is preferred. The formula is remembered (TEICHHOLZ1976).

    Examples
    --------
    >>> round(teichholz_volume_ml(3.6), 2)
    54.43
    """
    diameter = positive("diameter", diameter_cm)
    return 7 * diameter**3 / (2.4 + diameter)


def area_length_volume_ml(area_cm2: float, length_cm: float) -> float:
    """Return the volume of a chamber from one area and its length, 8·A²/(3·π·L).

    Examples
    --------
    >>> round(area_length_volume_ml(12.0, 5.2), 2)
    23.51
    """
    return biplane_area_length_volume_ml(area_cm2, area_cm2, length_cm)


def biplane_area_length_volume_ml(first_area_cm2: float, second_area_cm2: float, length_cm: float) -> float:
    """Return the volume from two areas at right angles and a length, 8·A₁·A₂/(3·π·L); the shorter length is used.

    Raises
    ------
    SizeError
        If an area or the length is not above 0.
    """
    first, second = positive("first area", first_area_cm2), positive("second area", second_area_cm2)
    return 8 * first * second / (3 * math.pi * positive("length", length_cm))


def discs_volume_ml(diameters_cm: Sequence[float], length_cm: float) -> float:
    """Return the volume of a stack of round discs along the long axis (Simpson, one plane).

    Parameters
    ----------
    diameters_cm : sequence of float
        Diameters in the middle of each disc, from base to apex, evenly spaced.
    length_cm : float
        Length of the long axis.

    Raises
    ------
    SizeError
        If there is no disc, or a diameter or the length is not above 0.

    Examples
    --------
    >>> round(discs_volume_ml([3.0, 3.0, 2.9, 2.8, 2.6, 2.4, 2.1, 1.7, 1.3, 0.7], 5.2), 3)
    22.973
    """
    if len(diameters_cm) == 0:
        raise SizeError("number of discs", "1 or more", 0, "trace the chamber")
    squares = sum(positive("diameter of a disc", diameter) ** 2 for diameter in diameters_cm)
    return math.pi / 4 * positive("length", length_cm) / len(diameters_cm) * squares


def ejected_percent(end_diastolic: float, end_systolic: float) -> float:
    """Return the ejection fraction in percent from two volumes of one method and unit.

    Raises
    ------
    SizeError
        If a volume is not above 0 or the systolic one is the larger.
    """
    positive("end-diastolic volume", end_diastolic)
    positive("end-systolic volume", end_systolic)
    if end_systolic > end_diastolic:
        raise SizeError(
            "end-systolic volume", f"at most the end-diastolic one ({end_diastolic})", end_systolic, "check the frames"
        )
    return 100 * (end_diastolic - end_systolic) / end_diastolic


def muscle_mass_g(septum_cm: float, diameter_cm: float, free_wall_cm: float) -> float:
    """Return left ventricular mass from M-mode in end-diastole, 0.8·1.04·[(S + D + W)³ − D³] + 0.6.

    Notes
    -----
    Made for people (DEVEREUX1986); in dogs and cats for comparison only.

    Raises
    ------
    SizeError
        If a thickness or the diameter is not above 0.
    """
    inner = positive("diameter", diameter_cm)
    outer = positive("septum", septum_cm) + inner + positive("free wall", free_wall_cm)
    return 0.8 * 1.04 * (outer**3 - inner**3) + 0.6


def relative_wall_thickness_ratio(septum: float, diameter: float, free_wall: float) -> float:
    """Return both walls over the diameter in end-diastole, in one unit; SizeError outside above 0."""
    return (positive("septum", septum) + positive("free wall", free_wall)) / positive("diameter", diameter)
