"""A number holds, is a bound, or gives way to a reason: as the house says, by what was found on its clip."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.measure.marked import GIVEN_BY
from fanlight.reference.criteria import read_criteria
from fanlight.reference.load import load_house
from fanlight.reference.validity import Effect, InSummary, Standing, read_standings
from fanlight.study import ENGINE, Basis, Finding, House, Kept, Measurement, Side, Verdict
from fanlight.validity.measured import HOLDS, Rules, weigh_measured
from tests.report.sample import finding

HOUSE = load_house()
CRITERIA = read_criteria(HOUSE)
VMAX = Measurement(
    name="aortic_vmax", label="Aortic peak velocity", value=1.4, unit="m/s", uncertainty=0.05, given_by=ENGINE
)
SURE, UNSURE = 0.8, 0.4


def _rules(effect: Effect, other: Effect = Effect.NOTE, not_judged: str = "") -> Rules:
    standing = Standing(
        key="speed", measurements=("*_vmax",), not_judged=not_judged, basis=Basis.PHYSICS, summary=InSummary(),
        stands_on=(("spectrum_angle", effect), ("spectrum_blooming", other)),
    )  # fmt: skip
    return Rules(standings=(standing,), criteria=CRITERIA, sure_from=0.5)


def _found(angle: Verdict, blooming: Verdict = Verdict.MET, confidence: float = SURE) -> tuple[Finding, ...]:
    return (
        finding("spectrum_angle", 1, angle, 40.0, side=Side.HIGH, confidence=confidence, reason="nothing to go by"),
        finding("spectrum_blooming", 1, blooming, 0.5, side=Side.HIGH, confidence=SURE),
    )


def _weigh(rules: Rules, found: tuple[Finding, ...], item: Measurement = VMAX) -> Measurement:
    (weighed,) = weigh_measured((item,), found, rules)
    return weighed


def test_what_everything_is_met_for_holds() -> None:
    weighed = _weigh(_rules(Effect.REFUSE), _found(Verdict.MET))
    assert (weighed.value, weighed.validity) == (VMAX.value, HOLDS)
    assert weighed.stands_on == ("spectrum_angle", "spectrum_blooming")


def test_a_sure_miss_refuses_and_says_why() -> None:
    weighed = _weigh(_rules(Effect.REFUSE), _found(Verdict.MISSED))
    assert weighed.value is None
    assert weighed.uncertainty is None
    assert weighed.validity.startswith("refused: the beam crosses")
    assert not weighed.reason.endswith(".")  # what prints it sets the full stop
    assert weighed.reason.startswith("not given: the beam crosses the flow at a wide angle")


@pytest.mark.parametrize(("effect", "said"), [(Effect.AT_LEAST, "at least: "), (Effect.AT_MOST, "at most: ")])
def test_a_bound_keeps_its_number(effect: Effect, said: str) -> None:
    weighed = _weigh(_rules(effect), _found(Verdict.MISSED))
    assert weighed.value == VMAX.value
    assert weighed.validity.startswith(said)


def test_bounds_to_both_sides_are_none() -> None:
    both = _rules(Effect.AT_LEAST, Effect.AT_MOST)
    assert _weigh(both, _found(Verdict.MISSED, Verdict.MISSED)).value is None


@pytest.mark.parametrize("found", [_found(Verdict.MISSED, confidence=UNSURE), _found(Verdict.BORDERLINE)])
def test_what_is_not_sure_is_noted_and_refuses_nothing(found: tuple[Finding, ...]) -> None:
    weighed = _weigh(_rules(Effect.REFUSE), found)
    assert weighed.value == VMAX.value
    assert weighed.validity.startswith("note: perhaps: the beam crosses")


def test_an_undecided_finding_counts_as_the_engine_found_it_and_says_so() -> None:
    """A flow that is cut off must not be printed as a number because the mentor has not come to say so."""
    (refused,) = weigh_measured((VMAX,), (), _rules(Effect.REFUSE), _found(Verdict.MISSED))
    assert refused.value is None
    assert "(the engine's finding; the mentor has not decided)" in refused.reason
    (bound,) = weigh_measured((VMAX,), (), _rules(Effect.AT_LEAST), _found(Verdict.MISSED))
    assert bound.value == VMAX.value
    assert bound.validity.startswith("at least: ")
    assert "the mentor has not decided" in bound.validity
    (held,) = weigh_measured((VMAX,), (), _rules(Effect.REFUSE), _found(Verdict.MET))
    assert held.validity == "note: not decided by the mentor: 2 of the 2 findings it stands on"


def test_what_the_mentor_decided_goes_before_the_engine() -> None:
    """Overruled to be met, the number holds; what is left undecided is counted."""
    decided = _found(Verdict.MET)[:1]
    (held,) = weigh_measured((VMAX,), decided, _rules(Effect.REFUSE), _found(Verdict.MISSED))
    assert held.value == VMAX.value
    assert held.validity == "note: not decided by the mentor: 1 of the 2 findings it stands on"
    (kept,) = weigh_measured((VMAX,), _found(Verdict.MET), _rules(Effect.REFUSE), _found(Verdict.MISSED))
    assert kept.validity == HOLDS


def test_what_nobody_could_judge_is_said() -> None:
    title = CRITERIA["spectrum_angle"].title
    for found in (_found(Verdict.NOT_ASSESSABLE), _found(Verdict.MET)[1:]):
        assert title.lower() in _weigh(_rules(Effect.REFUSE, not_judged="the third direction"), found).validity.lower()
    assert (
        "never judged: the third direction"
        in _weigh(_rules(Effect.REFUSE, not_judged="the third direction"), _found(Verdict.MET)).validity
    )


def test_a_number_that_no_row_names_and_one_that_is_none_pass_as_they_are() -> None:
    other = replace(VMAX, name="tapse")
    none = replace(VMAX, value=None, reason="the envelope is open")
    for item in (other, none):
        assert replace(_weigh(_rules(Effect.REFUSE), _found(Verdict.MISSED), item), sheet_only=False) == item


def test_the_summary_gives_what_the_row_lists_of_the_hand_that_took_it() -> None:
    """By hand, kept where it was proposed, and by the engine are three things, and a view may be asked for as well."""

    def sheet_only(item: Measurement, view: str = "", **listed: tuple[str, ...]) -> bool:
        rules = _rules(Effect.NOTE)
        rows = tuple(replace(row, summary=InSummary(**listed)) for row in rules.standings)  # type: ignore[arg-type]
        (weighed,) = weigh_measured((item,), _found(Verdict.MET), replace(rules, standings=rows), view=view)
        return weighed.sheet_only

    hand = replace(VMAX, given_by=GIVEN_BY)
    kept = replace(hand, kept=Kept.IN_PART)
    assert not sheet_only(hand, by_hand=("aortic_vmax",))
    assert not sheet_only(kept, kept=("aortic_vmax",))
    assert sheet_only(kept, by_hand=("aortic_vmax",))
    assert sheet_only(hand)
    assert sheet_only(hand, by_hand=("pulmonary_vmax",))
    assert sheet_only(VMAX, by_hand=("aortic_vmax",), engine=("aortic_vmax",))  # the engine's are named apart
    assert sheet_only(replace(hand, name="tapse"), by_hand=("tapse",))  # no row
    assert not sheet_only(hand, "left_apical_five_chamber", by_hand=("aortic_vmax in left_apical_*",))
    assert sheet_only(hand, "right_parasternal_short_axis_aorta", by_hand=("aortic_vmax in left_apical_*",))


def test_disease_is_no_fault() -> None:
    """No row may rest on the size or shape of a chamber that disease deforms (the design's rule)."""
    shapes = {key for key, row in CRITERIA.items() if row.family == "picture_masks"}
    assert not {criterion for row in read_standings(HOUSE) for criterion, _ in row.stands_on} & shapes


@pytest.mark.parametrize(
    ("name", "row"),
    [
        ("mitral_e_a", "ratios"),
        ("mitral_a", "velocities"),
        ("tricuspid_annulus_s", "velocities"),
        ("aortic_vti", "integrals"),
        ("pa_acceleration_time", "times"),
        ("mitral_e_deceleration_time", "times"),
        ("ivrt", "times"),
        ("pa_at_et", "times"),
        ("fractional_shortening", "m_mode_left_ventricle"),
        ("tapse", "m_mode_tricuspid_ring"),
        ("la_ao_m_mode", "m_mode_aorta_and_atrium"),
    ],
)
def test_each_number_finds_its_row(name: str, row: str) -> None:
    assert next(item.key for item in read_standings(HOUSE) if item.fits(name)) == row


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"stands_on": {"spectrum_angel": "refuse"}}, "no criterion 'spectrum_angel'"),
        ({"stands_on": {"spectrum_angle": "refute"}}, "effects are"),
        ({"measurements": []}, "name at least one"),
        ({"basis": "hearsay"}, "validity.times"),
        ({"more": 1}, "needs"),
        ({"stands_on": "spectrum_angle"}, "must be a table"),
        ({"summary": True}, "summary must be a table of by_hand"),
        ({"summary": {"by_machine": ["ivrt"]}}, "summary must be a table of by_hand"),
        ({"summary": {"engine": ["lvidd"]}}, "summary names 'lvidd', which is none of ivrt"),
    ],
)
def test_a_wrong_row_is_named(change: dict[str, object], said: str) -> None:
    shipped = HOUSE.tables["validity"]
    tables = {**HOUSE.tables, "validity": {**shipped, "times": {**shipped["times"], **change}}}
    with pytest.raises(ValueError, match=said):
        read_standings(House(tables))
