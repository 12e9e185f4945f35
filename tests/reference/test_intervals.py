"""A value is weighed only by rows that hold for it, and each row says why it speaks or not."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scipy import stats

from fanlight.reference.interval_limits import Limits, place, work_out_limits, z_score
from fanlight.reference.intervals import read_intervals, read_refused, weigh, why_none
from fanlight.study import HeartFailure, House, IntervalReading, Named, Patient, ReferenceKind, Request, Species

BEAGLE = Patient(species=Species.DOG, breed="Beagle", sex="male", weight_kg=8.0, age_years=5)
CAT = Patient(species=Species.CAT, breed="DSH", sex="female", weight_kg=4.5, age_years=6)
NOTHING_NAMED = Request()


def _by_row(readings: tuple[IntervalReading, ...]) -> dict[str, IntervalReading]:
    return {reading.row: reading for reading in readings}


def _weigh_lvidd(house: House, patient: Patient, *named: str, method: str = "M-mode") -> dict[str, IntervalReading]:
    return _by_row(weigh(house, "lvidd", 3.6, "cm", method, patient, Request(named_diseases=named)))


def test_the_primary_row_comes_first_and_those_that_disagree_follow(house: House) -> None:
    """Both published intervals speak, in the table's order, each with its own z."""
    readings = weigh(house, "LVIDd", 3.6, "cm", "M-mode", BEAGLE, NOTHING_NAMED)

    speaking = [reading for reading in readings if reading.applies]
    assert [reading.row for reading in speaking] == ["dog_lvidd_mmode_cornell2004", "dog_lvidd_mmode_esser2020"]
    assert speaking[0].z == pytest.approx(2.546, abs=0.002)
    assert speaking[1].z == pytest.approx(3.405, abs=0.005)
    assert "3.60 cm lies above the 95 % prediction interval (2.34 to 3.41 cm) for an adult dog of 8 kg" in (
        speaking[0].words
    )
    assert "at or above the 97.5th percentile" in speaking[1].words


def test_z_is_196_on_the_limits_and_0_in_the_centre() -> None:
    """Identity: 95 % of a normal distribution lie within 1.96 SD (scipy.stats.norm), on the scale of logarithms."""
    even = Limits(lower=1.0, centre=2.0, upper=4.0)
    skewed = Limits(lower=1.5, centre=2.0, upper=4.0)

    assert z_score(4.0, even) == pytest.approx(stats.norm.ppf(0.975), abs=0.001)
    assert z_score(1.0, even) == pytest.approx(stats.norm.ppf(0.025), abs=0.001)
    assert z_score(2.0, even) == 0.0
    assert z_score(4.0, skewed, skewed=True) == pytest.approx(1.96)
    assert z_score(1.5, skewed, skewed=True) == pytest.approx(-1.96)


@pytest.mark.parametrize(("value", "unit"), [(3.6, "cm"), (36.0, "mm"), (36.0, "MM"), (0.036, "m")])
def test_the_unit_makes_no_difference(house: House, value: float, unit: str) -> None:
    """The same length in another unit has the same z, and the limits come in that unit."""
    reading = weigh(house, "lvidd", value, unit, "M-mode", BEAGLE, NOTHING_NAMED)[0]

    assert reading.z == pytest.approx(2.546, abs=0.002)
    assert reading.unit == unit
    assert reading.upper is not None
    assert reading.upper / value == pytest.approx(3.409 / 3.6, abs=0.001)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"weight_kg": None}, "weight not stated"),
        ({"age_years": None}, "age not stated, and the row is for adults"),
        ({"age_years": 0.5}, "6 months old, and counts as adult from 1 year 6 months"),
        ({"breed": ""}, "breed not stated, and the row leaves out sighthounds"),
        ({"breed": "Whippet"}, "given as Whippet"),
        ({"breed": "Greyhound x Labrador"}, "given as Greyhound"),
        ({"breed": "Zwergkobold"}, "'Zwergkobold' is not in the table of breeds"),
        ({"weight_kg": 2.0}, "weighs 2 kg, and the row holds from 2.2 to 95 kg"),
        ({"weight_kg": 96.0}, "weighs 96 kg"),
    ],
)
def test_nothing_is_guessed_about_the_animal(house: House, change: dict[str, object], words: str) -> None:
    """What is missing or does not fit keeps the interval silent, without z, and is named."""
    reading = _weigh_lvidd(house, replace(BEAGLE, **change))["dog_lvidd_mmode_cornell2004"]  # type: ignore[arg-type]

    assert not reading.applies
    assert reading.z is None
    assert words in reading.reason
    assert reading.words.startswith("does not speak: ")


