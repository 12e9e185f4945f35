"""What the animal brings beside hand and console: it explains findings away, and nothing is advised about it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.coach.causes.animal import known_of, rows_knowing, without_advice
from fanlight.coach.causes.corrections import choose_corrections
from fanlight.coach.causes.find import find_causes
from fanlight.coach.priorities import find_priorities
from fanlight.reference.causes import AnimalFact, CauseRow, read_causes
from fanlight.study import (
    Breathing,
    CauseFound,
    CauseLevel,
    ClipReading,
    Correction,
    Mode,
    Patient,
    Request,
    Side,
    Species,
)
from tests.coach.causes.test_find import CRITERIA, HOUSE, TABLES, borderline, clip

FLASH = ("colour_slow_movement", Side.HIGH)
LUNG = (("lung_cover", Side.HIGH), ("chamber_covered", Side.HIGH))
FLASHES = [clip(n, FLASH, mode=Mode.COLOUR) for n in range(1, 5)]
LUNGS = [clip(n, *LUNG) for n in range(1, 5)]


def rows_of(*facts: AnimalFact) -> dict[str, CauseRow]:
    return rows_knowing(read_causes(HOUSE), frozenset(facts))


def told(clips: list[ClipReading], *facts: AnimalFact) -> dict[str, CauseFound]:
    return {item.cause: item for item in find_causes(clips, replace(TABLES, rows=rows_of(*facts)))}


def changes(clips: list[ClipReading], *facts: AnimalFact) -> tuple[Correction, ...]:
    rows = rows_of(*facts)
    found = find_causes(clips, replace(TABLES, rows=rows))
    return choose_corrections(found, rows, TABLES.limits, CRITERIA, Breathing.NORMAL)


def test_panting_explains_flashes_and_nothing_is_advised() -> None:
    """Tissue that moves with each breath is painted as flow (common practice, no source)."""
    calm = told(FLASHES, AnimalFact.BREATHING_NORMAL)
    hard = told(FLASHES, AnimalFact.BREATHING_LABOURED)
    assert calm["colour_on_tissue"].alternatives == ("colour_packet_long",)  # one looks like the other
    assert calm["colour_on_tissue"].probability + calm["colour_packet_long"].probability > 0.9
    assert "breathing_hard" not in calm
    assert hard["breathing_hard"].probability > 0.7
    left = max((item.habit for key, item in hard.items() if key.startswith("colour_")), default=0.0)
    assert left < hard["breathing_hard"].habit
    assert left < max(calm[key].habit for key in ("colour_on_tissue", "colour_packet_long")) - 0.15
    said = changes(FLASHES, AnimalFact.BREATHING_LABOURED)
    assert said
    assert all(item.correction == "" for item in said)
    assert "animal" in said[0].withheld


def test_a_calm_animal_is_corrected_at_the_console() -> None:
    said = changes(FLASHES, AnimalFact.BREATHING_NORMAL)
    assert [item.cause in ("colour_on_tissue", "colour_packet_long") for item in said] == [True]
    assert "wall filter" in said[0].correction + said[0].either
    assert "packet" in said[0].correction + said[0].either


def test_a_deep_chest_as_likely_as_the_hand_silences_the_movement() -> None:
    normal = changes(LUNGS, AnimalFact.BREATHING_NORMAL)
    assert [item.cause for item in normal] == ["lung_between"]
    assert normal[0].correction
    deep = told(LUNGS, AnimalFact.BREATHING_NORMAL, AnimalFact.CHEST_DEEP)
    assert deep["lung_over_heart"].probability > 0.5
    assert all(not item.correction for item in changes(LUNGS, AnimalFact.BREATHING_NORMAL, AnimalFact.CHEST_DEEP))


def test_a_hand_that_may_be_the_animal_is_said_to_be_so() -> None:
    """Two that look alike, neither sure: the words name the animal and what tells the two apart."""
    found = told(LUNGS)["lung_between"]
    both = replace(found, probability=0.6, alternatives=("lung_over_heart",), level=CauseLevel.CONSOLE)
    (said,) = choose_corrections([both], TABLES.rows, TABLES.limits, CRITERIA, Breathing.NORMAL)
    assert said.correction == said.either == ""
    assert said.withheld.startswith("It may be the animal itself: a chest in which lung lies over the heart.")
    assert "every neighbouring space" in said.withheld


def test_fat_explains_a_dark_far_field_away() -> None:
    dark = [clip(n, ("far_field_loss", Side.HIGH)) for n in range(1, 5)]
    assert told(dark, AnimalFact.BODY_CONDITION_USUAL)["gain_sliders_deep"].probability > 0.8
    fat = told(dark, AnimalFact.BODY_CONDITION_HIGH)
    assert fat["chest_thick"].probability > 0.7
    assert "gain_sliders_deep" not in {key for key, item in fat.items() if item.probability > 0.5}


def test_a_named_disease_stands_behind_a_chamber_that_is_cut_in_some_views() -> None:
    cut = [
        clip(n, *([("chamber_cut", Side.HIGH)] if n <= 4 else []), unjudged=("focal_depth", "tgc_banding"))
        for n in range(1, 9)
    ]
    cut = [*map(borderline, cut[:2]), *cut[2:]]  # a heart that only just does not fit is cut little
    plain, named = told(cut), told(cut, AnimalFact.HEART_DISEASE_NAMED)
    assert "heart_large" not in plain
    assert named["heart_large"].probability > 0.5
    assert all(item.probability < 0.5 for key, item in named.items() if key != "heart_large")
    assert all(not item.correction for item in changes(cut, AnimalFact.HEART_DISEASE_NAMED))


def test_signs_of_a_setting_speak_against_the_animal() -> None:
    """A strong sign that no animal makes brings the setting back: explaining away works both ways."""
    deep = [
        clip(n, ("far_field_loss", Side.HIGH), ("depth_use", Side.LOW), ("heart_reach", Side.LOW)) for n in range(1, 5)
    ]
    found = told(deep, AnimalFact.BODY_CONDITION_HIGH)
    assert found["depth_large"].probability > 0.99
    assert found.get("chest_thick", replace(found["depth_large"], probability=0.0)).probability < 0.5


def test_points_that_the_animal_explains_advise_nothing() -> None:
    rows = rows_of(AnimalFact.BREATHING_LABOURED)
    causes = find_causes(FLASHES, replace(TABLES, rows=rows))
    findings = [item for reading in FLASHES for item in reading.findings]
    points = find_priorities(findings, CRITERIA, Breathing.LABOURED, 0.5)
    assert points[0].correction
    (silenced,) = without_advice(points, causes, rows, FLASHES)
    assert silenced.correction == ""
    assert "animal" in silenced.withheld
    calm = rows_of(AnimalFact.BREATHING_NORMAL)
    assert without_advice(points, find_causes(FLASHES, replace(TABLES, rows=calm)), calm, FLASHES) == points


@pytest.mark.parametrize(
    ("patient", "request_", "facts"),
    [
        (Patient(), Request(), set()),
        (Patient(), Request(breathing=Breathing.LABOURED), {AnimalFact.BREATHING_LABOURED}),
        (Patient(breed="Whippet", species=Species.DOG), Request(), {AnimalFact.CHEST_DEEP}),
        (Patient(), Request(body_condition="8 of 9"), {AnimalFact.BODY_CONDITION_HIGH}),
        (Patient(), Request(body_condition="5/9"), {AnimalFact.BODY_CONDITION_USUAL}),
        (Patient(), Request(body_condition="4/5"), {AnimalFact.BODY_CONDITION_HIGH}),
        (Patient(), Request(body_condition="well fed"), set()),
        (Patient(), Request(named_diseases=("dilated_cardiomyopathy",)), {AnimalFact.HEART_DISEASE_NAMED}),
        (Patient(), Request(vertebral_heart_score=11.5), {AnimalFact.HEART_LARGE_ON_RADIOGRAPHS}),
        (Patient(), Request(vertebral_heart_score=10.0), set()),
    ],
)
def test_only_what_the_sheet_states_is_known(patient: Patient, request_: Request, facts: set[AnimalFact]) -> None:
    assert known_of(patient, request_, HOUSE) == facts


def test_of_several_facts_the_likeliest_counts() -> None:
    rows = rows_of(AnimalFact.BREATHING_NORMAL, AnimalFact.CHEST_DEEP)
    asked = read_causes(HOUSE)["lung_over_heart"]
    assert rows["lung_over_heart"].before == asked.before_if[AnimalFact.CHEST_DEEP]
    assert rows["lung_over_heart"].slip_times > rows_of()["lung_over_heart"].slip_times
    assert rows["gain_low"] == read_causes(HOUSE)["gain_low"]
