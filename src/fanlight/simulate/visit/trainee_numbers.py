"""The numbers that the trainee writes on the request sheet: read from the planes that this hand really scanned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fanlight.simulate.visit.truth import FileTruth
from fanlight.study import GivenMeasurement

# A calm reader's own error with the caliper on one frame, beside what the plane does: 4 % (M-mode) to 9 % (2-D) of the
# value were published for dogs of 18 to 25 kg; a twentieth stands for both.
CALIPER_FRACTION = 0.05
SEEN_BELOW_BREATH = 0.5  # of a full breath: beyond, lung covers what is to be measured (engineering judgement)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reading:
    """One number of the sheet: where it is read, and how it is called."""

    quantity: str  # key of quantities.toml
    view: str
    moment: str
    caliper: str
    unit: str
    method: str
    digits: int


_READINGS = (
    _Reading(quantity="lvidd", view="right_parasternal_short_axis_chordae", moment="end-diastole",
             caliper="lv_internal_diameter", unit="mm", method="2-D, short axis", digits=1),
    _Reading(quantity="lvids", view="right_parasternal_short_axis_chordae", moment="end-systole",
             caliper="lv_internal_diameter", unit="mm", method="2-D, short axis", digits=1),
    _Reading(quantity="la_ao", view="right_parasternal_short_axis_aorta", moment="after aortic closure",
             caliper="la_ao_by_commissure", unit="1", method="2-D, short axis", digits=2),
)  # fmt: skip


def read_as_trainee(files: Sequence[FileTruth], rng: np.random.Generator) -> tuple[GivenMeasurement, ...]:
    """Return what the trainee would read, in the order of the sheet; what no clip allows is left out.

    Parameters
    ----------
    files : sequence of FileTruth
        Of the whole study. The first clip of the view counts; a sweep does not.
    rng : Generator
        The trainee's own error with the caliper.
    """
    given: list[GivenMeasurement] = []
    for item in _READINGS:
        error = float(rng.normal(1.0, CALIPER_FRACTION))  # drawn for each, so that one gap moves no other number
        for file in files:
            if file.view != item.view or file.is_sweep or file.mode != "two_d":
                continue
            values = [
                m.value
                for moment in file.moments
                if moment.moment == item.moment and file.breath_fraction[moment.frame] < SEEN_BELOW_BREATH
                for m in moment.measurements
                if m.quantity == item.caliper
            ]
            if values:
                given.append(
                    GivenMeasurement(
                        quantity=item.quantity,
                        label="",
                        value=round(values[0] * error, item.digits),
                        unit=item.unit,
                        given_by="request sheet",
                        clip_name=file.file,
                        method=item.method,
                    )
                )
                break
    return tuple(given)