def test_limits_are_shown_beside_a_gap_but_never_for_an_animal_left_out(house: House) -> None:
    """A missing age leaves the limits to be seen; for a sighthound they would mislead."""
    row = "dog_lvidd_mmode_cornell2004"
    gap = _weigh_lvidd(house, replace(BEAGLE, age_years=None))[row]
    left_out = _weigh_lvidd(house, replace(BEAGLE, breed="Whippet"))[row]

    assert gap.upper == pytest.approx(3.409, abs=0.001)
    assert "would be 2.34 to 3.41 cm" in gap.words
    assert left_out.upper is None
    assert left_out.lower is None


def test_without_a_species_every_row_is_silent(house: House) -> None:
    """Dog and cat rows alike say that the species is not stated."""
    readings = weigh(house, "lvidd", 3.6, "cm", "M-mode", Patient(weight_kg=8.0), NOTHING_NAMED)

    assert len(readings) > 5
    assert {reading.applies for reading in readings} == {False}
    assert {reading.reason for reading in readings if "must not be used" not in reading.reason} == {
        "species not stated"
    }


def test_a_newfoundland_is_left_out_by_one_interval_only(house: House) -> None:
    """The percentile study leaves it out; the older interval does not."""
    readings = _weigh_lvidd(house, replace(BEAGLE, breed="Newfoundland", weight_kg=55.0))

    assert readings["dog_lvidd_mmode_cornell2004"].applies
    assert not readings["dog_lvidd_mmode_esser2020"].applies


@pytest.mark.parametrize("method", ["2-D", ""])
def test_another_way_of_measuring_gives_orientation_without_z(house: House, method: str) -> None:
    """LVIDd in 2-D, or not stated how, is placed but gets no z, and the doubt is named."""
    reading = _weigh_lvidd(house, BEAGLE, method=method)["dog_lvidd_mmode_cornell2004"]

    assert reading.applies
    assert reading.z is None
    assert reading.words.startswith("orientation only: ")
    assert "Doubt: " in reading.words


def test_a_wall_in_2d_is_not_held_against_an_m_mode_limit(house: House) -> None:
    """No published figure ties the two for walls: the interval stays silent."""
    reading = _by_row(weigh(house, "ivsd", 0.9, "cm", "2-D", BEAGLE, NOTHING_NAMED))["dog_ivsd_mmode_cornell2004"]

    assert not reading.applies
    assert "the row is for M-mode only" in reading.reason


STAGE, DOBERMAN = "dog_lviddn_stage_larouche2019", "doberman_lvids_csaim2020"


@pytest.mark.parametrize("words", ["MMVD", "mmvd, stage B2", "Endocardiosis", "myxomatous mitral valve disease"])
def test_a_disease_may_be_named_in_the_usual_words(house: House, words: str) -> None:
    """An abbreviation on the request sheet counts like the key of the table."""
    assert (
        _weigh_lvidd(house, BEAGLE, words)[STAGE]
        == _weigh_lvidd(house, BEAGLE, "myxomatous_mitral_valve_disease")[STAGE]
    )
    assert _weigh_lvidd(house, BEAGLE, words)[STAGE].applies


@pytest.mark.parametrize("words", ["no MMVD", "MMVD?", "rule out MMVD", "Ringelmann syndrome"])
def test_a_disease_that_is_denied_or_doubted_is_not_named(house: House, words: str) -> None:
    """Staging limits stay silent unless somebody names the disease."""
    assert not _weigh_lvidd(house, BEAGLE, words)[STAGE].applies


