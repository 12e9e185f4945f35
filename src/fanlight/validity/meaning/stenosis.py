"""Stenosis of the great arteries of dogs: the grade of the peak gradient, by the scale that is named with it."""

from __future__ import annotations

from fanlight.reference.formulas.flow import pressure_gradient_mmhg
from fanlight.reference.formulas.scores import boxer_aortic_grade
from fanlight.reference.interval_rows import read_intervals
from fanlight.reference.intervals import weigh
from fanlight.reference.units import say_value
from fanlight.study import ReferenceKind
from fanlight.validity.meaning.grade import Answer, Sheet
from fanlight.validity.meaning.inputs import Input, Told, pick


def _gradient(told: Told, sheet: Sheet, vessel: str) -> Input | None:
    """Return the higher peak gradient: of the fastest jet by 4 v², or as it was given; the highest whole jet counts."""
    jet = pick(told, f"{vessel}_vmax", "m/s", highest=True)
    given = pick(told, f"{vessel}_peak_gradient", "mmHg", highest=True)
    if given is not None and (jet is None or given.value >= pressure_gradient_mmhg(jet.value)):
        return sheet.take(given, "")
    if given is not None and jet is not None:
        sheet.notes.append(f"{given.words} lies below 4 v² of {jet.words}: the higher one counts.")
    if jet is None:
        return sheet.take(None, f"{told.symbols[f'{vessel}_vmax']} by continuous wave, or the peak gradient")
    gradient = pressure_gradient_mmhg(jet.value)
    words = f"peak gradient {say_value(gradient, 'mmHg')}, 4 v² of {jet.words}"
    return sheet.take(
        Input(
            quantity=f"{vessel}_peak_gradient", value=gradient, unit="mmHg", words=words, sheet_only=jet.sheet_only,
            is_least=jet.is_least,
        ),
        "",
    )  # fmt: skip


def _by_bands(told: Told, sheet: Sheet, vessel: str) -> Answer:
    gradient = _gradient(told, sheet, vessel)
    if gradient is None:
        return "", f"missing: {sheet.missing[0]}"
    said = weigh(told.house, gradient.quantity, gradient.value, "mmHg", "", told.patient, told.request)
    bands = [item for item in said if item.applies and item.kind is ReferenceKind.SEVERITY_BAND]
    if not bands:
        silent = next((item.reason for item in said if item.kind is ReferenceKind.SEVERITY_BAND), "")
        return "", silent or "no band of the tables holds this gradient"
    row = read_intervals(told.house)[bands[0].row]
    return f"{'at least ' if gradient.is_least else ''}{row.detail('grade')} ({row.detail('scale')})", ""


def subaortic_stenosis(told: Told, sheet: Sheet) -> Answer:
    """Return the grade by the bands of EASON2021."""
    return _by_bands(told, sheet, "aortic")


def pulmonic_stenosis(told: Told, sheet: Sheet) -> Answer:
    """Return the grade by the bands of BELANGER2018."""
    return _by_bands(told, sheet, "pulmonary")


def aortic_stenosis_boxer(told: Told, sheet: Sheet) -> Answer:
    """Return the grade by the scale of one study of Boxers."""
    gradient = _gradient(told, sheet, "aortic")
    if gradient is None:
        return "", f"missing: {sheet.missing[0]}"
    grade = boxer_aortic_grade(gradient.value)
    said = "below the scale, which starts at 16 mmHg" if grade == "none" else grade
    return f"{'at least ' if gradient.is_least else ''}{said} (BOXERAS2006, three bands)", ""
