"""Pulmonary hypertension of dogs: how probable it is by jet and signs."""

from __future__ import annotations

from fanlight.reference.formulas.scores import pulmonary_hypertension_probability
from fanlight.reference.units import say_value
from fanlight.validity.meaning.grade import Answer, Sheet, join
from fanlight.validity.meaning.inputs import Told, pick

_SITES = (
    "pulmonary_hypertension_ventricles",
    "pulmonary_hypertension_pulmonary_artery",
    "pulmonary_hypertension_right_atrium",
)
_NO_JET = "no_tricuspid_jet"
# Numbers of the pulmonary artery, their unit, and on which side of the limit they are a sign.
_ARTERY = (
    ("mpa_ao", "1", ">"),
    ("pr_vmax", "m/s", ">"),
    ("rpad_index", "%", "<"),
    ("pa_acceleration_time", "ms", "<"),
    ("pa_at_et", "1", "<"),
)


def pulmonary_hypertension(told: Told, sheet: Sheet) -> Answer:
    """Return the probability; where sites are not named, the range that they leave open."""
    named, titles = told.named, told.tables.signs
    jet = pick(told, "tr_vmax", "m/s", highest=True)
    if jet is not None or _NO_JET not in named.signs:
        sheet.take(jet, "TR peak velocity, or that no jet could be measured")
    else:
        sheet.used.append(titles[_NO_JET])
    for site in _SITES:
        if site in named.signs:
            sheet.used.append(f"seen: {titles[site]}")
        elif site in named.signs_absent:
            sheet.used.append(f"not there: {titles[site]}")
        else:
            sheet.missing.append(f"whether there is: {titles[site]}")
    _note_artery(told, sheet)
    if jet is None and _NO_JET not in named.signs:
        return "", f"missing: {sheet.missing[0]}"
    seen = sum(site in named.signs for site in _SITES)
    open_ = sum(site not in named.signs and site not in named.signs_absent for site in _SITES)
    velocity = jet.value if jet is not None else None
    low = pulmonary_hypertension_probability(velocity, seen)
    high = pulmonary_hypertension_probability(velocity, seen + open_)
    at_least = jet is not None and jet.is_least and high != "high"
    if at_least:
        sheet.notes.append("The jet is a lower bound, so that the probability may be higher.")
    said = low if low == high else f"{low} to {high}, depending on the signs that nobody named"
    return f"{'at least ' if at_least else ''}{said}", ""


def _note_artery(told: Told, sheet: Sheet) -> None:
    """Note numbers that are signs at the pulmonary artery where the mentor named none there."""
    if _SITES[1] in told.named.signs:
        return
    found = []
    for quantity, unit, side in _ARTERY:
        value, limit = pick(told, quantity, unit), sheet.limits[quantity]
        if value is not None and (value.value > limit if side == ">" else value.value < limit):
            found.append(f"{value.words} lies beyond {say_value(limit, unit)}")
            sheet.sheet_only |= value.sheet_only
    if found:
        said = "was named as without signs" if _SITES[1] in told.named.signs_absent else "was not named"
        sheet.notes.append(f"{join(found)}: a sign at the pulmonary artery, which {said}.")
