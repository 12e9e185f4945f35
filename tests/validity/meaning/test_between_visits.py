"""Each number beside that of an earlier visit: changed, not to be told, or not compared and why."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from fanlight.measure.marked import GIVEN_BY
from fanlight.study import Change, Compared, EarlierValue, GivenMeasurement, Identity, Measurement
from fanlight.validity.meaning.change import earlier_values
from fanlight.validity.meaning.explained import explain
from fanlight.validity.meaning.inputs import TakenOn
from tests.validity.meaning.told import HOUSE, explained, given, ours, study_of

MARCH = date(2026, 3, 1)


def then(quantity: str, value: float | None, unit: str = "1", method: str = "2-D", **facts: Any) -> EarlierValue:
    return EarlierValue(
        examined_on=MARCH, quantity=quantity, label=quantity, value=value, unit=unit, method=method, **facts
    )


def change_of(now: GivenMeasurement, *earlier: EarlierValue) -> Change:
    (found,) = explained(study_of(now, earlier=earlier)).changes
    return found


@pytest.mark.parametrize(
    ("before", "now", "told", "words"),
    [
        # 1.96·√2·12.5 % (HSUE2020) of the mean: 0.346 of it; 0.658 at 1.90, 0.580 at 1.675, 0.520 at 1.50.
        (
            1.50, 2.30, Compared.BEYOND,
            "1 March 2026: 1.50. +0.80 since: differs by more than 95 of 100 repeat scans of one heart do "
            "(repeatability coefficient 0.66: CV 12.5 %, 9 dogs, ",
        ),
        (2.30, 1.50, Compared.BEYOND, "1 March 2026: 2.30. −0.80 since: differs by more than 95 of 100"),
        (
            1.40, 1.95, Compared.WITHIN,
            "1 March 2026: 1.40. +0.55 since: cannot be told from a repeat scan (repeatability coefficient 0.58: ",
        ),
        (1.25, 1.76, Compared.WITHIN, "1 March 2026: 1.25. +0.51 since: cannot be told"),
        (1.24, 1.77, Compared.BEYOND, "1 March 2026: 1.24. +0.53 since: differs by more"),
    ],
)  # fmt: skip
def test_a_row_says_the_earlier_value_its_day_the_difference_and_the_coefficient(
    before: float, now: float, told: Compared, words: str
) -> None:
    found = change_of(given("la_ao", now, method="2-D"), then("la_ao", before))

    assert found.words.startswith(words)
    assert (found.told, found.before, found.now, found.examined_on) == (told, before, now, MARCH)
    assert found.citation == "HSUE2020"


def test_the_coefficient_is_that_of_the_reference_sheet() -> None:
    """2.77 times the within-scan SD of the mean (BA1986): 9.3 % of M-mode diameters (ACVIM2018C10), here of 30 mm."""
    found = change_of(given("lvidd", 3.2, "cm", method="M-mode"), then("lvidd", 28.0, "mm", "M-mode"))

    assert found.least == pytest.approx(2.77 * 0.093 * 3.0, abs=0.005)
    assert found.before == pytest.approx(2.8)
    assert found.unit == "cm"
    assert "2.80 cm. +0.40 cm since: cannot be told" in found.words


@pytest.mark.parametrize(
    ("now", "earlier", "why"),
    [
        (given("mitral_e", 1.4, "m/s", method="PW"), then("mitral_e", 0.7, "m/s", "PW"),
         "0.70 m/s. Not compared: no published repeatability coefficient."),
        (given("lvidd", 36, "mm", method="M-mode"), then("lvidd", 2.9, "cm"),
         "29.0 mm. Not compared: 2-D then, M-mode now."),
        (given("la_ao", 1.9, method="2-D, early diastole"), then("la_ao", 1.4, method="2-D, end-systole"),
         "1.40. Not compared: end-systole then, early diastole, first frame after the aortic valve has closed now."),
        (given("aortic_vmax", 2.4, "m/s", method="CW, subcostal"), then("aortic_vmax", 1.9, "m/s", "CW, left apical"),
         "1.90 m/s. Not compared: left apical window then, subcostal window now."),
        (given("la_ao", 1.9, method="2-D, single line"), then("la_ao", 1.4, method="2-D, commissure-parallel"),
         "1.40. Not compared: calipers commissure-parallel then, calipers single line now."),
        (given("la_ao", 1.9, method="2-D, single line"), then("la_ao", 1.4),
         "1.40. Not compared: calipers not stated then, calipers single line now."),
        (given("left_atrium", 30, "mm", method="2-D"), then("left_atrium", 20, "mm", ""),
         "20.0 mm. Not compared: the technique is not stated, and M-mode and 2-D differ."),
        (given("aortic_vmax", 5.0, "m/s", method="CW"),
         then("aortic_vmax", 4.1, "m/s", "CW", not_held="at least: the beam crosses the flow; note: one beat"),
         "at least 4.10 m/s. Not compared: then at least: the beam crosses the flow."),
        (given("la_ao", 1.9, method="2-D"), then("la_ao", None, not_held="refused: the plane is oblique"),
         "no number. Not compared: then refused: the plane is oblique."),
    ],
)  # fmt: skip
def test_what_does_not_hold_or_was_taken_otherwise_is_not_compared_and_says_why(
    now: GivenMeasurement, earlier: EarlierValue, why: str
) -> None:
    found = change_of(now, earlier)

    assert found.words == f"1 March 2026: {why}"
    assert (found.told, found.least) == (Compared.NOT_COMPARED, None)


def test_a_bound_of_today_is_not_compared() -> None:
    bound = ours("lvidd", 30.0, "mm", 0.5, method="2-D", validity="at most: the cursor is oblique; note: one beat")
    (found,) = explained(study_of(earlier=(then("lvidd", 36.0, "mm"),)), bound).changes

    assert found.words == "1 March 2026: 36.0 mm. Not compared: now at most: the cursor is oblique."


def test_a_number_that_is_refused_today_says_so_where_the_earlier_one_stands() -> None:
    refused = replace(ours("lvidd", 0.0, "mm", 0.0, method="2-D"), value=None, validity="refused: the plane is oblique")
    meaning = explained(study_of(earlier=(then("lvidd", 36.0, "mm"),)), refused)

    assert meaning.changes == ()
    (remark,) = (item for item in meaning.remarks if item.kind == "change")
    assert remark.words == "Measured on 1 March 2026 and not again: LVIDd 36.0 mm (now refused: the plane is oblique)."


LONG, SHORT = "right_parasternal_long_axis_four_chamber", "right_parasternal_short_axis_papillary"


@pytest.mark.parametrize(
    ("view", "is_compared"),
    [(SHORT, True), ("", True), (LONG, False)],
)
def test_numbers_of_another_plane_are_not_compared(view: str, is_compared: bool) -> None:
    """Where a clip's view is not known, the number is compared as others that do not say."""
    hand = ours("lvidd", 44.0, "mm", 0.5, method="2-D picture/1", given_by=GIVEN_BY)
    study = study_of(earlier=(then("lvidd", 20.0, "mm", view=view),))
    (found,) = explain(study, HOUSE, (hand,), {"a.dcm": TakenOn(view=SHORT, mode="2-D")}).changes

    assert (found.told is Compared.BEYOND) is is_compared
    assert ("axis" in found.words) is not is_compared


