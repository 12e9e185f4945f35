"""Support of LA:Ao, change between visits, and numbers that do not fit together."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from typing import Any

import pytest

from fanlight.study import (
    EarlierValue,
    GivenMeasurement,
    HeartFailure,
    Identity,
    Meaning,
    Measurement,
    Named,
    Remark,
    Request,
)
from fanlight.validity.meaning.change import earlier_values
from tests.validity.meaning.told import CAT, DOG, HOUSE, explained, given, graded, named, ours, study_of

MMVD: dict[str, Any] = {"named_diseases": ("MMVD",)}


def of_kind(meaning: Meaning, kind: str) -> tuple[Remark, ...]:
    return tuple(item for item in meaning.remarks if item.kind == kind)


def clips(*ratios: float) -> tuple[GivenMeasurement, ...]:
    return tuple(given("la_ao", ratio, method="2-D", clip_name=f"{at}.dcm") for at, ratio in enumerate(ratios))


LONG = given("la_ao_long_axis", 2.7, method="2-D")  # STROHM2018: 1.8 to 2.4 in 80 healthy dogs


@pytest.mark.parametrize(
    ("numbers", "words"),
    [
        ((*clips(1.9, 2.0, 1.8), LONG), "holds: 3 clips, 1.80 to 2.00, 3 of them at or above the limit"),
        ((*clips(1.9, 2.0), LONG), "is not borne out: it comes from 2 clips, and frames of 3 clips"),
        ((*clips(1.9, 2.0, 1.5), LONG), "is not borne out: 3 clips, 1.50 to 2.00, of which 2 reach the limit"),
        (
            clips(1.9, 2.0, 1.8),
            "is not borne out: 3 clips, 1.80 to 2.00, 3 of them at or above the limit; no long-axis LA",
        ),
        (
            (*clips(1.9, 2.0, 1.8), given("la_ao_long_axis", 2.1, method="2-D")),
            "LA:Ao long axis 2.10 (machine report) lies within its interval (STROHM2018) and does not agree",
        ),
        ((given("la_ao", 1.9), given("la_ao", 2.0), given("la_ao", 1.8), LONG), "it comes from one clip (which is not"),
        # a copy of a clip's number, of which nobody says where it was taken, is no third picture
        ((*clips(1.9, 2.0), given("la_ao", 2.0, method="2-D"), LONG), "it comes from 2 clips"),
        # a path and a bare name are one file
        (
            (*clips(1.9, 2.0), given("la_ao", 1.9, method="2-D", clip_name="export/0.dcm"), LONG),
            "it comes from 2 clips",
        ),
    ],
)
def test_a_large_atrium_needs_three_clips_and_the_long_axis(numbers: tuple[GivenMeasurement, ...], words: str) -> None:
    """The limit is 1.6 (LAROUCHE2019); frames of one clip share its plane and count once."""
    (remark,) = of_kind(explained(study_of(*numbers, **MMVD)), "limit")

    assert remark.words.startswith(f"LA:Ao {numbers[0].value:.2f} reaches 1.60 and ")
    assert words in remark.words


def test_caliper_conventions_are_never_counted_together() -> None:
    """Two published short-axis conventions are not interchangeable (FELINECARD p. 133, WHIPPET2023 table 1)."""
    one = clips(1.9, 2.0)
    other = replace(clips(1.8)[0], clip_name="c.dcm", method="2-D, commissure-parallel")
    (remark,) = of_kind(explained(study_of(*one, other, LONG, **MMVD)), "limit")

    assert "it comes from 2 clips" in remark.words
    assert "another caliper convention" in remark.words


def test_a_ratio_of_m_mode_stands_for_no_short_axis() -> None:
    """The cursor may miss the body of the atrium (WARE6): it neither reaches a limit nor bears one out."""
    m_mode = replace(clips(1.9)[0], method="M-mode")
    study = study_of(m_mode, LONG, named=named("myxomatous_mitral_valve_disease"))

    assert of_kind(explained(study), "limit") == ()
    assert "LA:Ao in the short axis" in graded(explained(study), "mitral_stage").missing


@pytest.mark.parametrize(
    ("sheet", "mentor", "words"),
    [
        ({"named_diseases": ("MMVD", "CHF")}, named(failure=HeartFailure.NONE), "differ on heart failure"),
        ({"named_diseases": ("MMVD", "no CHF")}, named(failure=HeartFailure.NONE), ""),
        ({"named_diseases": ("CHF",)}, named(failure=HeartFailure.PRESENT), ""),
        (
            {"treatment": "furosemide"},
            named(treatment="none"),
            "differ on treatment: the request sheet says 'furosemide'",
        ),
        ({"treatment": "None."}, named(treatment="pimobendan"), "M. Mentor 'pimobendan'"),
        ({"treatment": "none"}, named(treatment="none"), ""),
        ({}, named(treatment="pimobendan"), ""),
        ({"treatment": "furosemide"}, Named(), ""),
    ],
)
def test_the_request_sheet_and_the_mentor_may_differ(sheet: dict[str, Any], mentor: Named, words: str) -> None:
    found = explained(study_of(named=mentor, **sheet)).remarks
    assert [words in item.words for item in found] == ([True] if words else [])


def test_a_ratio_below_every_limit_that_speaks_needs_no_support() -> None:
    assert of_kind(explained(study_of(*clips(1.5), **MMVD)), "limit") == ()
    assert of_kind(explained(study_of(*clips(1.9))), "limit") == ()  # nobody named a disease: no limit speaks


def earlier(quantity: str, value: float, unit: str = "1", method: str = "2-D") -> EarlierValue:
    return EarlierValue(
        examined_on=date(2026, 3, 1), quantity=quantity, label=quantity, value=value, unit=unit, method=method
    )


NO_CHANGE = "No change since 1 March 2026 that can be told from a repeat scan: "
CHANGED = "Changed since 1 March 2026 beyond what a repeat scan may differ by: "


@pytest.mark.parametrize(
    ("before", "now", "words"),
    [
        # 2.77 times 12.5 % (HSUE2020) of the mean: 0.58 at 1.675, 0.66 at 1.9.
        (1.40, 1.95, f"{NO_CHANGE}LA:Ao 1.40, now 1.95 (0.58, CV 12.5 %)."),
        (1.50, 2.30, f"{CHANGED}LA:Ao 1.50, now 2.30 (0.66, CV 12.5 %)."),
        (2.30, 1.50, f"{CHANGED}LA:Ao 2.30, now 1.50 (0.66, CV 12.5 %)."),
    ],
)
def test_a_change_is_told_only_beyond_the_repeatability_coefficient(before: float, now: float, words: str) -> None:
    study = study_of(given("la_ao", now, method="2-D"), earlier=(earlier("la_ao", before),))
    (remark,) = of_kind(explained(study), "change")

    assert remark.words == words
    assert remark.citation == "HSUE2020"


def test_a_change_is_not_told_across_techniques_nor_where_nobody_knows_the_spread() -> None:
    """Velocities of dogs: no source of their repeatability was seen."""
    numbers = (given("lvidd", 36, "mm", method="M-mode"), given("mitral_e", 1.4, "m/s", method="PW"))
    then = (earlier("lvidd", 2.9, "cm"), earlier("mitral_e", 70, "cm/s", "PW"), earlier("la_ao", 1.4))
    words = [item.words for item in of_kind(explained(study_of(*numbers, earlier=then)), "change")]

    assert words == [
        "Not judged against 1 March 2026, since how far repeat scans scatter is not in the tables: "
        "E 0.70 m/s, now 1.40 m/s.",
        "Not compared with 1 March 2026, since taken in different ways: LVIDd 29.0 mm, now 36.0 mm "
        "(2-D then, M-mode now).",
        "Measured on 1 March 2026 and not again: LA:Ao 1.40.",
    ]


def test_an_earlier_review_gives_one_number_a_way_of_taking_a_quantity() -> None:
    """Of several givers the one who is believed first; values of one giver are averaged; a bound says it is one."""
    before = (
        replace(OURS[0], sheet_only=True), ours("la_ao", 1.3, "", 0.05), ours("la_ao", 1.5, "", 0.05),
        Measurement(name="lvidd", label="LVIDd", value=3.0, unit="cm", given_by="machine report", method="M-mode"),
        ours("aortic_vmax", 2.0, "m/s", 0.1, validity="at least: the beam crosses the flow"),
    )  # fmt: skip
    found = earlier_values(before, HOUSE, Identity(animal_name="Pip", case_number="7"), date(2026, 3, 1))

    assert [(item.quantity, item.value, item.unit, item.not_held) for item in found] == [
        ("lvidd", 30.0, "mm", ""), ("la_ao", 1.4, "1", ""),
        ("aortic_vmax", 2.0, "m/s", "at least: the beam crosses the flow"),
    ]  # fmt: skip
    assert [item.given_by for item in found] == ["machine report", "engine, mean of 2", "engine"]
    assert {(item.animal_name, item.case_number) for item in found} == {("Pip", "7")}


@pytest.mark.parametrize(
    ("identity", "words"),
    [
        (Identity(animal_name="Pip", case_number="7"), NO_CHANGE),
        (Identity(animal_name="pip "), NO_CHANGE),
        (Identity(), NO_CHANGE),
        (Identity(animal_name="Moss"), "Not compared with 1 March 2026, since the animal has another name or number"),
        (Identity(animal_name="Pip", case_number="8"), "Not compared with 1 March 2026, since the animal has another"),
        (Identity(examined_at=datetime(2026, 3, 1)), "Not compared with 1 March 2026, which is no earlier day"),
    ],
)
def test_another_animal_or_a_later_day_is_compared_with_nothing(identity: Identity, words: str) -> None:
    then = replace(earlier("la_ao", 1.5), animal_name="Pip", case_number="7")
    study = replace(study_of(given("la_ao", 1.6, method="2-D"), earlier=(then,)), identity=identity)
    (remark,) = of_kind(explained(study), "change")

    assert remark.words.startswith(words)


def test_a_change_from_a_number_kept_off_the_summary_is_kept_off_it() -> None:
    then = replace(earlier("la_ao", 1.5), sheet_only=True)
    (remark,) = of_kind(explained(study_of(given("la_ao", 1.6, method="2-D"), earlier=(then,))), "change")
    assert remark.sheet_only


def test_short_and_long_axis_of_the_atrium() -> None:
    """STROHM2018: long-axis LA:Ao of 80 healthy dogs 1.8 to 2.4."""
    numbers = (given("la_ao", 1.4, method="2-D"), given("la_ao_long_axis", 2.8, method="2-D"))
    (remark,) = of_kind(explained(study_of(*numbers)), "discordance")

    assert remark.words.startswith(
        "Short and long axis of the left atrium disagree: LA:Ao 1.40 (machine report) is below"
    )
    assert of_kind(explained(study_of(numbers[0], replace(numbers[1], value=2.2))), "discordance") == ()


@pytest.mark.parametrize(("epss", "fs", "agrees"), [(8, 33, False), (4, 18, False), (8, 18, True), (4, 33, True)])
def test_epss_and_shortening(epss: float, fs: float, agrees: bool) -> None:
    """WARE6 table 2.1: EPSS up to 6 mm, FS 25 to 47 % in dogs."""
    numbers = (given("epss", epss, "mm"), given("fractional_shortening", fs, "%"))
    assert (of_kind(explained(study_of(*numbers)), "discordance") == ()) is agrees


@pytest.mark.parametrize(
    ("two_d", "weight_kg", "agrees"),
    [
        (39.0, 30.0, False),  # 4.0 mm apart, 3.9 at most; 11 %
        (37.5, 30.0, True),  # 2.5 mm, 7 %
        (37.5, 8.0, True),  # below 2.7 mm
        (37.8, 8.0, False),  # 2.8 mm in a dog below 15 kg
    ],
)
def test_m_mode_and_two_d(two_d: float, weight_kg: float, agrees: bool) -> None:
    """LV2DMM, 206 dogs: LVIDd within 10 %, 95 % of pairs closer than 3.9 mm, than 2.7 mm below 15 kg."""
    numbers = (given("lvidd", 35.0, "mm", method="M-mode"), given("lvidd", two_d, "mm", method="2-D"))
    study = study_of(*numbers, patient=replace(DOG, weight_kg=weight_kg))
    assert (of_kind(explained(study), "discordance") == ()) is agrees


@pytest.mark.parametrize(
    ("numbers", "words"),
    [
        # UCDCASES case 11: 4.7 and 2.3 cm give 51 %.
        ((given("lvidd", 4.7, "cm"), given("lvids", 2.3, "cm"), given("fractional_shortening", 51, "%")), ""),
        (
            (given("lvidd", 4.7, "cm"), given("lvids", 2.3, "cm"), given("fractional_shortening", 43, "%")),
            "does not follow from the same giver's LVIDd and LVIDs, which give 51.1 %",
        ),
        # PEREIRA2009: E 0.747 and A 0.487 m/s, ratio 1.53.
        ((given("mitral_e", 0.747, "m/s"), given("mitral_a", -48.7, "cm/s"), given("mitral_e_a", 1.53)), ""),
        (
            (given("mitral_e", 0.747, "m/s"), given("mitral_a", 0.487, "m/s"), given("mitral_e_a", 0.65)),
            "E:A 0.65 (machine report) does not follow",
        ),
        ((given("lvidd", 2.3, "cm"), given("lvids", 4.7, "cm")), "LVIDs 47.0 mm is not smaller than LVIDd 23.0 mm"),
    ],
)  # fmt: skip
def test_the_arithmetic_of_one_giver(numbers: tuple[GivenMeasurement, ...], words: str) -> None:
    found = of_kind(explained(study_of(*numbers)), "discordance")

    assert [words in item.words for item in found] == ([True] if words else [])
    assert all(item.about_reading for item in found)


OURS = (
    ours("lvidd", 34.0, "mm", 0.5, method="M-mode, leading edge"), ours("lvids", 21.0, "mm", 0.5, method="M-mode"),
    ours("ivsd", 8.0, "mm", 0.4, method="M-mode"), ours("lvwd", 6.0, "mm", 0.4, method="M-mode"),
)  # fmt: skip


@pytest.mark.parametrize(
    ("theirs", "likely"),
    [
        (42.0, "the difference is the thickness of our IVSd: the caliper may have taken that wall in"),
        (40.0, "the difference is the thickness of our LVWd: the caliper may have taken that wall in"),
        (21.2, "it agrees with our LVIDs: the two may have been mixed up"),
        (3.4, "the two differ tenfold: mm and cm may have been mixed up"),
        (48.5, ""),
    ],
)
def test_a_slip_is_named_only_when_the_numbers_show_it(theirs: float, likely: str) -> None:
    """Two readers of one M-mode: CV 4.3 % (ACVIM2018C10), so that 34 and 36 mm are one reading and 40 is another."""
    numbers = given("lvidd", theirs, "mm", method="M-mode", clip_name="a.dcm", given_by="request sheet")
    found = [item for item in explained(study_of(numbers), *OURS).remarks if item.about_reading]

    assert [item.likely for item in found] == [likely]


def test_readings_that_agree_are_not_told() -> None:
    numbers = given("lvidd", 36.0, "mm", method="M-mode", clip_name="export/a.dcm")
    assert explained(study_of(numbers), *OURS).remarks == ()


def test_no_slip_is_named_where_two_fit() -> None:
    """Both walls are 8 mm thick: which of them the caliper took in nobody can tell."""
    walls = (OURS[0], OURS[2], replace(OURS[3], value=8.0))
    numbers = given("lvidd", 42.0, "mm", method="M-mode", clip_name="a.dcm")
    (found,) = explained(study_of(numbers), *walls).remarks
    assert found.likely == ""


def test_another_clip_may_differ_as_much_as_a_repeat_scan() -> None:
    """M-mode taken again: CV 9.3 %; measuring alone 4.3 % (ACVIM2018C10)."""
    same = given("lvidd", 40.0, "mm", method="M-mode", clip_name="a.dcm")
    other = replace(same, clip_name="b.dcm")

    assert explained(study_of(same), *OURS).remarks != ()
    assert explained(study_of(other), *OURS).remarks == ()


def test_the_caliper_in_which_a_ratio_differs_is_named() -> None:
    """FS 45 and 10 % lie further apart than two observers do (26.6 %, CHETBOUL2005); LVIDd agrees, LVIDs does not."""
    mine = (
        ours("fractional_shortening", 45.0, "%", 1.5, method="M-mode"),
        OURS[0], replace(OURS[1], value=18.7),
    )  # fmt: skip
    numbers = tuple(
        given(name, value, unit, method="M-mode", clip_name="a.dcm")
        for name, value, unit in (("lvidd", 34.5, "mm"), ("lvids", 31.0, "mm"), ("fractional_shortening", 10.1, "%"))
    )

    def slips(*theirs: GivenMeasurement) -> list[str]:
        return [item.likely for item in explained(study_of(*theirs), *mine).remarks if item.words.startswith("FS: ")]

    assert slips(*numbers) == ["LVIDd agrees and LVIDs does not: the difference lies in that caliper"]
    assert slips(numbers[2]) == [""]  # no part of it was given


@pytest.mark.parametrize(
    ("theirs", "mine", "is_told"),
    [("M-mode", "M-mode", True), ("", "M-mode", False), ("M-mode", "", False), ("2-D", "M-mode", False)],
)
@pytest.mark.parametrize("quantity", ["left_atrium", "aortic_root"])
def test_atrium_and_aorta_are_held_together_only_where_both_say_how(
    quantity: str, theirs: str, mine: str, is_told: bool
) -> None:
    """M-mode and 2-D give them under one name from other walls at other moments (CORNELL2004; WARE6 for cats).

    Told apart tenfold, which no spread has to be known for.
    """
    numbers = given(quantity, 210.0, "mm", method=theirs, clip_name="a.dcm", given_by="request sheet")
    found = explained(study_of(numbers), ours(quantity, 21.0, "mm", 0.6, method=mine)).remarks

    assert bool([item for item in found if item.kind == "discordance"]) == is_told


def test_bounds_and_numbers_without_a_value_are_held_against_nothing() -> None:
    bound = ours("aortic_vmax", 1.2, "m/s", 0.05, validity="at least: the beam crosses the flow")
    none = Measurement(name="lvidd", label="LVIDd", value=None, unit="", given_by="engine", reason="no beat")
    study = study_of(given("aortic_vmax", 4.0, "m/s"), given("lvidd", 30, "mm"))

    assert explained(study, bound, none).remarks == ()


def test_a_study_of_which_nothing_is_known_means_nothing() -> None:
    """No species, no weight, no breed: no crash, and no remark that would need them."""
    blank = replace(study_of(given("la_ao", 2.4), given("epss", 9, "mm")), patient=replace(DOG, species=None))
    assert explained(blank).remarks == ()
    assert explained(replace(blank, patient=CAT, request=Request())).gradings == ()
    assert HOUSE.table("meaning")["settings"]["independent_frames"] == 3