def test_a_staging_limit_speaks_only_where_the_disease_is_named(house: House) -> None:
    """The limit of stage B2 is silent without the diagnosis, speaks with it, and is silent again in heart failure."""
    unnamed = _weigh_lvidd(house, BEAGLE)[STAGE]
    named = _weigh_lvidd(house, BEAGLE, "myxomatous_mitral_valve_disease")[STAGE]
    failing = _weigh_lvidd(house, BEAGLE, "myxomatous_mitral_valve_disease", "congestive_heart_failure")[STAGE]

    assert not unnamed.applies
    assert "myxomatous mitral valve disease" in unnamed.reason
    assert named.applies
    assert named.z is None
    assert "is no normal limit" in named.words
    assert not failing.applies
    assert "congestive heart failure" in failing.reason


def test_no_row_but_an_interval_gives_z_or_speaks_of_inside(house: House) -> None:
    """Over all quantities, with every disease named: z only from intervals with enough animals."""
    rows = read_intervals(house)
    everything = Request(named_diseases=tuple(house.table("diseases")))
    for quantity, unit in ((key, row["unit"]) for key, row in house.table("quantities").items()):
        for patient in (BEAGLE, CAT, replace(BEAGLE, breed="Doberman", weight_kg=36.0)):
            for reading in weigh(house, quantity, 1.7, unit, "M-mode", patient, everything):
                if reading.z is not None:
                    row = rows[reading.row]
                    assert row.kind is ReferenceKind.REFERENCE_INTERVAL
                    assert row.n >= 120
                if reading.kind is not ReferenceKind.REFERENCE_INTERVAL:
                    assert " lies inside " not in reading.words
                if reading.kind in (ReferenceKind.STUDY_INCLUSION, ReferenceKind.REPEATABILITY):
                    assert not reading.applies
                assert reading.reason
                assert reading.words


def test_breed_cut_offs_are_for_that_breed_only(house: House) -> None:
    """A Doberman's cut-off speaks for a Doberman, not for a cross, and is not shown for a Beagle."""
    named = ("dilated_cardiomyopathy",)

    def read(breed: str) -> dict[str, IntervalReading]:
        patient = replace(BEAGLE, breed=breed, weight_kg=36.0)
        return _by_row(weigh(house, "lvids", 40.0, "mm", "M-mode", patient, Request(named_diseases=named)))

    assert read("Dobermann")[DOBERMAN].applies
    assert "not for crosses" in read("Doberman cross")[DOBERMAN].reason
    assert DOBERMAN not in read("Beagle")


def test_sex_decides_between_two_cut_offs(house: House) -> None:
    """Male and female rows do not mix; without a sex both are silent."""
    dane = replace(BEAGLE, breed="Great Dane", weight_kg=60.0)
    rows = ("great_dane_male_lvidd_csaim2020", "great_dane_female_lvidd_csaim2020")

    def speak(sex: str) -> list[bool]:
        readings = _weigh_lvidd(house, replace(dane, sex=sex), "dilated_cardiomyopathy")
        return [readings[row].applies for row in rows]

    assert speak("male") == [True, False]
    assert speak("female") == [False, True]
    assert speak("") == [False, False]


@pytest.mark.parametrize(
    ("gradient", "grade"),
    [(49.4, "mild"), (50, "moderate"), (80, "moderate"), (81, "severe"), (130, "severe"), (131, "very severe")],
)
def test_exactly_one_band_grades_a_named_lesion(house: House, gradient: float, grade: str) -> None:
    """EASON2021: mild below 50, moderate 50 to 80, severe 80 to 130, very severe above 130 mmHg; edges go down."""
    named = Named(by="M. Mentor", lesions=("subaortic_stenosis",), failure=HeartFailure.NONE, treatment="none")
    readings = weigh(house, "aortic_peak_gradient", gradient, "mmHg", "CW", BEAGLE, Request(named=named))

    speaking = [reading for reading in readings if reading.applies]
    assert len(speaking) == 1
    assert f"is graded {grade} on this scale (EASON2021" in speaking[0].words


