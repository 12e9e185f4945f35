"""Which part of the heart an M-mode of a view runs through: what is looked for on its strip."""

from __future__ import annotations

from enum import StrEnum

from fanlight.measure.ring_strip.tricuspid import TAPSE
from fanlight.measure.valve_strip.mitral import EPSS
from fanlight.reference.views import View


class StripPart(StrEnum):
    """A part of the heart that is measured from the pixels of a strip."""

    LEFT_VENTRICLE = "the left ventricle"
    MITRAL_LEAFLETS = "the mitral leaflets"
    TRICUSPID_RING = "the tricuspid ring"
    AORTA_AND_ATRIUM = "aorta with left atrium"


# By what a view measures (views.toml); the first that it names.
_BY_QUANTITY = (
    ("lvidd", StripPart.LEFT_VENTRICLE),
    (EPSS, StripPart.MITRAL_LEAFLETS),
    (TAPSE, StripPart.TRICUSPID_RING),
    ("la_ao", StripPart.AORTA_AND_ATRIUM),
)


def part_of(view: View) -> StripPart | None:
    """Return what a strip in this view runs through; None where nothing of it is measured from pixels."""
    return next((part for key, part in _BY_QUANTITY if key in view.measurements), None)


def parts_in_words() -> str:
    """Return all parts that are measured, as a list in words."""
    *first, last = [part.value for part in StripPart]
    return f"{', '.join(first)} and {last}"
