"""A text or a code names a view only when it leaves exactly one."""

from __future__ import annotations

import re

import pytest
from pydicom.sr._cid_dict import cid_concepts
from pydicom.sr._snomed_dict import mapping

from fanlight.reference.views import match_view_code, match_view_text, read_views
from fanlight.study import House, Rung, Valve
from tests.reference.outside import STANDARD_CODES

RIGHT, LEFT = "24028007", "7771000"
LAX4, OUT = "right_parasternal_long_axis_four_chamber", "right_parasternal_long_axis_outflow"


@pytest.mark.parametrize(
    ("text", "view"),
    [
        ("RPLA 4CH", LAX4),
        ("rpla 4-ch", LAX4),
        ("LAX 4ch", LAX4),
        ("Right parasternal long axis, four chamber", LAX4),
        ("RPS LA 4 chamber", LAX4),
        ("RPLA LVOT", OUT),
        ("RPLA 5ch", OUT),
        ("RPSA PM", "right_parasternal_short_axis_papillary_muscles"),
        ("SAX papillary", "right_parasternal_short_axis_papillary_muscles"),
        ("RPSA chordae", "right_parasternal_short_axis_chordae"),
        ("RPS SAX MV", "right_parasternal_short_axis_mitral_valve"),
        ("RPSA LA/Ao", "right_parasternal_short_axis_aorta"),
        ("RPSA PA", "right_parasternal_short_axis_pulmonary_artery"),
        ("A4C", "left_apical_four_chamber"),
        ("apical 5 chamber", "left_apical_five_chamber"),
        ("left apical 4ch RV optimised", "left_apical_four_chamber_right_heart"),
        ("apical long axis", "left_apical_three_chamber"),
        ("LCr LAX TV", "left_cranial_long_axis_right_inflow"),
        ("left cranial short axis", "left_cranial_short_axis"),
        ("left cranial right auricle", "left_cranial_long_axis_right_auricle"),
        ("Subcostal", "subcostal_outflow"),
    ],
)
def test_common_ways_of_writing_name_their_view(house: House, text: str, view: str) -> None:
    """Common practice, no source: abbreviations as people type them."""
    assert match_view_text(house, text).view == view


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("4ch", "neither the window nor the axis"),
        ("MV", "neither the window nor the axis"),
        ("PLA", "neither the window nor the axis"),
        ("RPLA", "the plane is not said"),
        ("RPSA", "the plane is not said"),
        ("PLAX LVOT", "the window is not said"),
        ("PSAX AV level", "the window is not said"),
        ("left apical", "the plane is not said"),
        ("RPLA 4ch RPSA", "more than one axis"),
        ("RPSA papillary chordae", "more than one plane"),
        ("right parasternal apical", "more than one window"),
        ("RPSA two chamber", "no view of the table has"),
        ("Abdomen, left kidney", "neither the window nor the axis"),
    ],
)
def test_what_is_left_open_is_not_guessed(house: House, text: str, words: str) -> None:
    """The view stays unknown and the reason names what is missing."""
    match = match_view_text(house, text)

    assert match.view == ""
    assert words in match.reason


def test_the_valve_is_read_beside_the_view(house: House) -> None:
    """A valve in the text goes with the view; an outflow plane has the aortic valve unless another is named."""
    assert match_view_text(house, "RPLA 4ch MV colour").valve is Valve.MITRAL
    assert match_view_text(house, "RPLA LVOT").valve is Valve.AORTIC
    assert match_view_text(house, "RPLA LVOT MV").valve is Valve.MITRAL
    assert match_view_text(house, "RPLA 4ch MV TV").valve is None


def test_every_key_and_title_names_its_own_view(house: House) -> None:
    """What the tool prints as a title, it reads again."""
    for key, view in read_views(house).items():
        assert match_view_text(house, key).view == key
        assert match_view_text(house, view.title).view == key