@pytest.mark.parametrize(
    ("named", "reason"),
    [
        (Named(), "named the lesion, the failure status and the treatment"),
        (Named(lesions=("subaortic_stenosis",), treatment="none"), "named the failure status"),
        (Named(lesions=("subaortic_stenosis",), failure=HeartFailure.NONE), "named the treatment"),
        (Named(lesions=("pulmonic_stenosis",), failure=HeartFailure.NONE, treatment="none"), "named another lesion"),
    ],
)
def test_a_band_waits_for_all_that_the_mentor_must_name(house: House, named: Named, reason: str) -> None:
    """A lesion that the request sheet names is not graded before the mentor has named the rest."""
    request = Request(named_diseases=("subaortic_stenosis",), named=named)
    readings = weigh(house, "aortic_peak_gradient", 60, "mmHg", "CW", BEAGLE, request)

    assert not any(reading.applies for reading in readings)
    assert all(reason in reading.reason for reading in readings)


def test_a_normal_gradient_is_never_called_mild(house: House) -> None:
    """Without the named lesion no band speaks."""
    readings = weigh(house, "aortic_peak_gradient", 5, "mmHg", "CW", BEAGLE, NOTHING_NAMED)

    assert not any(reading.applies for reading in readings)


def test_a_group_is_context_and_has_no_limits(house: House) -> None:
    """A mean with SD, or a full range, is told in words and never becomes a band."""
    for patient in (BEAGLE, CAT):
        for reading in weigh(house, "mitral_e", -60, "cm/s", "PW", patient, NOTHING_NAMED):
            assert reading.applies
            assert (reading.lower, reading.upper, reading.z) == (None, None, None)
            assert reading.words.startswith("context only: ")


def test_refused_rows_say_why(house: House) -> None:
    """A probable misprint is listed with its reason where its quantity is weighed, and never speaks."""
    doberman = replace(BEAGLE, breed="Doberman", weight_kg=36.0)
    reading = weigh(house, "lvids", 40.0, "mm", "M-mode", doberman, NOTHING_NAMED)[-1]

    assert reading.row == "doberman_lvids_by_weight_csaim2020"
    assert not reading.applies
    assert "contradicts the limit of 36 mm" in reading.words
    assert set(read_refused(house)) == {
        "dog_lvwd_mmode_esser2020",
        "doberman_lvids_by_weight_csaim2020",
        "cat_ivrt_soares",
    }
    assert not set(read_refused(house)) & set(read_intervals(house))


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (3.6, "", "found no unit; state the unit"),
        (3.6, "m/s", "found the unit 'm/s'"),
        (0.0, "cm", "above 0, got 0 cm"),
    ],
)
def test_an_unusable_value_is_told_not_raised(house: House, value: float, unit: str, words: str) -> None:
    """A missing or wrong unit, or a value that is no size, keeps every row silent with the reason."""
    readings = weigh(house, "lvidd", value, unit, "M-mode", BEAGLE, NOTHING_NAMED)
    intervals = [item for item in readings if item.kind is ReferenceKind.REFERENCE_INTERVAL]

    assert not any(item.applies for item in readings)
    assert all(words in item.words for item in intervals)


def test_a_quantity_without_rows_has_no_readings(house: House) -> None:
    """Nothing is invented for a quantity that the tables do not know."""
    assert weigh(house, "moonshine", 1.0, "cm", "", BEAGLE, NOTHING_NAMED) == ()
    assert why_none(()) == "the tables have no reference interval for this value in this animal"


def test_why_none_names_what_is_missing(house: House) -> None:
    """The sentence names the gap, and is empty when an interval speaks."""
    silent = weigh(house, "lvidd", 3.6, "cm", "M-mode", replace(BEAGLE, weight_kg=None), NOTHING_NAMED)
    speaking = weigh(house, "lvidd", 3.6, "cm", "M-mode", BEAGLE, NOTHING_NAMED)

    assert why_none(silent) == "weight not stated"
    assert why_none(speaking) == ""


