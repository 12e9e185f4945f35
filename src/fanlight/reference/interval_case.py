"""Whether a row of the interval table holds for an animal and for the way in which a value was taken."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.reference.breeds import Breed, match_breed, read_breeds
from fanlight.reference.diseases import named_diseases, read_diseases
from fanlight.reference.interval_limits import needs_weight
from fanlight.reference.interval_rows import IntervalRow
from fanlight.reference.methods import TakenBy, match_method, read_methods
from fanlight.reference.quantities import QuantityName
from fanlight.study import House, Patient, ReferenceKind, Request, Species
from fanlight.study.age import age_words

_SPEAKS_OF_HEALTH = (ReferenceKind.REFERENCE_INTERVAL, ReferenceKind.OTHER_FACT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One value with everything that decides which rows may speak about it."""

    quantity: QuantityName
    value: float
    unit: str
    taken: TakenBy
    patient: Patient
    breeds: tuple[Breed, ...]  # that the breed text names
    named: frozenset[str]  # keys of diseases
    graded: frozenset[str]  # of these, what the mentor named
    grading_waits_for: tuple[str, ...]  # what the mentor has not named yet, in words
    adult_from_years: tuple[tuple[Species, float], ...]
    z_needs_animals: int
    titles: tuple[tuple[str, str], ...]  # of breeds, diseases and methods, by key

    def title(self, key: str) -> str:
        """Return the name of a breed, disease or method."""
        return dict(self.titles).get(key, key.replace("_", " "))

    def list_titles(self, keys: tuple[str, ...], joiner: str = "or") -> str:
        """Return the names as a list in words."""
        names = [self.title(key) for key in keys]
        return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} {joiner} {names[-1]}"


def make_case(
    house: House, quantity: QuantityName, value: float, unit: str, method: str, patient: Patient, request: Request
) -> Case:
    """Return the case of a value; what the quantity itself says of the technique is taken in."""
    taken = match_method(house, method)
    if quantity.technique and not taken.technique:
        taken = TakenBy(technique=(quantity.technique,), phase=taken.phase, window=taken.window)
    settings = house.table("intervals")["settings"]
    titles = {key: method.title for key, method in read_methods(house).items()}
    titles |= {key: disease.title for key, disease in read_diseases(house).items()}
    titles |= {key: breed.name for key, breed in read_breeds(house).items()}
    return Case(
        quantity=quantity,
        value=value,
        unit=unit,
        taken=taken,
        patient=patient,
        breeds=match_breed(house, patient.breed, patient.species),
        named=named_diseases(house, request),
        graded=frozenset(request.named.lesions),
        grading_waits_for=request.named.missing,
        adult_from_years=tuple((species, float(settings[f"adult_from_years_{species.value}"])) for species in Species),
        z_needs_animals=int(settings["z_needs_animals"]),
        titles=tuple(titles.items()),
    )


def is_about_another_animal(row: IntervalRow, case: Case) -> bool:
    """Whether the row is for another species or another breed than the one that is stated and known."""
    if case.patient.species is not None and row.species is not case.patient.species:
        return True
    return bool(row.breeds and case.breeds and not any(breed.key in row.breeds for breed in case.breeds))


@dataclass(frozen=True, slots=True, kw_only=True)
class Silence:
    """Why a row does not speak; `reason` is "" when it does."""

    reason: str
    only_gaps: bool  # nothing forbids the row, something is not stated


_Reason = tuple[str, bool]  # in words, and whether it is only that something is not stated
_NONE: _Reason = ("", True)


def _breed_reason(row: IntervalRow, case: Case) -> _Reason:
    left_out = (*(f"{group}s" for group in row.exclude_groups), *(f"the {case.title(b)}" for b in row.exclude_breeds))
    if row.breeds:
        for_whom = f"the row is for the {case.list_titles(row.breeds)} only"
    elif left_out:
        for_whom = f"the row leaves out {' and '.join(left_out)}"
    else:
        return _NONE
    if not case.patient.breed:
        return f"breed not stated, and {for_whom}", True
    if not case.breeds:
        return f"the breed {case.patient.breed!r} is not in the table of breeds, and {for_whom}", True
    if row.breeds and not (len(case.breeds) == 1 and case.breeds[0].key in row.breeds):
        return f"{for_whom}, not for crosses", False
    for breed in case.breeds:
        if breed.group in row.exclude_groups or breed.key in row.exclude_breeds:
            return f"{for_whom}; this animal is given as {breed.name}", False
    return _NONE


