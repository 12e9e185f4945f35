"""A group's own file changes what exists, adds what may be added, and is refused with the place and the remedy."""

from __future__ import annotations

import pickle
from pathlib import Path

import pytest

from fanlight.reference.breeds import match_breed
from fanlight.reference.load import HouseFileError, load_house
from fanlight.reference.plans import choose_plan, read_plans
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
    """An unknown view in it is named with the plan."""
    own = _own(
        tmp_path,
        '[plans.plans.mine]\ntitle = "M"\npurpose = "P"\nspecies = ["dog"]\nbasis = "house setting"\nsource = ""\n'
        'steps = [{ view = "sideways" }]\n',
    )

    with pytest.raises(ValueError, match="plan mine: view 'sideways' is not in views"):
        read_plans(own)


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


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    """The message names the file."""
    with pytest.raises(HouseFileError, match="Name an existing TOML file"):
        load_house(tmp_path / "nowhere.toml")


def test_a_house_travels_to_another_process(house: House) -> None:
    """Pickled and read again it is the same, and still cannot be changed."""
    again = pickle.loads(pickle.dumps(house))

    assert again.fingerprint() == house.fingerprint()
    with pytest.raises(TypeError):
        again.table("valves")["box"]["upstream_fraction"] = 0.5