def test_percentile_curves_do_not_cross(house: House) -> None:
    """At any weight a higher percentile is a larger size, and the outer curves are the limits of their interval."""
    rows = read_intervals(house)
    for key in ("lvidd", "lvids", "ivsd", "ivss"):
        main = rows[f"dog_{key}_mmode_esser2020"]
        curves = sorted(
            (row for row in rows.values() if row.curve_of == main.key), key=lambda row: row.number("percentile") or 0
        )
        assert [row.number("percentile") for row in curves] == [2.5, 5, 25, 50, 75, 95, 97.5]
        for weight in (2.2, 20.0, 95.0):
            levels = [work_out_limits(row, key, weight).centre or 0.0 for row in curves]
            limits = work_out_limits(main, key, weight)
            assert levels == sorted(set(levels))
            assert (levels[0], levels[3], levels[-1]) == (limits.lower, limits.centre, limits.upper)


def test_indexed_and_plain_diameter_say_the_same(house: House) -> None:
    """LVIDDN and LVIDd are one interval in two forms: z agrees."""
    index = 3.6 / 8.0**0.294
    plain = weigh(house, "lvidd", 3.6, "cm", "M-mode", BEAGLE, NOTHING_NAMED)[0]
    indexed = weigh(house, "LVIDDN", index, "", "M-mode", BEAGLE, NOTHING_NAMED)[0]

    assert indexed.z == pytest.approx(plain.z)
    assert "count it once" in indexed.words


def test_a_value_on_the_limit_follows_the_sign(house: House) -> None:
    """1.6 reaches a limit of "1.6 or more"; 36 mm does not exceed a limit of "more than 36 mm"."""
    rows = read_intervals(house)

    assert place(1.6, work_out_limits(rows["dog_la_ao_stage_larouche2019"], "la_ao", 8.0)) == "above"
    assert place(36.0, work_out_limits(rows[DOBERMAN], "lvids", 30.0)) == "inside"
    assert place(42.1, work_out_limits(rows["scottish_deerhound_ef_deerhound2022"], "ejection_fraction", 40)) == "below"


def test_a_slow_aorta_is_not_called_abnormal_by_a_teaching_range(house: House) -> None:
    """Below the range a velocity may be a matter of the beam angle: the row places it and does not call it."""
    reading = weigh(house, "aortic_vmax", 0.8, "m/s", "CW", BEAGLE, NOTHING_NAMED)[0]

    assert reading.words.startswith("orientation only: 0.80 m/s lies below the range")
    assert "does not call abnormal" in reading.words


def test_la_ao_from_m_mode_is_not_held_against_the_2d_limit(house: House) -> None:
    """The two are not interchangeable: the staging limit stays silent for a ratio from M-mode."""
    request = Request(named_diseases=("myxomatous_mitral_valve_disease",))
    row = "dog_la_ao_stage_larouche2019"

    assert not _by_row(weigh(house, "LA/Ao", 1.7, "", "M-mode", BEAGLE, request))[row].applies
    assert _by_row(weigh(house, "LA/Ao", 1.7, "", "2-D, early diastole", BEAGLE, request))[row].applies
    assert "Doubt: technique not stated" in _by_row(weigh(house, "LA/Ao", 1.7, "", "", BEAGLE, request))[row].words


def test_the_house_may_ask_for_more_animals(house: House) -> None:
    """A group that wants 1000 animals for z gets it from the larger study only."""
    table = house.table("intervals")
    strict = House({**house.tables, "intervals": {**table, "settings": {**table["settings"], "z_needs_animals": 1000}}})

    readings = _by_row(weigh(strict, "lvidd", 3.6, "cm", "M-mode", BEAGLE, NOTHING_NAMED))

    assert readings["dog_lvidd_mmode_cornell2004"].z is None
    assert readings["dog_lvidd_mmode_cornell2004"].words.startswith("orientation only")
    assert readings["dog_lvidd_mmode_esser2020"].z is not None
