"""Cardiomyopathies of cats: the stage of the phenotype that the mentor named."""

from __future__ import annotations

from fanlight.reference.formulas.scores import feline_atrium_grade
from fanlight.reference.methods import match_method, read_methods
from fanlight.reference.units import say_value
from fanlight.study import HeartFailure
from fanlight.validity.meaning.atrium import NOT_BORNE_OUT, atrium_support
from fanlight.validity.meaning.grade import Answer, Sheet, join
from fanlight.validity.meaning.inputs import Input, Told, pick, pick_la_ao

_CLOT, _HIGH_RISK = "thromboembolism", "high_risk_cat"


def feline_stage(told: Told, sheet: Sheet) -> Answer:
    """Return the stage: by failure or clots where there are any, else by the left atrium and what was named."""
    for key in (_CLOT, _HIGH_RISK):
        if key in told.named.signs:
            sheet.used.append(f"seen: {told.tables.signs[key]}")
        elif key not in told.named.signs_absent:
            sheet.missing.append(f"whether there is: {told.tables.signs[key]}")
    _note_walls(told, sheet)
    ratio = sheet.take(pick_la_ao(told), "LA:Ao in the short axis")
    failure = told.named.failure
    if failure is HeartFailure.REFRACTORY:
        return "stage D: heart failure in spite of treatment is named", ""
    if failure in (HeartFailure.PAST, HeartFailure.PRESENT) or _CLOT in told.named.signs:
        return "stage C: heart failure or a clot, now or in the past, is named", ""
    if _HIGH_RISK in told.named.signs:
        return f"stage B2, subclinical: {told.tables.signs[_HIGH_RISK]}", ""
    if ratio is None:
        return "", "missing: LA:Ao in the short axis"
    _note_phase(told, ratio, sheet)
    size = feline_atrium_grade(ratio.value)
    support = atrium_support(told)
    doubt = f", but LA:Ao {NOT_BORNE_OUT}" if support is not None and not support.holds else ""
    if ratio.value >= sheet.limits["la_ao_moderate"]:
        return f"stage B2, subclinical: {size} enlargement of the left atrium{doubt}", ""
    return f"stage B1, subclinical: left atrium {size if size == 'not enlarged' else 'mildly enlarged'}{doubt}", ""


def _note_phase(told: Told, ratio: Input, sheet: Sheet) -> None:
    """Say where the ratio is of another moment than the grades: at end-diastole the atrium is at its smallest."""
    phase = match_method(told.house, ratio.method).phase
    if phase and "early_diastole" not in phase:
        titles = read_methods(told.house)
        sheet.notes.append(
            f"LA:Ao was taken at {join(titles[key].title for key in phase)}; its grades are those of "
            f"{titles['early_diastole'].title} (FELINECARD)."
        )


def _note_walls(told: Told, sheet: Sheet) -> None:
    """Say which walls are thick by the definition that studies use; the phenotype stays the mentor's."""
    limit = sheet.limits["wall"]
    thick: list[str] = []
    other: list[str] = []
    for quantity in ("ivsd", "lvwd"):
        wall = pick(told, quantity, "mm")
        if wall is not None:
            sheet.used.append(wall.words)
            sheet.sheet_only |= wall.sheet_only
            (thick if wall.value >= limit else other).append(told.symbols[quantity])
    if thick:
        sheet.notes.append(f"{join(thick)}: {say_value(limit, 'mm')} or more, thick by CATSCAN2015.")
    if other:
        sheet.notes.append(f"{join(other)}: below {say_value(limit, 'mm')}.")
