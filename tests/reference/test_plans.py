"""A plan is chosen by what is stated, and asks only for what its views can give."""

from __future__ import annotations

import pytest

from fanlight.reference.plans import UnknownPlanError, choose_plan, match_question, read_plans
from fanlight.study import Breathing, House, Patient, Request, Rung, Species, Valve

DOG, CAT = Patient(species=Species.DOG), Patient(species=Species.CAT)


@pytest.mark.parametrize(
    ("patient", "request_", "plan", "words"),
    [
        (DOG, Request(question_key="murmur", training_level="practice"), "full_right_side", "question: a murmur"),
        (CAT, Request(question_key="murmur", training_level="practice"), "cat_screening", "species: cat"),
        (DOG, Request(question="Staging MMVD, cough"), "mitral_staging", "staging of mitral valve disease"),
        (DOG, Request(question_key="murmur", training_level="advanced"), "cardiology", "level: advanced"),
        (CAT, Request(question_key="outflow_stenosis"), "outflow_stenosis", "outflow stenosis"),
        (DOG, Request(training_level="starting"), "focused", "level: starting"),
        (DOG, Request(question_key="effusion", training_level="advanced"), "focused", "fluid round the heart"),
        (Patient(), Request(), "focused", "species not stated"),
        (DOG, Request(question_key="murmur"), "focused", "training level not stated"),
        (DOG, Request(question="hello"), "focused", "question 'hello' not in the table"),
    ],
)
def test_question_species_and_level_choose(
    house: House, patient: Patient, request_: Request, plan: str, words: str
) -> None:
    """The reason names what decided, or what is missing."""
    chosen, because = choose_plan(house, patient, request_)

    assert chosen.key == plan
    assert words in because


@pytest.mark.parametrize("breathing", [Breathing.LABOURED, Breathing.DISTRESSED])
def test_laboured_breathing_takes_the_short_plan(house: House, breathing: Breathing) -> None:
    """Whatever else is asked, the scan of an animal that breathes badly is short."""
    request = Request(question_key="murmur", training_level="advanced", breathing=breathing)

    chosen, because = choose_plan(house, DOG, request)

    assert chosen.key == "focused"
    assert "the rest of the scan can wait" in because


def test_a_plan_may_be_chosen_by_hand(house: House) -> None:
    """Key and title are accepted; another species is told; an unknown plan is refused with the list."""
    assert choose_plan(house, DOG, Request(), "cardiology")[0].key == "cardiology"
    assert choose_plan(house, DOG, Request(), "Cardiology study, both sides")[0].key == "cardiology"
    assert "made for cats" in choose_plan(house, DOG, Request(), "cat_screening")[1]
    with pytest.raises(UnknownPlanError, match="plan 'all' does not exist; plans: focused"):
        choose_plan(house, DOG, Request(), "all")


def test_every_row_that_chooses_can_be_reached_and_names_a_plan_for_its_species(house: House) -> None:
    """No rule sends an animal to a plan made for another species, and none names an unknown question or level."""
    plans, table = read_plans(house), house.table("plans")
    for key, row in table["choose"].items():
        plan = plans[row["plan"]]
        species = {Species(item) for item in row["species"]} or set(Species)
        assert species <= set(plan.species), key
        assert set(row["questions"]) <= set(table["questions"]), key
        assert set(row["levels"]) - {""} <= set(table["levels"]), key
    assert table["settings"]["default"] in plans
    assert table["settings"]["resting"] in plans


def test_the_right_side_comes_first(house: House) -> None:
    """House default of the order: in every plan the right parasternal views stand before all others."""
    for plan in read_plans(house).values():
        sides = [not step.view.startswith("right") for step in plan.steps]
        assert sides == sorted(sides), plan.key


def test_the_screening_plan_asks_for_the_aorta_along_the_beam(house: House) -> None:
    """DARKE1993 and BUSSADORI2000: aortic velocities by continuous wave, the subcostal window among them."""
    plan = read_plans(house)["outflow_stenosis"]

    views = [step.view for step in plan.steps if Valve.AORTIC in step.valves_at(Rung.CONTINUOUS_WAVE)]
    assert views == ["left_apical_five_chamber", "subcostal_outflow"]


def test_a_plan_that_asks_for_the_impossible_is_refused(house: House) -> None:
    """A rung that the view cannot carry, an unknown view and a doubled view are named with their plan."""
    base = {name: dict(table) for name, table in house.tables.items()}

    def with_step(**step: object) -> House:
        plan = dict(house.table("plans")["plans"]["focused"]) | {"steps": [step]}
        return House({**base, "plans": {**house.table("plans"), "plans": {"mine": plan}}})

    with pytest.raises(ValueError, match="plan mine: view subcostal_outflow cannot carry PW of the mitral valve"):
        read_plans(with_step(view="subcostal_outflow", pulsed_wave=["mitral"]))
    with pytest.raises(ValueError, match=r"'front_window' is not in views\.toml"):
        read_plans(with_step(view="front_window"))
    with pytest.raises(ValueError, match=r"unknown keys \['color'\]"):
        read_plans(with_step(view="subcostal_outflow", color=["aortic"]))


def test_a_question_is_found_in_words(house: House) -> None:
    """Keys are taken as they are, words are looked up, nothing is made up."""
    assert match_question(house, "murmur") == "murmur"
    assert match_question(house, "collapsed once: syncope?") == "collapse"
    assert match_question(house, "") == ""
