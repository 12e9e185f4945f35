"""Rules L3 to L7 of the Doppler ladder, each kept and broken; what a plan does not ask for is never called missing."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.critique.ladder_rules import AtValve, RungClip, Said, broken_rules
from fanlight.reference.ladder import read_ladder
from fanlight.reference.load import load_house
from fanlight.reference.quantities import read_quantities
from fanlight.reference.views import read_views
from fanlight.study import Band, Finding, LadderFinding, Mode, Rung, Valve, Verdict

HOUSE = load_house()
FOUR, APICAL, FIVE = (
    "right_parasternal_long_axis_four_chamber", "left_apical_four_chamber", "left_apical_five_chamber",
)  # fmt: skip
MODES = {
    Rung.TWO_D: Mode.TWO_D, Rung.COLOUR: Mode.COLOUR, Rung.PULSED_WAVE: Mode.PULSED_WAVE,
    Rung.CONTINUOUS_WAVE: Mode.CONTINUOUS_WAVE,
}  # fmt: skip


def finding(criterion: str, verdict: Verdict, value: float | None) -> Finding:
    return Finding(
        criterion=criterion, clip="", value=value, unit="1", band=Band(met_high=1.0), verdict=verdict, reason="drawn"
    )


WRAPS, FITS = finding("spectrum_wrap", Verdict.MISSED, 0.2), finding("spectrum_wrap", Verdict.MET, 0.0)
AT_LIMIT = finding("spectrum_at_limit", Verdict.MISSED, 0.99)
ASLANT, SWEEP = finding("spectrum_angle", Verdict.MISSED, 34.0), finding("spectrum_sweep", Verdict.MET, 200.0)
TORN = finding("spectrum_open_edge", Verdict.MISSED, 0.1)
JET = finding("colour_mosaic", Verdict.NOT_ASSESSABLE, 9.0)
LOW_SCALE = finding("colour_mosaic", Verdict.NOT_ASSESSABLE, None)
CALM = finding("colour_mosaic", Verdict.MET, 1.0)


def clip(
    number: int, rung: Rung, *findings: Finding, view: str = APICAL, is_sure: bool = True,
    hints: tuple[Finding, ...] = (),
) -> RungClip:  # fmt: skip
    return RungClip(
        key=f"clip{number}", number=number, view=view, rung=rung, mode=MODES[rung], can_be_looked_at=True,
        is_of_this_valve=is_sure, findings=findings, hints=hints,
    )  # fmt: skip


TWO_D = (clip(1, Rung.TWO_D), clip(2, Rung.TWO_D, view=FOUR), clip(3, Rung.TWO_D, view=FIVE))
COLOUR = clip(4, Rung.COLOUR)


def at(*clips: RungClip, said: Said | None = None, wants: bool = True, hides: frozenset[Rung] = frozenset()) -> AtValve:
    return AtValve(
        valve=Valve.MITRAL, clips=(*TWO_D, *clips), two_d=TWO_D, may_hide=hides, wants_continuous_wave=wants,
        views=read_views(HOUSE), rules=read_ladder(HOUSE), said=said or Said(),
    )  # fmt: skip


def rules(case: AtValve) -> list[str]:
    return [found.rule for found in broken_rules(case)]


def only(case: AtValve) -> LadderFinding:
    (found,) = broken_rules(case)
    return found


def test_a_valve_that_was_climbed_whole_breaks_nothing() -> None:
    assert rules(at(COLOUR, clip(5, Rung.PULSED_WAVE, FITS), clip(6, Rung.CONTINUOUS_WAVE, FITS))) == []


def test_pulsed_wave_that_wraps_wants_continuous_wave() -> None:
    found = only(at(COLOUR, clip(5, Rung.PULSED_WAVE, WRAPS)))
    assert (found.rule, found.clips) == ("L3", ("clip5",))
    assert "clip 5" in found.words
    assert "continuous wave" in found.words


@pytest.mark.parametrize(
    "case",
    [
        at(COLOUR, clip(5, Rung.PULSED_WAVE, WRAPS), clip(6, Rung.CONTINUOUS_WAVE)),
        at(COLOUR, clip(5, Rung.PULSED_WAVE, WRAPS), clip(6, Rung.PULSED_WAVE, FITS)),  # the baseline was moved
        at(COLOUR, clip(5, Rung.PULSED_WAVE, WRAPS), wants=False),  # the plan asks for none, not even if needed
        at(COLOUR, clip(5, Rung.PULSED_WAVE, WRAPS), hides=frozenset({Rung.CONTINUOUS_WAVE})),
        at(COLOUR, clip(5, Rung.PULSED_WAVE, WRAPS, is_sure=False)),  # it may be another valve's
        at(COLOUR, clip(5, Rung.PULSED_WAVE)),  # not judged
    ],
)
def test_where_l3_is_silent(case: AtValve) -> None:
    assert "L3" not in rules(case)


@pytest.mark.parametrize(
    ("case", "rule"),
    [
        (at(COLOUR, clip(5, Rung.PULSED_WAVE, hints=(WRAPS,))), "L3"),
        (at(COLOUR, clip(5, Rung.PULSED_WAVE, hints=(AT_LIMIT,))), "L3"),
        (at(clip(4, Rung.COLOUR, hints=(JET,)), clip(5, Rung.PULSED_WAVE, FITS)), "L4"),
    ],
)
def test_a_sign_that_held_too_rarely_is_told_as_perhaps(case: AtValve, rule: str) -> None:
    found = only(case)
    assert (found.rule, found.is_sure) == (rule, False)
    assert found.words.startswith("Perhaps")


def test_a_sure_sign_is_named_before_a_doubtful_one() -> None:
    found = only(at(COLOUR, clip(5, Rung.PULSED_WAVE, WRAPS), clip(6, Rung.PULSED_WAVE, hints=(WRAPS,))))
    assert (found.clips, found.is_sure) == (("clip5",), True)


def test_an_envelope_that_breaks_off_is_no_whole_one() -> None:
    said = Said(reported=(("mr_vmax", "MR Vmax 5.2 m/s"),))
    torn = [clip(k, Rung.CONTINUOUS_WAVE, TORN, view=view) for k, view in ((5, APICAL), (6, FIVE))]
    assert only(at(COLOUR, *torn, said=said)).is_sure
    doubtful = [clip(k, Rung.CONTINUOUS_WAVE, hints=(TORN,), view=view) for k, view in ((5, APICAL), (6, FIVE))]
    found = only(at(COLOUR, *doubtful, said=said))
    assert not found.is_sure
    assert "break off" in found.words
    once = only(at(COLOUR, clip(5, Rung.CONTINUOUS_WAVE, hints=(TORN,)), said=said))
    assert once.is_sure  # one window is one window, however its envelope is
    assert "second one" in once.words


def test_what_rests_on_a_proposed_view_is_told_as_perhaps() -> None:
    """A view that was only recognised is no ground for a letter; beside a named clip the named one tells."""
    proposed = replace(clip(4, Rung.COLOUR, JET), is_proposed=True)
    jet = only(at(proposed, clip(5, Rung.PULSED_WAVE, FITS)))
    assert (jet.rule, jet.is_sure) == ("L4", False)
    assert "only proposed" in jet.words
    bare = replace(at(replace(COLOUR, is_proposed=True)), two_d=())
    plane = only(bare)
    assert (plane.rule, plane.is_sure) == ("L1", False)
    assert "only proposed" in plane.words
    both = only(replace(at(replace(COLOUR, is_proposed=True), clip(5, Rung.COLOUR)), two_d=()))
    assert (both.clips, both.is_sure) == (("clip5",), True)


def test_a_jet_in_colour_wants_continuous_wave() -> None:
    found = only(at(clip(4, Rung.COLOUR, JET), clip(5, Rung.PULSED_WAVE, FITS)))
    assert (found.rule, found.clips) == ("L4", ("clip4",))


@pytest.mark.parametrize(
    "case",
    [
        at(clip(4, Rung.COLOUR, JET), clip(6, Rung.CONTINUOUS_WAVE)),
        at(clip(4, Rung.COLOUR, JET), wants=False),
        at(clip(4, Rung.COLOUR, JET), hides=frozenset({Rung.CONTINUOUS_WAVE})),
        at(clip(4, Rung.COLOUR, JET, is_sure=False)),
        at(clip(4, Rung.COLOUR, LOW_SCALE)),  # a low scale makes a mosaic by itself
        at(clip(4, Rung.COLOUR, CALM)),
    ],
)
def test_where_l4_is_silent(case: AtValve) -> None:
    assert rules(case) == []


def test_a_reported_jet_stands_on_a_whole_spectrum() -> None:
    said = Said(reported=(("mr_vmax", "MR Vmax 5.2 m/s"), ("lvidd", "LVIDd 30 mm")))
    nothing = only(at(COLOUR, said=said))
    assert nothing.rule == "L5"
    assert "MR Vmax 5.2 m/s" in nothing.words
    assert "LVIDd" not in nothing.words
    assert "No spectrum" in nothing.words
    cut = only(at(COLOUR, clip(5, Rung.CONTINUOUS_WAVE, WRAPS), said=said))
    assert (cut.rule, cut.clips) == ("L5", ("clip5",))
    assert "may be more" in cut.words
    once = only(at(COLOUR, clip(5, Rung.CONTINUOUS_WAVE, FITS), said=said))
    assert "second one" in once.words
    twice = at(COLOUR, clip(5, Rung.CONTINUOUS_WAVE, FITS), clip(6, Rung.CONTINUOUS_WAVE, view=FIVE), said=said)
    assert rules(twice) == []
    assert rules(at(COLOUR, said=Said(reported=(("tr_vmax", "TR 3 m/s"),)))) == []  # another valve's
    assert rules(at(COLOUR, said=said, hides=frozenset({Rung.CONTINUOUS_WAVE}))) == []


# A beam within 20 degrees loses less than 6 % (1 - cos 20: identity); three beats are common practice, no source.
def test_a_reported_jet_stands_on_a_beam_along_the_flow_and_three_beats() -> None:
    said = Said(reported=(("mr_vmax", "MR Vmax 5.2 m/s"),))
    along = clip(5, Rung.CONTINUOUS_WAVE, FITS, SWEEP)
    crossed = clip(6, Rung.CONTINUOUS_WAVE, FITS, ASLANT, view=FIVE)
    aslant = only(at(COLOUR, replace(crossed, view=APICAL), crossed, said=said))
    assert (aslant.rule, aslant.is_sure, aslant.clips) == ("L5", True, ("clip6", "clip6"))
    assert "wide angle" in aslant.words
    assert "second one" in only(at(COLOUR, along, crossed, said=said)).words  # one is left, and one window
    short = tuple(replace(along, number=k, key=f"clip{k}", n_beats=2.4, view=v) for k, v in ((5, APICAL), (6, FIVE)))
    few = only(at(COLOUR, *short, said=said))
    assert (few.is_sure, few.clips) == (True, ("clip5", "clip6"))
    assert "fewer than 3 beats" in few.words
    for enough in (2.95, None):
        assert rules(at(COLOUR, *(replace(each, n_beats=enough) for each in short), said=said)) == []


def test_beats_by_a_width_that_held_too_rarely_are_told_as_perhaps() -> None:
    said = Said(reported=(("mr_vmax", "MR Vmax 5.2 m/s"),))
    short = (
        replace(clip(k, Rung.CONTINUOUS_WAVE, FITS, hints=(SWEEP,), view=view), n_beats=2.0)
        for k, view in ((5, APICAL), (6, FIVE))
    )
    found = only(at(COLOUR, *short, said=said))
    assert not found.is_sure
    assert found.words.startswith("Perhaps")


@pytest.mark.parametrize("reading", ["No mitral regurgitation seen.", "Heart normal; no regurgitation", "no MR, no TR"])
def test_no_leak_is_said_after_two_views(reading: str) -> None:
    said = Said(reading=reading)
    found = only(at(COLOUR, said=said))
    assert (found.rule, found.clips) == ("L6", ("clip4",))
    assert rules(at(COLOUR, clip(5, Rung.COLOUR, view=FOUR), said=said)) == []
    assert rules(at(COLOUR, replace(clip(5, Rung.COLOUR, view=FOUR), can_be_looked_at=False), said=said)) == ["L6"]


@pytest.mark.parametrize("reading", ["", "moderate mitral regurgitation", "no TR", "No pulmonic regurgitation."])
def test_where_l6_is_silent(reading: str) -> None:
    assert rules(at(COLOUR, said=Said(reading=reading))) == []


def test_what_could_not_be_measured_was_tried() -> None:
    said = Said(reading="Left atrium normal. MR not measurable because of panting.")
    assert only(at(COLOUR, said=said)).rule == "L7"
    assert rules(at(COLOUR, clip(5, Rung.CONTINUOUS_WAVE), said=said)) == []
    other = Said(reading="Tricuspid jet not measurable. Mitral inflow normal.")
    assert rules(at(COLOUR, said=other)) == []


def test_the_quantities_of_the_rules_are_in_the_tables() -> None:
    known = set(read_quantities(HOUSE))
    named = {name for names in read_ladder(HOUSE)["L5"].quantities.values() for name in names}
    assert named
    assert named <= known