def test_the_apical_code_is_not_put_on_a_right_parasternal_picture(house: House) -> None:
    """399214001: apical four chamber in group 12226, plain four chamber in group 6 and among the modifiers."""
    assert match_view_code(house, "399214001").view == "left_apical_four_chamber"
    assert match_view_code(house, "399214001", group="6").view == ""
    assert "contradicts its modifier" in match_view_code(house, "399214001", [RIGHT]).reason
    assert match_view_code(house, "399139001", [RIGHT, "399214001"]).view == LAX4


@pytest.mark.parametrize(
    ("code", "modifiers", "view"),
    [
        ("399139001", [RIGHT], OUT),
        ("399139001", [LEFT], "left_cranial_long_axis_aorta"),
        ("399239005", [RIGHT], "right_parasternal_short_axis_aorta"),
        ("399239005", [LEFT], "left_cranial_short_axis"),
        ("G-0398", ["G-A100"], "right_parasternal_short_axis_aorta"),
        ("398994001", ["43674008"], "left_apical_five_chamber"),
        ("130681", [], "left_apical_four_chamber_right_heart"),
    ],
)
def test_codes_with_their_side_name_a_view(house: House, code: str, modifiers: list[str], view: str) -> None:
    """The side in the modifiers decides, in both coding schemes."""
    assert match_view_code(house, code, modifiers).view == view


@pytest.mark.parametrize(
    ("code", "modifiers", "words"),
    [
        ("399139001", [], "says no side"),
        ("399271003", [], "says no side"),
        ("399271003", [RIGHT, LEFT], "both sides"),
        ("399306005", [RIGHT], "no single view from the right"),
        ("000", [], "names no view of the table"),
    ],
)
def test_codes_that_leave_something_open_name_no_view(
    house: House, code: str, modifiers: list[str], words: str
) -> None:
    """Parasternal codes were made for people: without the side they say nothing in an animal."""
    match = match_view_code(house, code, modifiers)

    assert match.view == ""
    assert words in match.reason


def test_codes_and_meanings_are_those_of_the_standard(house: House) -> None:
    """Each code stands in context group 12226 or 6 of the dictionaries of pydicom, with its older form and meaning."""
    names = {name for group in (12226, 6) for scheme in ("SCT", "DCM") for name in cid_concepts[group].get(scheme, ())}
    for key, row in house.table("views")["codes"].items():
        scheme = "DCM" if not row["older"] else "SCT"
        meanings = [
            codes[row["code"]][0]
            for name, codes in STANDARD_CODES[scheme].items()
            if name in names and row["code"] in codes
        ]
        assert meanings, key
        told = re.sub(r"[^a-z ]", "", " ".join(meanings).lower()).replace(" rv ", " right ventricular ").split()
        said = re.sub(r"[^a-z ]", "", row["meaning"].split(", with")[0].lower()).split()
        # "right ventricle focused" is written "RV focused" in the standard
        assert set(said) - {"right", "ventricle", "ventricular"} <= set(told), (key, meanings)
        if scheme == "SCT":
            assert mapping["SCT"][row["code"]] == row["older"], key
    assert "399214001" in STANDARD_CODES["SCT"]["ApicalFourChamber"]
    assert "399214001" in STANDARD_CODES["SCT"]["FourChamber"]  # the trap: one code, two meanings


def test_the_ladder_can_be_climbed_at_every_valve(house: House) -> None:
    """For each valve and rung at least one view can carry it, so that no plan asks for the impossible."""
    views = read_views(house)
    for valve in Valve:
        for rung in Rung:
            assert any(valve in view.valves_at(rung) for view in views.values()), (valve, rung)


def test_the_fourteen_planes_of_the_recommendation_are_there(house: House) -> None:
    """THOMAS1993 as its abstract counts them: 2 + 6 from the right, 2 apical, 3 + 1 from the left cranial window."""
    published = [view for view in read_views(house).values() if view.source == "THOMAS1993"]
    by_window = {window: sum(view.window == window for view in published) for window in {v.window for v in published}}

    assert by_window["right_parasternal"] == 8
    assert by_window["left_cranial"] == 4
    assert by_window["left_apical"] == 3  # two-chamber, four-chamber, and the four-chamber tilted to the outflow