def _age_reason(row: IntervalRow, case: Case) -> _Reason:
    if row.kind not in _SPEAKS_OF_HEALTH:
        return _NONE
    adult_from = dict(case.adult_from_years)[row.species]
    age = case.patient.age_years
    if age is None:
        return ("age not stated, and the row is for adults", True) if row.adult else _NONE
    if age < adult_from:
        return (
            f"the animal is {age_words(age)} old, and counts as adult from {age_words(adult_from)} (house setting)",
            False,
        )
    return _NONE


def _disease_reason(row: IntervalRow, case: Case) -> _Reason:
    if row.kind is ReferenceKind.STUDY_INCLUSION:
        return "it only says how a study chose its animals", False
    if row.kind is ReferenceKind.REPEATABILITY:
        return "it is the spread of repeated measurement: for a change between visits, not for a single value", False
    if row.needs_named and not case.named.intersection(row.needs_named):
        return f"it speaks only where {case.list_titles(row.needs_named)} is named, and the request does not", False
    if hit := tuple(key for key in row.unless_named if key in case.named):
        return f"it does not hold with {case.list_titles(hit)}, which the request names", False
    return _grading_reason(row, case)


def _grading_reason(row: IntervalRow, case: Case) -> _Reason:
    """Why a band does not grade: the mentor has not named all that a grade waits for."""
    if row.kind is not ReferenceKind.SEVERITY_BAND:
        return _NONE
    if case.grading_waits_for:
        return f"it grades only once the mentor has named {case.list_titles(case.grading_waits_for, 'and')}", False
    if not case.graded.intersection(row.needs_named):
        return f"it grades {case.list_titles(row.needs_named)} only, and the mentor named another lesion", False
    return _NONE


def _sex_reason(row: IntervalRow, case: Case) -> _Reason:
    if not row.sex or case.patient.sex == row.sex:
        return _NONE
    if case.patient.sex:
        return f"for {row.sex}s only", False
    return f"sex not stated, and the row is for {row.sex}s only", True


def _weight_reason(row: IntervalRow, case: Case) -> _Reason:
    weight = case.patient.weight_kg
    if weight is None:
        return ("weight not stated", True) if needs_weight(row, case.quantity.key) else _NONE
    if row.weight_kg is not None and not row.weight_kg[0] <= weight <= row.weight_kg[1]:
        low, high = row.weight_kg
        basis = f" ({row.weight_basis})" if row.weight_basis else ""
        return f"the animal weighs {weight:g} kg, and the row holds from {low:g} to {high:g} kg{basis}", False
    return _NONE


def _method_reason(row: IntervalRow, case: Case) -> tuple[_Reason, tuple[str, ...]]:
    """Why the way of measuring forbids the row, and the doubts that it leaves."""
    doubts: list[str] = []
    for what, wanted, stated in (
        ("technique", row.technique, case.taken.technique),
        ("phase of the beat", row.phase, case.taken.phase),
        ("window", row.window, case.taken.window),
    ):
        if not wanted or set(wanted) & set(stated):
            continue
        names = case.list_titles(wanted)
        near = what == "technique" and bool(row.near_technique)
        if stated and near and set(stated) & set(row.near_technique):
            doubts.append(f"taken in {case.list_titles(stated)}, while the row was made in {names}. {row.near_note}")
        elif stated:
            return (f"taken in {case.list_titles(stated)}, and the row is for {names} only", False), ()
        elif near or row.unstated == "orientation":
            doubts.append(f"{what} not stated, while the row is for {names}")
        else:
            return (f"{what} not stated, and the row is for {names} only", True), ()
    return _NONE, tuple(doubts)


def why_silent(row: IntervalRow, case: Case) -> tuple[Silence, tuple[str, ...]]:
    """Return why a row does not speak (reason "" when it does), and the doubts with which it speaks."""
    if case.patient.species is None:
        return Silence(reason="species not stated", only_gaps=True), ()
    method_reason, doubts = _method_reason(row, case)
    reasons = [
        reason
        for reason in (
            _disease_reason(row, case),
            _breed_reason(row, case),
            _sex_reason(row, case),
            _weight_reason(row, case),
            _age_reason(row, case),
            method_reason,
        )
        if reason[0]
    ]
    return (
        Silence(reason="; ".join(words for words, _ in reasons), only_gaps=all(gap for _, gap in reasons)),
        doubts,
    )
