"""Mitral valve disease of dogs: the size criteria of B1 and B2, and the mitral insufficiency score."""

from __future__ import annotations

from fanlight.reference.formulas.domain import UndefinedError
from fanlight.reference.formulas.scores import mitral_insufficiency_score
from fanlight.reference.intervals import weigh
from fanlight.reference.repeatability import NOT_APART
from fanlight.study import HeartFailure, IntervalReading, ReferenceKind
from fanlight.validity.meaning.atrium import NOT_BORNE_OUT, atrium_support
from fanlight.validity.meaning.grade import Answer, Sheet, join
from fanlight.validity.meaning.inputs import Input, Told, pick, pick_la_ao, pick_lviddn

_CRITERIA = 4  # murmur, vertebral heart score, LA:Ao, LVIDDN
_OF_FAILURE = {
    HeartFailure.PAST: "stage C: heart failure in the past is named, and no number changes that",
    HeartFailure.PRESENT: "stage C: heart failure is named, and no number changes that",
    HeartFailure.REFRACTORY: "stage D: heart failure in spite of treatment is named, and no number changes that",
}


def mitral_stage(told: Told, sheet: Sheet) -> Answer:
    """Return the stage: by failure where there is any, else by whether all four criteria of B2 are met."""
    sizes = (
        ("LA:Ao", sheet.take(pick_la_ao(told), "LA:Ao in the short axis")),
        ("LVIDDN", sheet.take(pick_lviddn(told), "LVIDDN (LVIDd and the weight)")),
    )
    met: list[str] = []
    missed: list[str] = []
    near: list[str] = []
    for name, value, limit in (
        ("murmur", told.request.murmur_grade, sheet.limits["murmur_grade"]),
        ("vertebral heart score", told.request.vertebral_heart_score, sheet.limits["vertebral_heart_score"]),
    ):
        if value is None:
            sheet.missing.append(name)
            continue
        sheet.used.append(f"{name} {value:g}{' of 6' if name == 'murmur' else ''} (request sheet)")
        # A murmur of this grade counts; a vertebral heart score must exceed its limit.
        (met if value >= limit and (name == "murmur" or value > limit) else missed).append(name)
    for name, size in sizes:
        reading = _limit_of(told, size) if size is not None else None
        if size is None or reading is None or reading.upper is None:
            continue
        (met if size.value >= reading.upper else missed).append(name)
        if NOT_APART in reading.repeat_words:
            near.append(name)
    _note_treatment(told, sheet)
    if told.named.failure in _OF_FAILURE:
        return _OF_FAILURE[told.named.failure], ""
    doubts = [f"{join(near)} cannot be told apart from the limit"] if near else []
    support = atrium_support(told)
    if support is not None and not support.holds:
        doubts.append(f"LA:Ao {NOT_BORNE_OUT}")
    return _by_size(met, missed, doubts, sheet)


def _limit_of(told: Told, size: Input) -> IntervalReading | None:
    """Return the reading of the staging limit, with what a repeat scan may give."""
    said = weigh(told.house, size.quantity, size.value, size.unit, size.method, told.patient, told.request)
    stages = (item for item in said if item.applies and item.kind is ReferenceKind.STAGING_CRITERION)
    return next(stages, None)


def _by_size(met: list[str], missed: list[str], doubts: list[str], sheet: Sheet) -> Answer:
    doubt = f", but {'; '.join(doubts)}" if doubts else ""
    if missed:
        rest = f" (met: {join(met)})" if met else ""
        return f"stage B1 by these numbers: criteria of B2 not met: {join(missed)}{rest}{doubt}", ""
    if sheet.missing:
        return "", f"B1 and B2 need all four criteria; missing: {join(sheet.missing)}"
    if len(met) < _CRITERIA:
        return "", "a limit does not hold for this animal or this way of measuring; see the numbers"
    return f"stage B2 by these numbers: all four criteria are met{doubt}", ""


def _note_treatment(told: Told, sheet: Sheet) -> None:
    if told.named.is_treated:
        sheet.notes.append(
            "Measured under treatment: sizes may have been larger before it (in one trial LVIDDN fell by 0.06 and "
            "LA:Ao by 0.08 within 35 days on average, EPIC)."
        )


def mitral_score(told: Told, sheet: Sheet) -> Answer:
    """Return the mitral insufficiency score; it needs all four inputs."""
    la_ao = sheet.take(pick_la_ao(told), "LA:Ao in the short axis")
    lviddn = sheet.take(pick_lviddn(told), "LVIDDN (LVIDd and the weight)")
    shortening = sheet.take(pick(told, "fractional_shortening", "%"), "FS")
    early = sheet.take(pick(told, "mitral_e", "m/s"), "mitral E")
    if la_ao is None or lviddn is None or shortening is None or early is None:
        return "", f"missing: {join(sheet.missing)}"
    try:
        score = mitral_insufficiency_score(la_ao.value, lviddn.value, shortening.value, early.value)
    except UndefinedError as error:
        return "", str(error)
    sheet.notes.extend(score.notes)
    points = f"LA:Ao {score.la_ao_points}, LVIDDN {score.lviddn_points}, FS {score.fs_points}, E {score.e_points}"
    return f"{score.total} points of 4 to 14, {score.grade} ({points})", ""