def test_a_strip_without_a_technique_in_words_takes_that_of_its_clip() -> None:
    """Continuous wave finds the fastest flow along its line, pulsed wave that of its gate."""
    strip = ours("aortic_vmax", 2.4, "m/s", 0.1, method="spectrum from pixels/1")
    before = then("aortic_vmax", 1.5, "m/s", "spectrum from pixels/1", mode="pulsed-wave Doppler")
    by_mode = explain(
        study_of(earlier=(before,)), HOUSE, (strip,), {"a.dcm": TakenOn(mode="continuous-wave Doppler")}
    ).changes

    assert "Not compared: pulsed-wave Doppler then, continuous-wave Doppler now." in by_mode[0].words


def test_of_several_givers_the_row_of_the_one_who_is_believed_first_says_it() -> None:
    """A hand's number before the engine's and the machine's, as everywhere; one taken otherwise has its own."""
    hand = ours("lvidd", 44.0, "mm", 0.5, method="2-D picture/1; marked by hand", given_by=GIVEN_BY)
    engine = ours("lvidd", 46.0, "mm", 0.5, method="2-D picture/1; found", sheet_only=True)
    study = study_of(
        given("lvidd", 4.5, "cm", method="M-mode"),
        earlier=(then("lvidd", 20.0, "mm"), then("lvidd", 22.0, "mm", "M-mode")),
    )
    found = explained(study, hand, engine).changes

    assert [(item.given_by, item.before, item.now) for item in found] == [
        (GIVEN_BY, 20.0, 44.0), ("machine report", pytest.approx(2.2), 4.5),
    ]  # fmt: skip


def test_a_visit_whose_number_does_not_hold_is_named_and_an_older_one_is_compared_with() -> None:
    older = replace(then("la_ao", 1.3), examined_on=date(2025, 9, 9))
    oldest = replace(then("la_ao", 1.1), examined_on=date(2025, 3, 3))
    refused = then("la_ao", None, not_held="refused: the plane is oblique")
    found = explained(study_of(given("la_ao", 2.0, method="2-D"), earlier=(oldest, refused, older))).changes

    assert [item.words[:40] for item in found] == [
        "1 March 2026: no number. Not compared: t", "9 September 2025: 1.30. +0.70 since: dif",
    ]  # fmt: skip


def test_one_name_in_another_order_is_one_animal_and_a_day_of_receipt_says_so() -> None:
    earlier = then("la_ao", 1.3, animal_name="Rowan Pip", is_day_received=True)
    study = replace(
        study_of(given("la_ao", 2.0, method="2-D"), earlier=(earlier,)), identity=Identity(animal_name="pip, rowan")
    )
    (found,) = explained(study).changes

    assert found.words.startswith("1 March 2026 (the day it was received): 1.30. +0.70 since: differs")


def test_earlier_numbers_keep_view_mode_giver_and_why_they_do_not_hold() -> None:
    before = (
        ours("lvidd", 30.0, "mm", 0.5, given_by=GIVEN_BY), ours("lvidd", 50.0, "mm", 0.5, rank=2),
        replace(ours("la_ao", 0.0, "1", 0.0), value=None, validity="refused: oblique"),
        Measurement(name="epss", label="EPSS", value=None, unit="mm", given_by="engine", reason="not measured: no tip"),
    )  # fmt: skip
    found = earlier_values(before, HOUSE, Identity(), MARCH, {"a.dcm": TakenOn(view=SHORT, mode="2-D")})

    assert [(item.quantity, item.value, item.given_by, item.view, item.mode, item.not_held) for item in found] == [
        ("lvidd", 30.0, GIVEN_BY, SHORT, "2-D", ""), ("la_ao", None, "engine", SHORT, "2-D", "refused: oblique"),
    ]  # fmt: skip
