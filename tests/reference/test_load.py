"""A group's own file changes what exists, adds what may be added, and is refused with the place and the remedy."""

from __future__ import annotations

import pickle
import re
from pathlib import Path

import pytest

from fanlight.reference.breeds import match_breed
from fanlight.reference.criteria import read_criteria
from fanlight.reference.diseases import match_disease
from fanlight.reference.load import HouseFileError, load_house
from fanlight.reference.plans import choose_plan
from fanlight.reference.valves import read_valves
from fanlight.reference.views import match_view_text
from fanlight.study import House, Patient, Request, Species, Valve


def _own(folder: Path, text: str) -> House:
    file = folder / "own.toml"
    file.write_text(text, "utf-8")
    return load_house(file)


def test_a_changed_row_is_used_and_listed(tmp_path: Path, house: House) -> None:
    """The band of the mitral valve is the group's, everything else stays, and the change is shown beside results."""
    own = _own(tmp_path, "[valves.valves.mitral]\nscale_cm_s = [50.0, 70.0]\nborder_cm_s = [40.0, 80.0]\n")

    assert read_valves(own)[Valve.MITRAL].scale_cm_s == (50, 70)
    assert read_valves(own)[Valve.TRICUSPID] == read_valves(house)[Valve.TRICUSPID]
    assert own.own_rows == ("valves.valves.mitral.scale_cm_s", "valves.valves.mitral.border_cm_s")


def test_only_the_changed_table_has_another_fingerprint(tmp_path: Path, house: House) -> None:
    """Stages that do not read the table need not run again."""
    own = _own(tmp_path, "[intervals.settings]\nadult_from_years_dog = 2.0\n")

    changed = [name for name in house.tables if own.fingerprint([name]) != house.fingerprint([name])]
    assert changed == ["intervals"]


def test_a_plan_a_breed_and_words_may_be_added(tmp_path: Path) -> None:
    """New plans, breeds and words of views are read like the shipped ones."""
    own = _own(
        tmp_path,
        """
[plans.plans.heart_base]
title = "Heart base only"
purpose = "One view."
species = ["dog"]
basis = "house setting"
source = ""
steps = [{ view = "right_parasternal_short_axis_aorta" }]

[breeds.moor_hound]
name = "Moor Hound"
species = "dog"
group = "sighthound"
words = []

[views.terms.ours]
words = ["base plane"]
window = "right_parasternal"
axis = "short"
level = "aorta_and_atrium"
""",
    )

    assert choose_plan(own, Patient(), Request(), "heart_base")[0].title == "Heart base only"
    assert match_breed(own, "moor hound", Species.DOG)[0].group == "sighthound"
    assert match_view_text(own, "Base plane").view == "right_parasternal_short_axis_aorta"
    assert "plans.plans.heart_base" in own.own_rows


def test_an_added_plan_is_checked_like_the_others(tmp_path: Path) -> None:
    """An unknown view in it is named with the plan, on loading."""
    with pytest.raises(HouseFileError, match=r"own\.toml.*plan mine: view 'sideways' is not in views"):
        _own(
            tmp_path,
            '[plans.plans.mine]\ntitle = "M"\npurpose = "P"\nspecies = ["dog"]\nbasis = "house setting"\nsource = ""\n'
            'steps = [{ view = "sideways" }]\n',
        )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            "[valves.valves.mitrl]\nx = 1\n",
            r"valves\.valves\.mitrl: no such row. Rows that can be changed here: aortic",
        ),
        ("[valve]\nx = 1\n", "valve: no such table. Tables: "),
        ("[valves]\nbox = 3\n", "a table is needed, found 3"),
        ('[valves.box]\nupstream_fraction = "a third"\n', "expected float, found 'a third'"),
        ("[valves\n", "Mend the TOML at that line"),
    ],
)
def test_a_wrong_file_is_refused_with_the_place(tmp_path: Path, text: str, words: str) -> None:
    """File, place, what was found and what to do."""
    with pytest.raises(HouseFileError, match=words) as caught:
        _own(tmp_path, text)
    assert "own.toml" in str(caught.value)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('[[plans.plans.focused.steps]]\nview = "front_window"\n', "front_window"),
        ('[plans.plans.mine]\ntitle = "Mine"\n', "plan mine"),
        ('[breeds.elo]\nname = "Elo"\n', "row elo"),
        ('[desk.windows.subcostal]\ntitle = ""\n', "desk.windows.subcostal"),
        ('[desk.structures]\naorta = ""\n', "'aorta' needs a heading"),
        ("[letter.limits]\nviews_max = 0\n", "views_max must be 1 or more"),
        ('["criteria/gain".overall_gain.limits]\nlook = "excellent"\n', "row overall_gain"),
        ('["criteria/gain".overall_gain.band]\nmet_low = 0.9\n', "row overall_gain"),
    ],
)
def test_a_row_that_makes_no_sense_is_found_on_loading(tmp_path: Path, text: str, words: str) -> None:
    """Not in the middle of a review, where it would look like a fault of Fanlight."""
    with pytest.raises(HouseFileError, match=words):
        _own(tmp_path, text)


