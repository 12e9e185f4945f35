"""Every row of every table has its fields, and every key that it names exists."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

import pytest

from fanlight.reference.bibliography import read_bibliography
from fanlight.reference.breeds import match_breed, read_breeds
from fanlight.reference.criteria import read_criteria
from fanlight.reference.diseases import match_disease, read_diseases, unmatched_diseases
from fanlight.reference.interval_rows import read_intervals, read_refused
from fanlight.reference.methods import match_method, read_methods
from fanlight.reference.plans import read_plans
from fanlight.reference.quantities import match_quantity, match_quantity_code, read_quantities
from fanlight.reference.units import UnitError, convert_unit
from fanlight.reference.views import read_views
from fanlight.reference.wording import compact, find_phrases, plain
from fanlight.study import House, ReferenceKind, Request, Species
from tests.reference.outside import STANDARD_CODES


def _texts(table: Any) -> Iterator[str]:
    if isinstance(table, Mapping):
        for key, value in table.items():
            yield str(key)
            yield from _texts(value)
    elif isinstance(table, tuple | list):
        for value in table:
            yield from _texts(value)
    elif isinstance(table, str):
        yield table


def test_every_citation_is_in_the_bibliography(house: House) -> None:
    """Rows of intervals, views, plans and criteria cite works that can be printed."""
    works = read_bibliography(house)
    cited = {row.citation for row in read_intervals(house).values()}
    cited |= {row.via for row in read_intervals(house).values() if row.via}
    cited |= {row.citation for row in read_refused(house).values()}
    cited |= {view.source for view in read_views(house).values() if view.source}
    cited |= {plan.source for plan in read_plans(house).values() if plan.source}
    for criterion in read_criteria(house).values():
        cited |= {key for key in re.split(r"[,;\s]+", criterion.source) if key}

    assert cited - set(works) == set()


def test_keys_in_remarks_are_in_the_bibliography(house: House) -> None:
    """A key in capitals that ends in a year, anywhere in a text of a table, is a work that can be printed."""
    works = read_bibliography(house)
    for name in ("intervals", "views", "valves", "plans", "ladder"):
        for text in _texts(house.table(name)):
            for key in re.findall(r"\b[A-Z]{3,}[A-Z_]*(?:19|20)\d\d\b", text):
                assert key in works, (name, key)


def test_every_work_says_what_was_read(house: House) -> None:
    """No work without a citation, a short name and what was seen of it; short names tell works apart."""
    works = read_bibliography(house)
    for work in works.values():
        assert work.citation
        assert work.read
        assert work.doi == "" or work.doi.startswith("10.")
        assert "Read: " in work.words()
    assert len({work.short for work in works.values()}) == len(works)
    assert works["THOMAS1993"].words().startswith("Thomas WP")


def test_intervals_are_complete_and_consistent(house: House) -> None:
    """149 rows, three refused; each with animals, basis, words, and keys that exist."""
    rows = read_intervals(house)
    quantities, methods, diseases, breeds = (
        read_quantities(house), read_methods(house), read_diseases(house), read_breeds(house),
    )  # fmt: skip

    assert len(rows) == 149
    assert len(read_refused(house)) == 3
    for key, row in rows.items():
        assert row.applies_when.endswith("."), key
        assert row.basis, key
        assert set(row.quantities) <= set(quantities), key
        assert set(row.technique + row.near_technique + row.phase + row.window) <= set(methods), key
        assert set(row.needs_named + row.unless_named) <= set(diseases), key
        assert set(row.breeds + row.exclude_breeds) <= set(breeds), key
        assert all(breeds[breed].species is row.species for breed in row.breeds + row.exclude_breeds), key
        assert set(row.exclude_groups) <= {breed.group for breed in breeds.values()}, key
        assert row.same_as == "" or row.same_as in rows, key
        assert row.curve_of == "" or row.curve_of in rows, key
        assert not row.near_technique or row.near_note, key
        assert row.status != "memory" or "emember" in row.note or row.checked == "yes", key
        for name, value in row.numbers:
            assert value >= 0, (key, name)


def test_only_intervals_of_enough_adults_give_z(house: House) -> None:
    """Thirteen rows give z; each names adults, a range of weights and at least 120 animals."""
    speaking = [row for row in read_intervals(house).values() if row.gives_z]

    assert len(speaking) == 13
    for row in speaking:
        assert row.kind is ReferenceKind.REFERENCE_INTERVAL
        assert row.adult
        assert row.weight_kg is not None
        assert row.n >= 120


def test_kinds_are_counted(house: House) -> None:
    """The number of rows of each kind, refused ones included: a row that changes its kind is noticed."""
    kinds = [row.kind for row in read_intervals(house).values()] + [row.kind for row in read_refused(house).values()]

    assert {kind.value: kinds.count(kind) for kind in ReferenceKind} == {
        "reference_interval": 65,
        "staging_criterion": 3,
        "disease_definition": 5,
        "diagnostic_cutoff": 32,
        "severity_band": 10,
        "study_inclusion": 2,
        "repeatability": 17,
        "other_fact": 18,
    }


def test_limits_are_in_a_unit_of_their_quantity(house: House) -> None:
    """The unit of a row can be turned into the unit of each quantity for which it speaks."""
    quantities = read_quantities(house)
    for key, row in read_intervals(house).items():
        if row.kind is ReferenceKind.REPEATABILITY:
            continue
        for quantity in row.quantities:
            if row.form == "index_limit" and quantity != row.detail("size_quantity"):
                continue
            try:
                convert_unit(1.0, row.unit, quantities[quantity].unit)
            except UnitError:
                pytest.fail(f"{key}: {row.unit} is no unit of {quantity}")


def test_labels_and_codes_name_one_quantity_each(house: House) -> None:
    """No label and no code stands for two quantities; a prime makes another quantity."""
    owners: dict[str, set[str]] = {}
    codes: dict[str, set[str]] = {}
    for key, quantity in read_quantities(house).items():
        for name in (key, quantity.symbol, quantity.title, *quantity.words):
            owners.setdefault(compact(name), set()).add(key)
            assert match_quantity(house, name) == key
        for code, technique in quantity.codes:
            codes.setdefault(code, set()).add(key)
            assert technique == "" or technique in read_methods(house)
    assert [name for name, keys in (owners | codes).items() if len(keys) > 1] == []
    assert match_quantity(house, "E'") == ""
    assert match_quantity_code(house, "80008-6") == ("lvidd", "m_mode")
    assert match_quantity_code(house, "no code") == ("", "")


def test_quantity_codes_are_those_of_the_standard(house: House) -> None:
    """Each LOINC code stands in the code dictionaries of pydicom, and its meaning fits (LOINC, DICOM PS3.16)."""
    keyword_of = {code: keyword for keyword, codes in STANDARD_CODES["LN"].items() for code in codes}
    ends = {
        "two_d": ("2D",),
        "m_mode": ("MM", "MMode"),
        "teichholz": ("Teichholz2D", "TeichholzMM"),
        "simpson": ("MOD",),
    }
    for key, quantity in read_quantities(house).items():
        for code, technique in quantity.codes:
            assert code in keyword_of, (key, code)
            assert not technique or keyword_of[code].endswith(ends[technique]), (key, code)
            if not technique:
                assert not keyword_of[code].endswith(("2D", "MM", "MMode")), (key, code)


def test_breeds_are_told_apart(house: House) -> None:
    """Longer names use up their words; sighthounds are found in crosses; cats and dogs do not mix."""

    def keys(text: str, species: Species | None = Species.DOG) -> list[str]:
        return [breed.key for breed in match_breed(house, text, species)]

    assert keys("Cavalier King Charles Spaniel (tricolour)") == ["cavalier_king_charles_spaniel"]
    assert keys("Whippet x Labrador") == ["whippet", "labrador_retriever"]
    assert keys("GALGO ESPAÑOL") == ["greyhound"]
    assert keys("Persian", Species.DOG) == []
    assert keys("Persian", Species.CAT) == ["persian"]
    assert keys("") == []
    sighthounds = {breed.key for breed in read_breeds(house).values() if breed.group == "sighthound"}
    assert {"greyhound", "whippet", "irish_wolfhound", "scottish_deerhound", "borzoi", "saluki"} <= sighthounds


def test_no_breed_word_stands_for_two_breeds(house: House) -> None:
    """Within a species every word belongs to one breed, and every name finds its breed."""
    owners: dict[tuple[Species, str], set[str]] = {}
    for breed in read_breeds(house).values():
        for word in (breed.name, *breed.words):
            owners.setdefault((breed.species, plain(word)), set()).add(breed.key)
        assert match_breed(house, breed.name, breed.species) == (breed,), breed.name
    assert [word for word, keys in owners.items() if len(keys) > 1] == []


def test_denied_diseases_are_not_named(house: House) -> None:
    """A disease that the text denies is not one that it names."""
    assert match_disease(house, "MMVD, no CHF") == ("myxomatous_mitral_valve_disease",)
    assert match_disease(house, "hypertrophic_cardiomyopathy") == ("hypertrophic_cardiomyopathy",)
    assert match_disease(house, "") == ()
    assert match_disease(house, "HCM?") == ()
    assert match_disease(house, "rule out HCM") == ()


def test_words_for_diseases_that_no_table_understands_are_told(house: House) -> None:
    """As they were written; what is denied is understood, what is only doubted is not named."""
    named = ("MMVD", "no CHF", "Ringelmann syndrome", "HCM?", "", "pulmonary_hypertension", "Ringelmann syndrome")

    assert unmatched_diseases(house, Request(named_diseases=named)) == ("Ringelmann syndrome", "HCM?")
    assert unmatched_diseases(house, Request()) == ()


def test_methods_are_read_from_words(house: House) -> None:
    """Technique, phase and window, and nothing where nothing is said."""
    taken = match_method(house, "2D short axis, early diastole")

    assert (taken.technique, taken.phase, taken.window) == (("two_d",), ("early_diastole",), ())
    assert match_method(house, "la_ao/1").technique == ()
    assert match_method(house, "CW, subcostal").window == ("subcostal",)


def test_views_are_complete(house: House) -> None:
    """Every view says what it must show in words, and measures what the tables know."""
    quantities = read_quantities(house)
    for key, view in read_views(house).items():
        assert view.title, key
        assert view.must_show, key
        assert all(words.strip() for words in view.must_show + view.must_not_show), key
        assert set(view.measurements) <= set(quantities), key


def test_no_row_says_what_the_letter_must_not(house: House) -> None:
    """No drug, no holding of breath, no closing of the mouth in any text of these tables."""
    forbidden = re.compile(r"hold (its|the) breath|close (its|the) mouth|mg/kg|pimobendan|furosemide", re.IGNORECASE)
    for name in ("intervals", "views", "plans", "valves", "ladder", "quantities", "methods", "diseases"):
        for text in _texts(house.table(name)):
            assert not forbidden.search(text), (name, text)


def test_phrases_are_whole_words() -> None:
    """A phrase inside a longer word is not found, and words are used once."""
    assert find_phrases("hcms and hcm", ["hcm"]) == ("hcm",)
    assert find_phrases("apical four chamber", ["four chamber", "apical four chamber"]) == ("apical four chamber",)
    assert find_phrases("", ["a"]) == ()
