"""How values are said: numbers with their unit, clips by their number, dates in words."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from fanlight.study import MODE_WORDS, Band, Finding, ModeReading, Patient, StudyReview, ViewReading, ViewSource
from fanlight.study.age import age_words

SUPPORT = (
    "Fanlight supports, and does not replace, a licensed veterinarian. It measures pictures and diagnoses no animal. "
    "Local rules come first."
)
NUMBERS = (
    "Reference intervals have a source and limits, named beside each number; breed, age, sedation and technique can "
    "move a healthy animal outside them. Decide nothing about treatment from a number alone. With urgent signs "
    "(collapse, laboured breathing, suspected large pericardial effusion) contact a veterinarian now and follow local "
    "emergency practice."
)
DRAFT = "Draft by the engine, not signed"


YES_NO = "yes/no"  # unit of criteria that only hold or do not: 1 and 0
INDEX = "index"  # unit of measures that have no unit but their own scale
SHARE = "fraction"  # unit of shares: 0 to 1, said as per cent


def number(value: float, unit: str = "", digits: int = 3) -> str:
    """Return a number with its unit as a reader says it: shares as per cent, no needless digits."""
    if unit == YES_NO:
        return "yes" if value >= 0.5 else "no"
    if unit == SHARE:
        return f"{100 * value:.2g} %" if abs(value) < 0.1 else f"{100 * value:.0f} %"
    if unit == INDEX:
        return f"index {value:.{digits}g}"
    text = f"{value:.{digits}g}" if abs(value) < 10**digits else f"{value:.0f}"
    if "e" in text:
        text = f"{value:.0f}" if abs(value) >= 1 else f"{value:.4f}"
    return text if unit in ("", "1") else f"{text} {unit}"


def with_error(value: float, unit: str, error: float | None) -> str:
    """Return a number with ± one standard deviation and its unit, as papers and reports write it."""
    if error is None:
        return number(value, unit)
    said = f"{number(value)} ± {number(error, digits=2)}"
    return said if unit in ("", "1") else f"{said} {unit}"


def clips(numbers: Iterable[int]) -> str:
    """Return "clip 3", "clips 1 to 4 and 7"."""
    ordered = sorted(set(numbers))
    if not ordered:
        return "no clip"
    runs: list[list[int]] = []
    for item in ordered:
        if runs and item == runs[-1][-1] + 1:
            runs[-1].append(item)
        else:
            runs.append([item])
    parts: list[str] = []
    for run in runs:
        if len(run) > 2:
            parts.append(f"{run[0]} to {run[-1]}")
        else:
            parts += [str(item) for item in run]
    noun = "clip" if len(ordered) == 1 else "clips"
    joined = parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
    return f"{noun} {joined}"


def first_sentences(text: str, n: int) -> str:
    """Return the text up to the end of its n-th sentence; a full stop inside a number or brackets ends none."""
    depth, ended = 0, 0
    for place, letter in enumerate(text):
        depth += (letter in "([") - (letter in ")]")
        if letter == "." and depth == 0 and text[place + 1 : place + 2] in ("", " "):
            ended += 1
            if ended == n:
                return text[: place + 1]
    return text


def count(n: int, one: str, many: str = "") -> str:
    """Return "1 clip", "3 clips"."""
    return f"{n} {one if n == 1 else many or one + 's'}"


def differing(mismatches: Iterable[str]) -> str:
    """Return which statements differ between files, each once: "animal's name, weight"."""
    return ", ".join(dict.fromkeys(item.split(":")[0] for item in mismatches))


def when(moment: datetime | None) -> str:
    """Return a date as "3 March 2026", "not stated" for None."""
    return f"{moment.day} {moment:%B %Y}" if moment else "not stated"


def animal(patient: Patient) -> str:
    """Return what is known of the animal in a line."""
    parts = [
        patient.breed or (str(patient.species) if patient.species else "species not stated"),
        f"{patient.sex or 'sex not stated'}{_neutered(patient)}",
        age_words(patient.age_years) if patient.age_years is not None else "age not stated",
        f"{patient.weight_kg:g} kg" if patient.weight_kg is not None else "weight not stated",
    ]
    if patient.breed and patient.species:
        parts[0] = f"{patient.breed} ({patient.species})"
    return ", ".join(parts)


def _neutered(patient: Patient) -> str:
    if patient.neutered is None:
        return ""
    return ", neutered" if patient.neutered else ", entire"


def mode(reading: ModeReading) -> str:
    """Return the mode, or that it is not sure, or that it is a spectrum of a kind that is not known."""
    if reading.mode is not None:
        return MODE_WORDS[reading.mode]
    return "spectrum, pulsed or continuous wave not known" if reading.is_spectrum else "mode not sure"


def view(reading: ViewReading, titles: dict[str, str]) -> str:
    """Return the view's title, or that it is not known; one that was only recognised with how sure that is."""
    if not reading.view:
        return "view not known"
    title = titles.get(reading.view, reading.view)
    if reading.source is ViewSource.RECOGNISED:
        return f"{title}, recognised, {min(round(100 * reading.probability), 99)} %"  # nearly sure is not sure
    return title


def finding_value(finding: Finding) -> str:
    """Return the value of a finding with its uncertainty, or a dash."""
    if finding.value is None:
        return "–"
    text = number(finding.value, finding.unit)
    if finding.uncertainty and finding.unit == SHARE:
        return f"{text.removesuffix(' %')} ± {number(finding.uncertainty, SHARE)}"
    if finding.uncertainty:
        return f"{number(finding.value)} ± {number(finding.uncertainty, finding.unit, 2)}"
    return text


def target(finding: Finding) -> str:
    """Return the target band of a finding, in words."""
    if finding.unit == YES_NO:
        return "yes"
    if finding.unit != SHARE:
        return finding.band.words("" if finding.unit == INDEX else finding.unit)
    limits = {
        name: None if getattr(finding.band, name) is None else 100 * getattr(finding.band, name)
        for name in ("border_low", "met_low", "met_high", "border_high")
    }
    return Band(**limits).words("%")


def footer(review: StudyReview, written_at: datetime) -> str:
    """Return the last line of every page: what made it, and when."""
    return (
        f"Fanlight {review.engine_version} · house settings {review.house[:8]} · study {review.study.key} · "
        f"drafted {when(written_at)}"
    )


def letter_footer(review: StudyReview, written_at: datetime) -> str:
    """Return the last line of a letter's pages: of which study, and when; versions are the study sheet's."""
    return f"Study {review.study.key} · drafted {when(written_at)}"
