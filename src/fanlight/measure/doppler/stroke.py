"""Stroke volume: the velocity-time integral of a tract by pulsed wave times the cross-section at its annulus. Pure."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from fanlight.reference.formulas.flow import cross_section_cm2, stroke_volume_ml
from fanlight.reference.quantities import match_quantity
from fanlight.reference.units import convert_unit
from fanlight.study import ENGINE, House, Measurement

METHOD = "velocity-time integral times area of the annulus/1"
# One standard deviation of a diameter taken once, as a share: long-axis diameters of the left atrium repeat within 3.9
# to 4.9 % (HSUE2020, 9 dogs); that an annulus is no better is engineering judgement.
DIAMETER_SHARE = 0.05
_LENGTH = ": length"  # what a marked line is called after its name, see `measure.marked`


@dataclass(frozen=True, slots=True, kw_only=True)
class Tract:
    """What the volume through one outflow is called and made of."""

    integral: str
    diameter: str
    name: str
    label: str
    annulus: str  # in words


TRACTS = (
    Tract(
        integral="aortic_vti", diameter="aortic_annulus", name="stroke_volume", label="Stroke volume, left outflow",
        annulus="aortic annulus",
    ),
    Tract(
        integral="pulmonary_vti", diameter="pulmonary_annulus", name="pulmonary_stroke_volume",
        label="Stroke volume, right outflow", annulus="pulmonic annulus",
    ),
)  # fmt: skip


def stroke_volumes(
    integrals: Iterable[Measurement], diameters: Iterable[Measurement], house: House
) -> tuple[Measurement, ...]:
    """Return the stroke volume for each integral of an outflow, or what is missing for it.

    Parameters
    ----------
    integrals : iterable of Measurement
        Of pulsed-wave clips alone: continuous wave hears the fastest place of its whole line, which is none in
        particular. Others than integrals, and those without a value, are passed over.
    diameters : iterable of Measurement
        What was given, marked and measured on pictures of the study. A number of the annulus counts before a mark that
        only bears its name, and a person's before the engine's.
    house : House
        Its words for the annulus.
    """
    sizes = list(diameters)
    found = []
    for item in integrals:
        tract = next((tract for tract in TRACTS if tract.integral == item.name), None)
        if tract is not None and item.value is not None:
            found.append(_volume(item, item.value, tract, _of_annulus(sizes, tract.diameter, house)))
    return tuple(found)


def _of_annulus(sizes: list[Measurement], key: str, house: House) -> list[Measurement]:
    named = [size for size in sizes if size.name == key]
    if not named:
        marked = [size for size in sizes if not size.name and size.label.endswith(_LENGTH)]
        return [size for size in marked if match_quantity(house, size.label.removesuffix(_LENGTH)) == key]
    known = [size for size in named if size.value is not None]
    return [size for size in known if size.given_by != ENGINE] or known or named


def _volume(integral: Measurement, integral_cm: float, tract: Tract, sizes: list[Measurement]) -> Measurement:
    base = replace(integral, name=tract.name, label=tract.label, unit="mL", method=METHOD, readings=())
    known = [(size, size.value) for size in sizes if size.value is not None]
    if len(known) != 1:
        return _without(base, _missing(tract, sizes, len(known)))
    ((size, value),) = known
    try:
        diameter_cm, hand_cm = (convert_unit(each, size.unit, "cm") for each in (value, size.uncertainty or 0.0))
        volume, area_cm2 = stroke_volume_ml(diameter_cm, integral_cm), cross_section_cm2(diameter_cm)
    except ValueError as error:
        return _without(base, f"{tract.annulus}: {error}")
    # u²(V)/V² = u²(VTI)/VTI² + 4·u²(D)/D² for errors that are independent (JCGM 100:2008, 5.1.2).
    of_diameter = 2 * math.hypot(DIAMETER_SHARE, hand_cm / diameter_cm)
    share = math.hypot(of_diameter, (integral.uncertainty or 0.0) / integral_cm)
    area = f"{area_cm2:.2f} cm² of the {tract.annulus} ({10 * diameter_cm:.1f} mm, {size.given_by})"
    return replace(
        base, value=volume, uncertainty=share * volume, sheet_only=integral.sheet_only or size.sheet_only,
        reason=f"{integral_cm:.1f} cm times {area}, taken for round; {integral.reason}",
    )  # fmt: skip


def _without(base: Measurement, why: str) -> Measurement:
    return replace(base, value=None, uncertainty=None, validity="", reason=f"not measured: {why}")


def _missing(tract: Tract, sizes: list[Measurement], n_known: int) -> str:
    what = f"the diameter of the {tract.annulus}"
    if n_known > 1:
        return f"{what} is given {n_known} times; keep one of them"
    if sizes:
        return f"{tract.annulus}: {sizes[0].reason}"
    return f"{what} is not given; draw a line across it on a picture of this study and name it “{tract.annulus}”"