def test_advice_that_touches_the_animal_stays_marked(tmp_path: Path, house: House) -> None:
    """A group may mark more of its advice as handling, and cannot take the mark away: safety of the animal."""
    marked = [
        f'["{table}".{key}.{side}]'
        for table in house.tables
        if table.startswith("criteria/")
        for key, row in house.table(table).items()
        for side in ("low", "high")
        if row.get(side, {}).get("handling")
    ]
    assert marked
    for row in marked:
        with pytest.raises(HouseFileError, match="stays marked"):
            _own(tmp_path, f"{row}\nhandling = false\n")

    own = _own(tmp_path, '["criteria/gain".overall_gain.low]\nhandling = true\n')
    low = read_criteria(own)["overall_gain"].low
    assert low is not None
    assert low.handling


def test_every_example_of_the_page_on_house_files_loads(tmp_path: Path, house: House) -> None:
    """docs/house-file.md: each block alone and all together; what they change is what they say they change."""
    page = (Path(__file__).parents[2] / "docs" / "house-file.md").read_text("utf-8")
    blocks = [block.split("```")[0] for block in page.split("```toml\n")[1:]]
    for block in blocks:
        _own(tmp_path, block)
    own = _own(tmp_path, "\n".join(blocks))

    assert len(blocks) == 3
    band = read_criteria(own)["overall_gain"].band
    assert (band.border_low, band.met_low) == (0.12, 0.17)
    assert band.met_high == read_criteria(house)["overall_gain"].band.met_high
    assert match_disease(own, "leaky mitral valve") == ("myxomatous_mitral_valve_disease",)
    beginner = Request(training_level="day one")
    assert choose_plan(own, Patient(species=Species.DOG), beginner)[0].key == "first_day"
    starting = Request(training_level="starting")
    assert choose_plan(own, Patient(species=Species.DOG), starting)[0].title == "First day"
    assert match_view_text(own, "right parasternal kreuzschnitt, papillary muscles").view == (
        "right_parasternal_short_axis_papillary_muscles"
    )
    assert match_breed(own, "Elo dog", Species.DOG)[0].key == "elo"


def test_the_table_of_tables_on_the_page_names_tables_that_exist(house: House) -> None:
    """docs/house-file.md, and the message that it quotes is the one that comes."""
    page = (Path(__file__).parents[2] / "docs" / "house-file.md").read_text("utf-8")
    rows = [line.split("|")[2] for line in page.splitlines() if line.startswith("| ") and "`" in line]
    named = [name.strip('"') for row in rows for name in re.findall(r"`([^`]+)`", row)]

    assert len(named) >= 9
    assert set(named) <= set(house.tables)


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    """The message names the file."""
    with pytest.raises(HouseFileError, match="Name an existing TOML file"):
        load_house(tmp_path / "nowhere.toml")


def test_the_shipped_tables_are_read_once_and_a_group_s_own_never_get_into_them(tmp_path: Path) -> None:
    shipped = load_house()
    scale = read_valves(shipped)[Valve.MITRAL].scale_cm_s
    own = _own(tmp_path, "[valves.valves.mitral]\nscale_cm_s = [50.0, 70.0]\nborder_cm_s = [40.0, 80.0]\n")

    assert read_valves(own)[Valve.MITRAL].scale_cm_s == (50, 70) != scale
    assert load_house() is shipped
    assert read_valves(load_house())[Valve.MITRAL].scale_cm_s == scale


def test_a_house_travels_to_another_process(house: House) -> None:
    """Pickled and read again it is the same, and still cannot be changed."""
    again = pickle.loads(pickle.dumps(house))

    assert again.fingerprint() == house.fingerprint()
    with pytest.raises(TypeError):
        again.table("valves")["box"]["upstream_fraction"] = 0.5
