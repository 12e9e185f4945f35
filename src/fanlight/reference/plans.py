"""Plans of an examination, and which one a study is held against."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fanlight.reference.wording import find_phrases, plain
from fanlight.study import Basis, Breathing, House, Patient, Request, Rung, Species, Valve

_STEP_KEYS = {
    "view", "colour", "pulsed_wave", "continuous_wave", "colour_if_needed", "pulsed_wave_if_needed",
    "continuous_wave_if_needed", "m_mode",
}  # fmt: skip
_RUNG_KEYS = {
    Rung.COLOUR: "colour",
    Rung.PULSED_WAVE: "pulsed_wave",
    Rung.CONTINUOUS_WAVE: "continuous_wave",
}


class UnknownPlanError(ValueError):
    """A plan was asked for that the House does not have."""

    def __init__(self, plan: str, known: tuple[str, ...]) -> None:
        self.plan = plan
        self.known = known
        super().__init__(f"plan {plan!r} does not exist; plans: {', '.join(known)}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One view of a plan, with the valves at which Doppler is asked for."""

    view: str
    doppler: tuple[tuple[Rung, tuple[Valve, ...]], ...] = ()
    if_needed: tuple[tuple[Rung, tuple[Valve, ...]], ...] = ()  # only when the picture asks for it
    m_mode: bool = False

    @property
    def asked(self) -> tuple[Rung, ...]:
        """Rungs that are asked for; a 2-D clip always is."""
        return (Rung.TWO_D, *(rung for rung, valves in self.doppler if valves))

    def valves_at(self, rung: Rung) -> tuple[Valve, ...]:
        """Return the valves at which a rung is asked for."""
        return dict(self.doppler).get(rung, ())


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The ordered examination that a teaching group works to."""

    key: str
    title: str
    purpose: str
    species: tuple[Species, ...]
    steps: tuple[Step, ...]
    source: str
    basis: Basis


def _step(row: Mapping[str, Any]) -> Step:
    if unknown := set(row) - _STEP_KEYS:
        raise ValueError(f"step {row.get('view', '?')}: unknown keys {sorted(unknown)}")

    def valves(tail: str) -> tuple[tuple[Rung, tuple[Valve, ...]], ...]:
        return tuple(
            (rung, tuple(Valve(valve) for valve in row[name + tail]))
            for rung, name in _RUNG_KEYS.items()
            if row.get(name + tail)
        )

    return Step(
        view=row["view"], doppler=valves(""), if_needed=valves("_if_needed"), m_mode=bool(row.get("m_mode", False))
    )


def read_plans(house: House) -> dict[str, Plan]:
    """Return all plans by key.

    Raises
    ------
    ValueError
        Naming the plan that is incomplete or asks for a view or a rung that the tables do not have.
    """
    return dict(house.kept("plans", _all_plans))


def _all_plans(house: House) -> dict[str, Plan]:
    views = house.table("views")["views"]
    plans: dict[str, Plan] = {}
    for key, row in house.table("plans")["plans"].items():
        try:
            plan = Plan(
                key=key,
                title=row["title"],
                purpose=row["purpose"],
                species=tuple(Species(item) for item in row["species"]),
                steps=tuple(_step(step) for step in row["steps"]),
                source=row["source"],
                basis=Basis(row["basis"]),
            )
            for step in plan.steps:
                if step.view not in views:
                    raise ValueError(f"view {step.view!r} is not in views.toml")
                for rung, asked in step.doppler + step.if_needed:
                    for valve in asked:
                        if rung.value not in views[step.view]["serves"].get(valve.value, ()):
                            raise ValueError(f"view {step.view} cannot carry {rung} of the {valve} valve")
            if len({step.view for step in plan.steps}) < len(plan.steps):
                raise ValueError("a view stands in it twice")
        except KeyError as error:
            raise ValueError(f"plans.toml, plan {key}: {error} is missing") from error
        except ValueError as error:
            raise ValueError(f"plans.toml, plan {key}: {error}") from error
        plans[key] = plan
    return plans


def _match(house: House, table: str, text: str) -> str:
    rows = house.table("plans")[table]
    if text in rows:
        return text
    by_phrase = {phrase: key for key, row in rows.items() for phrase in (row["title"], *row["words"])}
    found = find_phrases(text, by_phrase)
    return by_phrase[found[0]] if found else ""


def match_question(house: House, text: str) -> str:
    """Return the key of the clinical question that a text names, or ""; a key is returned as it is."""
    return _match(house, "questions", text)


def match_level(house: House, text: str) -> str:
    """Return the key of the training level that a text names, or ""."""
    return _match(house, "levels", text)


def _fits(row: Mapping[str, Any], question: str, species: Species | None, level: str) -> bool:
    return (
        (not row["questions"] or question in row["questions"])
        and (not row["species"] or (species is not None and species.value in row["species"]))
        and (not row["levels"] or level in row["levels"])
    )


def choose_plan(house: House, patient: Patient, request: Request, override: str = "") -> tuple[Plan, str]:
    """Return the plan against which a study is held, and why.

    Parameters
    ----------
    house : House
        Tables "plans" and "views".
    patient : Patient
        Its species narrows the choice.
    request : Request
        Question (`question_key`, else the words of `question`), training level and breathing.
    override : str
        Key or title of the plan that the user chose; "" lets the request choose.

    Returns
    -------
    tuple of Plan and str
        The reason is a phrase for "(…)" behind the plan's title.

    Raises
    ------
    UnknownPlanError
        If `override` names no plan of the House.
    """
    plans = read_plans(house)
    if override:
        for plan in plans.values():
            if plain(override) in (plain(plan.key), plain(plan.title)):
                if patient.species is not None and patient.species not in plan.species:
                    return plan, f"chosen by hand, though it was made for {' and '.join(plan.species)}s"
                return plan, "chosen by hand"
        raise UnknownPlanError(override, tuple(plans))
    table = house.table("plans")
    if request.breathing in (Breathing.LABOURED, Breathing.DISTRESSED):
        return plans[table["settings"]["resting"]], f"breathing is {request.breathing}: the rest of the scan can wait"
    question = match_question(house, request.question_key) or match_question(house, request.question)
    level = match_level(house, request.training_level)
    for row in table["choose"].values():
        if _fits(row, question, patient.species, level):
            parts = [
                f"question: {table['questions'][question]['title']}" if row["questions"] else "",
                f"species: {patient.species}" if row["species"] else "",
                f"level: {table['levels'][level]['title']}" if row["levels"] and level else "",
            ]
            return plans[row["plan"]], "; ".join(part for part in parts if part)
    gaps = []
    if not question:
        given = request.question_key or request.question
        gaps.append(f"question {given!r} not in the table" if given else "question not stated")
    if patient.species is None:
        gaps.append("species not stated")
    if not level:
        given = request.training_level
        gaps.append(f"training level {given!r} not in the table" if given else "training level not stated")
    why = ", ".join(gaps) or "no rule fits question, species and level"
    return plans[table["settings"]["default"]], f"{why}: the shortest plan is taken"
