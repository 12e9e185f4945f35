"""Codes of structured reports, held against the code dictionaries of pydicom, which copy DICOM PS3.16."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pydicom.sr._concepts_dict
import pytest

from fanlight.measure.doppler.inflow import asked_of as inflow_asked
from fanlight.measure.doppler.outflow import asked_of as outflow_asked
from fanlight.measure.m_mode.beat_distances import LVIDD, LVIDS
from fanlight.reference.dicom_codes import Coded, read_report_codes
from fanlight.reference.quantities import read_quantities
from fanlight.study import House, Mode, Species, Valve

PUBLISHED: Any = pydicom.sr._concepts_dict.concepts  # scheme -> keyword -> code -> meaning, context groups


def published(scheme: str) -> dict[str, set[str]]:
    """Meanings by code, as pydicom 3.0.2 carries them from PS3.16."""
    found: dict[str, set[str]] = {}
    for rows in PUBLISHED[scheme].values():
        for code, (meaning, _) in rows.items():
            found.setdefault(code, set()).add(meaning)
    return found


def groups(code: str) -> set[int]:
    """Context groups of PS3.16 in which a LOINC code stands."""
    return {
        group
        for rows in PUBLISHED["LN"].values()
        for known, (_, listed) in rows.items()
        if known == code
        for group in listed
    }


def test_every_public_code_stands_in_the_standard_with_this_meaning(house: House) -> None:
    """Source: PS3.16 through pydicom's code dictionaries."""
    codes = read_report_codes(house)
    loinc = published("LN")
    rows = [code for quantity in codes.quantities.values() for _, code in quantity.public]

    assert len(rows) >= 45
    for code in rows:
        assert code.meaning in loinc[code.value], code
    others = [*codes.modes.values(), *codes.methods.values(), *codes.derivations.values(), *codes.species.values()]
    for code in others:
        assert code.meaning in published(code.scheme)[code.value], code


def test_every_loinc_code_stands_in_the_context_group_that_is_named_as_its_source(house: House) -> None:
    for key, row in house.table("dicom_codes")["quantities"].items():
        for code in row["codes"]:
            assert int(code["source"].removeprefix("PS3.16 CID ")) in groups(code["value"]), key
            assert code["status"].startswith("read"), key


def test_units_that_the_standard_lists_agree_with_it(house: House) -> None:
    """UCUM codes that PS3.16 uses; the rest follows the grammar of UCUM and stands in no list."""
    codes = read_report_codes(house)
    listed = published("UCUM")
    ours = {unit.value for unit in codes.units.values()}

    assert {"mm", "cm", "cm/s", "ms", "s", "%", "mm[Hg]", "mm2", "cm2", "{ratio}", "/min", "deg"} <= ours & set(listed)


def test_codes_that_are_read_lead_back_to_the_same_quantity(house: House) -> None:
    """What is written under a public code is read by it: the two tables agree."""
    codes, quantities = read_report_codes(house), read_quantities(house)
    owners = {code: key for key, quantity in quantities.items() for code, _ in quantity.codes}
    for key, quantity in codes.quantities.items():
        for _, code in quantity.public:
            assert owners.get(code.value, key) == key


def test_every_quantity_has_a_code_whatever_is_known_of_it(house: House) -> None:
    """Those of the tables, and those that the engine gives."""
    codes = read_report_codes(house)
    asked = [
        *(item.name for word in ("mitral", "tricuspid") for item in inflow_asked(word, word).values()),
        *(item.name for valve in (Valve.AORTIC, Valve.PULMONIC) for item in outflow_asked(valve).values()),
        *(f"{leak}_{what}" for leak in ("mr", "tr", "ar", "pr") for what in ("vmax", "peak_gradient")),
        *(f"{ring}_annulus_{part}" for ring in ("mitral", "tricuspid") for part in "sea"),
        LVIDD.name, LVIDS.name, "stroke_volume", "ivrt",
    ]  # fmt: skip
    for name in {*asked, *read_quantities(house)}:
        assert codes.quantities[name].best(()) is not None, name


def test_units_of_all_quantities_can_be_written(house: House) -> None:
    codes = read_report_codes(house)
    for quantity in read_quantities(house).values():
        assert codes.unit(quantity.unit) is not None, quantity.key


def test_modes_and_species_are_all_told(house: House) -> None:
    codes = read_report_codes(house)

    assert set(codes.modes) <= {mode.value for mode in Mode}
    assert set(codes.species) == {species.value for species in Species}


@pytest.mark.parametrize(
    ("quantity", "taken", "value", "scheme"),
    [
        ("lvidd", set(), "29436-3", "LN"),
        ("lvidd", {"two_d"}, "80007-8", "LN"),
        ("lvidd", {"m_mode", "teichholz"}, "80008-6", "LN"),
        ("ejection_fraction", {"teichholz"}, "18043-0", "LN"),
        ("ejection_fraction", {"m_mode", "teichholz"}, "18049-7", "LN"),
        ("left_atrium", {"m_mode"}, "79977-5", "LN"),
        ("left_atrium", {"two_d"}, "la", "99FANLIGHT"),
        ("lviddn", {"m_mode"}, "lvidd_kg294", "99FANLIGHT"),
    ],
)
def test_the_code_says_no_more_than_is_known(
    house: House, quantity: str, taken: set[str], value: str, scheme: str
) -> None:
    code = read_report_codes(house).quantities[quantity].best(taken)

    assert (code.value, code.scheme) == (value, scheme)


def test_no_two_quantities_share_a_code(house: House) -> None:
    owners: dict[tuple[str, str], set[str]] = {}
    for key, quantity in read_report_codes(house).quantities.items():
        for code in [*(code for _, code in quantity.public), *([quantity.own] if quantity.own else [])]:
            owners.setdefault((code.scheme, code.value), set()).add(key)

    assert [keys for keys in owners.values() if len(keys) > 1] == []


def broken(house: House, change: dict[str, Any]) -> House:
    table = house.table("dicom_codes")
    quantities = {**table["quantities"], "epss": change}
    return replace(house, tables={**house.tables, "dicom_codes": {**table, "quantities": quantities}})


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ({"codes": [{"value": "1-2"}]}, "quantities.epss: 'meaning' is missing"),
        ({"codes": []}, "quantities.epss: no code fits"),
        ({"own": {"value": "far_too_long_a_code", "meaning": "x"}}, "a code has 1 to 16 letters, got 19"),
    ],
)
def test_a_row_that_cannot_be_used_is_named(house: House, row: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        read_report_codes(broken(house, row))


def test_a_code_keeps_the_lengths_of_the_standard() -> None:
    """PS3.5 6.2: SH holds 16 letters, LO 64."""
    with pytest.raises(ValueError, match="a meaning has 1 to 64 letters, got 65"):
        Coded(value="a", scheme="b", meaning="m" * 65)
