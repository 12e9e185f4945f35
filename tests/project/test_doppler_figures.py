"""How the Doppler part of the accuracy page is dealt out and counted."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest

from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.faults.doppler_faults import DOPPLER_FAULTS
from fanlight.study import Verdict
from measure._criterion_record import Answer
from measure._criterion_table import Count
from measure._doppler_answers import AskedClip
from measure._doppler_bench import PLACES, grades_of, modes_of
from measure._doppler_cases import CASES, UNCLAIMED, doppler_criteria
from measure._doppler_clips import ClipTruth
from measure._doppler_table import WRAPS, good_clips, hits, is_never_judged, main_table, quiet_words, variation_table
from measure.doppler_criteria import N_SUBJECTS, subjects_in_turn

WRAP = "spectrum_wrap"
TRUTH = ClipTruth(
    file="0-good.dcm", seed=0, mode="pulsed_wave", view="left_apical_four_chamber", valve="mitral",
    sought="forward flow", signal_valve="mitral", fault="", strength=0, truly_wraps=False, heart="normal",
    species="dog", weight_kg=12.0, layout="left_panel", colour_map="", array="phased",
)  # fmt: skip


def _asked(verdict: Verdict, criterion: str = WRAP, **truth: object) -> AskedClip:
    answer = Answer(criterion=criterion, verdict=verdict.value, value=0.1, reason="")
    return AskedClip(truth=replace(TRUTH, **truth), mode_read="pulsed wave", answers=(answer,))  # type: ignore[arg-type]


def test_every_claim_names_a_fault_and_a_criterion_that_there_are() -> None:
    assert {case.fault for case in CASES} <= set(DOPPLER_FAULTS)
    assert {case.criterion for case in CASES} <= set(doppler_criteria())


def test_every_fault_is_claimed_or_said_not_to_be() -> None:
    assert {case.fault for case in CASES} | {each.fault for each in UNCLAIMED} == set(DOPPLER_FAULTS)
    assert {each.criterion for each in UNCLAIMED} - {""} <= set(doppler_criteria())
    text = main_table({Ring.A: [_asked(Verdict.MISSED, "colour_rate", mode="colour", fault="colour_frame_rate_low")]})
    assert "| colour frame rate too low | `colour_rate` | 1 of 1 |" in text


def test_a_share_of_few_good_clips_is_not_told() -> None:
    assert quiet_words(Count(raised=3, judged=3, asked=28)) == "too few to tell: 0 of 3 quiet; 25 n. a."
    assert quiet_words(Count(raised=0, judged=9, asked=9)) == "too few to tell: 9 of 9 quiet"
    assert quiet_words(Count(raised=0, judged=10, asked=10)).startswith("100 %")
    assert quiet_words(Count(raised=0, judged=0, asked=28)) == "none judged, 28 n. a."


def test_a_signal_at_the_same_time_is_not_claimed() -> None:
    """Mitral and tricuspid inflow run at one time: only flow of the other half of the beat is claimed to be told."""
    case = next(case for case in CASES if case.fault == "wrong_signal")
    clips = [
        _asked(Verdict.MISSED, case.criterion, fault="wrong_signal", strength=3, valve=valve, signal_valve=met)
        for valve, met in (("mitral", "tricuspid"), ("mitral", "aortic"), ("pulmonic", "aortic"))
    ]
    assert hits(clips, case, range(1, 6)).asked == 1


@pytest.mark.parametrize("at", range(3))
def test_grades_from_3_on_come_equally_often(at: int) -> None:
    """Over three of each class of heart; the clips do not hang on what is claimed."""
    dealt = Counter(grade for seed in range(N_SUBJECTS) for grade in grades_of("colour_gain_high", seed, at))

    assert max(dealt[g] for g in (3, 4, 5)) - min(dealt[g] for g in (3, 4, 5)) <= 2
    assert sum(dealt[g] for g in (3, 4, 5)) == N_SUBJECTS
    assert dealt[1] + dealt[2] >= N_SUBJECTS // 7


def test_a_fault_without_grades_is_made_once() -> None:
    assert all(len(grades_of("no_guide", seed, 3)) == 1 for seed in range(20))


def test_every_mode_that_is_wanted_has_places() -> None:
    assert {mode for seed in range(6) for mode in modes_of(seed)} == set(PLACES)


def test_rings_grow_alike() -> None:
    jobs = list(subjects_in_turn(list(Ring), 4))

    assert Counter(ring for ring, _ in jobs) == dict.fromkeys(Ring, 4)
    assert {ring for ring, _ in jobs[:3]} == set(Ring)
    assert len(set(jobs)) == len(jobs)


def test_flow_that_no_scale_holds_is_no_false_alarm() -> None:
    """Pulsed wave of a jet wraps whatever the hand does: such a clip counts for no specificity of that criterion."""
    held, wraps = _asked(Verdict.MET), _asked(Verdict.MISSED, truly_wraps=True)

    assert all(good_clips([held, wraps], criterion) == [held] for criterion in WRAPS)
    assert good_clips([held, wraps], "spectrum_noise") == [held, wraps]


def test_hits_count_the_claimed_fault_and_grades_alone() -> None:
    case = next(case for case in CASES if case.fault == "spectral_scale_low")
    clips = [_asked(Verdict.MISSED, fault="spectral_scale_low", strength=s) for s in (1, 3, 5)]
    other = _asked(Verdict.MISSED, fault="spectral_gain_high", strength=5)

    assert hits([*clips, other], case, range(3, 6)).raised == 2
    assert hits(clips, case, [2]).asked == 0


def test_a_criterion_of_another_mode_is_not_counted_as_not_assessable() -> None:
    case = next(case for case in CASES if case.fault == "colour_gain_high")

    assert hits([_asked(Verdict.MET, fault="colour_gain_high", strength=4)], case, range(1, 6)).asked == 0


def test_variation_parts_good_clips_by_what_is_no_fault() -> None:
    text = variation_table({Ring.A: [_asked(Verdict.MET), _asked(Verdict.MISSED, species="cat")]})

    assert "| species | cat | 1 | 0.0 % |" in text
    assert "| species | dog | 1 | 100.0 % |" in text


def test_what_judged_no_good_clip_is_told_in_a_row_of_its_own() -> None:
    room, none = "colour_scale_room", Verdict.NOT_ASSESSABLE
    good = [_asked(none, room, mode="colour") for _ in range(12)]
    faulty = [_asked(Verdict.MISSED, room, mode="colour", fault="colour_scale_low", strength=4) for _ in range(3)]
    rings = {Ring.A: good + faulty, Ring.B: [*good, _asked(Verdict.MISSED, room, mode="colour")]}

    assert is_never_judged(rings, room)
    assert f"| `{room}` | 12 of 12; 12 of them n. a. | 12 of 13; 12 of them n. a. |" in main_table(rings)
    assert "quiet or not assessable" not in main_table({Ring.A: [_asked(Verdict.MET, room, mode="colour")]})


def test_what_the_network_tells_stands_apart_from_what_marks_tell() -> None:
    split, title = "colour_box_split", "colour box beside the valve"

    def box(by_marks: Verdict, by_network: Verdict, **truth: object) -> AskedClip:
        told = _asked(by_marks, split, mode="colour", **truth)
        return replace(told, by_network=_asked(by_network, split).answers)

    good = [box(Verdict.MET, Verdict.MISSED), *(box(Verdict.MET, Verdict.MET) for _ in range(9))]
    faulty = [box(Verdict.MET, Verdict.MISSED, fault="colour_box_misplaced", strength=3)]
    text = main_table({Ring.A: [*good, *faulty]})

    assert f"| {title} | `{split}` | 3 | **0 % (0–79), n 1** | 100 % (72–100), n 10 |" in text
    assert f"| {title} | `{split}` | 100 % (21–100), n 1 | **90 % (60–98), n 10** |" in text
    assert "network's landmarks" not in main_table({Ring.A: [_asked(Verdict.MET, split)]})
