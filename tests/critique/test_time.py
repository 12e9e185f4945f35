"""The time family on graded clips: worse clip, worse value; what must not matter does not; limits are stated."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np
import pytest

from fanlight.critique.accumulator import ClipContext
from fanlight.critique.steadiness import THUMB, measure_steadiness
from fanlight.critique.time import FAMILY, study_ecg_finding
from fanlight.frames.clip_time import ClipTimer
from fanlight.reference.criteria import read_family
from fanlight.reference.load import load_house
from fanlight.study import (
    Basis,
    BeatSource,
    ClipTime,
    Finding,
    FrameTimes,
    Mode,
    ModeReading,
    Patient,
    Polyline,
    TimeSource,
    Verdict,
)
from tests.critique.pulsing_phantom import Pulsing, pulsing

CRITERIA = read_family(load_house(), "time")
SMALL: dict[str, Any] = {"rows": 240, "cols": 320, "ecg_cols": (15, 305), "ecg_height_px": 18}


@lru_cache(maxsize=8)
def _drawn(seed: int, items: tuple[tuple[str, Any], ...]) -> Pulsing:
    return pulsing(np.random.default_rng(seed), **{**SMALL, **dict(items)})


def drawn(seed: int = 4, **options: Any) -> Pulsing:
    return _drawn(seed, tuple(sorted(options.items())))


def context_of(phantom: Pulsing, mode: Mode | None = Mode.TWO_D) -> ClipContext:
    reading = ModeReading(mode=mode, probability=1.0, reasons=("drawn",))
    return ClipContext(
        clip=phantom.clip, patient=Patient(), layout=phantom.layout, mode=reading, criteria=CRITERIA, house="phantom"
    )


def judge(phantom: Pulsing, mode: Mode | None = Mode.TWO_D, time: ClipTime | None = None) -> dict[str, Finding]:
    """All findings of the family on one clip; `time` replaces what the timer reads."""
    timer = ClipTimer(phantom.clip, phantom.layout)
    accumulator = FAMILY.start(context_of(phantom, mode))
    for chunk in phantom.chunks():
        timer.add(chunk)
        accumulator.add(chunk)
    findings = accumulator.finish(time or timer.finish())
    return {finding.criterion: finding for finding in findings}


def value_of(finding: Finding) -> float:
    assert finding.value is not None, finding.reason
    return finding.value


def with_r_waves(phantom: Pulsing, r_frames: tuple[float, ...]) -> ClipTime:
    """What a timer says that read these R waves."""
    period = float(np.mean(np.diff(r_frames))) if len(r_frames) > 1 else None
    return ClipTime(
        times=phantom.clip.times, beat_source=BeatSource.R_WAVE_TAG, r_frames=r_frames, beat_period_frames=period,
        beat_period_ms=None if period is None else 25.0 * period, confidence=0.9, has_ecg=True,
    )  # fmt: skip


def test_every_row_gets_one_finding() -> None:
    """No criterion of the table is forgotten, none is judged twice."""
    findings = judge(drawn(n_frames=60))

    assert set(findings) == set(CRITERIA)


def test_a_good_clip_meets_everything() -> None:
    """Three whole beats, ECG, still hand, 24 frames a beat at 40 Hz."""
    findings = judge(drawn(n_frames=110, ecg="sweep"))

    assert {key: f.verdict for key, f in findings.items()} == dict.fromkeys(CRITERIA, Verdict.MET)


def test_the_table_holds_house_rules_apart_from_sources() -> None:
    """A published row names its source; a house setting names none."""
    for row in CRITERIA.values():
        assert bool(row.source) is (row.basis is Basis.PUBLISHED), row.key
        assert row.low is not None or row.high is not None


# --- beats and frames -------------------------------------------------------------------------------------------------

BEATS = [  # frames (24 a beat) | whole beats | verdict after the band "3 or more, 2 borderline" (common practice)
    pytest.param(120, 5, Verdict.MET, id="five"),
    pytest.param(73, 3, Verdict.MET, id="three"),
    pytest.param(50, 2, Verdict.BORDERLINE, id="two"),
    pytest.param(40, 1, Verdict.MISSED, id="one and two thirds"),
]


@pytest.mark.parametrize(("n_frames", "beats", "verdict"), BEATS)
def test_whole_beats_are_counted_and_judged(n_frames: int, beats: int, verdict: Verdict) -> None:
    """By motion alone; shorter clip, fewer beats."""
    finding = judge(drawn(n_frames=n_frames))["beats_in_clip"]

    assert finding.value == beats
    assert finding.verdict is verdict


def test_uneven_beats_ask_for_five() -> None:
    """Four beats are enough when even, borderline when uneven; the band is shown with the finding."""
    phantom = drawn(n_frames=110)
    even = judge(phantom, time=with_r_waves(phantom, (3.0, 29.0, 55.0, 81.0, 107.0)))["beats_in_clip"]
    uneven = judge(phantom, time=with_r_waves(phantom, (3.0, 23.0, 57.0, 78.0, 107.0)))["beats_in_clip"]

    assert (even.value, even.verdict) == (4, Verdict.MET)
    assert (uneven.value, uneven.verdict) == (4, Verdict.BORDERLINE)
    assert uneven.band.met_low == 5
    assert "unevenly" in uneven.reason


@pytest.mark.parametrize("rr", [30.0, 24.0, 17.0, 13.0, 9.0])
def test_frames_per_beat_follow_the_heart_rate(rr: float) -> None:
    """Within two per cent of the truth; a faster heart is worse served by the same frame rate."""
    finding = judge(drawn(n_frames=80, rr_frames=(rr,)))["frames_per_beat"]

    assert finding.value == pytest.approx(rr, rel=0.02)
    assert finding.verdict is CRITERIA["frames_per_beat"].band.judge(rr)[0]


def test_repeated_frames_count_as_none() -> None:
    """Every fourth frame repeated: a quarter fewer frames a beat, a lower real rate, and a finding of its own."""
    clean, padded = judge(drawn(n_frames=80)), judge(drawn(n_frames=80, repeat_every=4))

    assert padded["frames_per_beat"].value == pytest.approx(0.75 * value_of(clean["frames_per_beat"]), rel=0.03)
    assert padded["frame_rate_hz"].value == pytest.approx(30.0, rel=0.01)
    assert clean["frozen_frames"].value == 0
    assert padded["frozen_frames"].value == pytest.approx(20 / 79)
    assert padded["frozen_frames"].frames[0] == 3


@pytest.mark.parametrize(
    ("rate_hz", "mode", "verdict"),
    [
        (60.0, Mode.TWO_D, Verdict.MET),
        (30.0, Mode.TWO_D, Verdict.BORDERLINE),
        (20.0, Mode.TWO_D, Verdict.MISSED),
        (20.0, Mode.COLOUR, Verdict.MET),
        (16.0, Mode.COLOUR, Verdict.BORDERLINE),
        (12.0, Mode.COLOUR, Verdict.MISSED),
    ],
)
def test_less_frame_rate_is_asked_of_colour(rate_hz: float, mode: Mode, verdict: Verdict) -> None:
    """Colour needs several pulses for each line: c / 2d (N_B + N_c · E), so its rate is lower by physics."""
    finding = judge(drawn(n_frames=60, rate_hz=rate_hz), mode)["frame_rate_hz"]

    assert finding.value == pytest.approx(rate_hz, rel=1e-6)
    assert finding.verdict is verdict


def test_doubted_times_give_no_frame_rate() -> None:
    """Not assessable, with the doubt; beats are still counted in frames."""
    findings = judge(drawn(n_frames=80, doubts=("the tags contradict each other",)))

    assert findings["frame_rate_hz"].verdict is Verdict.NOT_ASSESSABLE
    assert "contradict" in findings["frame_rate_hz"].reason
    assert findings["frames_per_beat"].verdict is Verdict.MET


def test_a_written_heart_rate_counts_beats_when_nothing_repeats() -> None:
    """Too short to see a repeat: 0.75 s at 100 bpm is one whole beat, said with half confidence."""
    finding = judge(drawn(n_frames=30, bpm_text=100.0))["beats_in_clip"]

    assert finding.value == 1
    assert finding.verdict is Verdict.MISSED
    assert finding.confidence == 0.5


def test_a_clip_whose_beats_cannot_be_told_is_not_a_miss() -> None:
    """Nothing beats, nothing is written: not assessable, with the reason."""
    findings = judge(drawn(n_frames=60, beating=False))

    for key in ("beats_in_clip", "frames_per_beat"):
        assert findings[key].verdict is Verdict.NOT_ASSESSABLE
        assert findings[key].reason.startswith("no beats could be told apart")


# --- rhythm -----------------------------------------------------------------------------------------------------------


def test_an_uneven_rhythm_is_never_a_miss_and_limits_nothing() -> None:
    """It is a fact about the heart: borderline at most, weight 0, no limit, and the words say so."""
    phantom = drawn(n_frames=110)
    row = CRITERIA["rhythm_regular"]
    for r_frames in ((3.0, 13.0, 60.0, 71.0, 107.0), (1.0, 3.0, 5.0, 109.0)):
        assert judge(phantom, time=with_r_waves(phantom, r_frames))["rhythm_regular"].verdict is Verdict.BORDERLINE
    assert row.weight == 0
    assert row.limits == ()
    assert row.high is not None
    assert "no fault of the scan" in row.high.means


def test_more_uneven_beats_give_a_larger_value() -> None:
    """Graded by hand-made intervals; the value is their coefficient of variation."""
    phantom = drawn(n_frames=110)
    values = []
    for swing in (0.0, 2.0, 4.0, 8.0):
        rr = np.asarray([24.0 - swing, 24.0 + swing, 24.0 - swing, 24.0 + swing])
        r_frames = tuple(float(r) for r in np.concatenate([[3.0], 3.0 + np.cumsum(rr)]))
        finding = judge(phantom, time=with_r_waves(phantom, r_frames))["rhythm_regular"]
        assert finding.value == pytest.approx(rr.std(ddof=1) / rr.mean())
        values.append(value_of(finding))

    assert values == sorted(values)


def test_rhythm_needs_r_waves_and_enough_of_them() -> None:
    """Motion says nothing about evenness, two intervals too little."""
    phantom = drawn(n_frames=80)

    assert "none were read" in judge(phantom)["rhythm_regular"].reason
    assert (
        "2 intervals are too few"
        in judge(phantom, time=with_r_waves(phantom, (3.0, 27.0, 52.0)))["rhythm_regular"].reason
    )


# --- ECG --------------------------------------------------------------------------------------------------------------


def test_the_study_gets_one_finding_about_its_ecg() -> None:
    """The share of its clips that show one: all, some, none."""
    with_ecg = judge(drawn(n_frames=60, ecg="sweep"))["ecg_present"]
    without = judge(drawn(n_frames=60))["ecg_present"]
    row = CRITERIA["ecg_present"]
    cases = [([with_ecg] * 3, 1.0, Verdict.MET), ([with_ecg] * 2 + [without], 2 / 3, Verdict.BORDERLINE)]
    cases += [([without] * 3, 0.0, Verdict.MISSED), ([with_ecg] + [without] * 3, 0.25, Verdict.MISSED)]

    for findings, share, verdict in cases:
        finding = study_ecg_finding(findings, row)
        assert finding.clip == ""
        assert finding.value == pytest.approx(share)
        assert finding.verdict is verdict


def test_a_study_of_pages_says_nothing_about_its_ecg() -> None:
    """Stills alone are not asked."""
    still = judge(drawn(n_frames=1))["ecg_present"]

    assert still.verdict is Verdict.NOT_ASSESSABLE
    assert study_ecg_finding([still], CRITERIA["ecg_present"]).verdict is Verdict.NOT_ASSESSABLE


# --- drift and plane --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", [4, 9])
def test_drift_is_measured_as_it_was_made(seed: int) -> None:
    """Shares of the width at the depth of the heart, within 0.03; further drift, larger value."""
    values = []
    for drift in (0.0, 0.05, 0.12, 0.20, 0.30):
        finding = judge(drawn(seed, n_frames=90, ecg="sweep", drift_fraction=drift))["probe_drift"]
        assert finding.value == pytest.approx(drift, abs=0.035)
        values.append(value_of(finding))

    assert values == sorted(values)


@pytest.mark.parametrize(
    "options",
    [
        pytest.param({"gain": 0.45}, id="darker"),
        pytest.param({"grey_screen": True}, id="grey screen"),
        pytest.param({"corner": (5, -12)}, id="elsewhere on the screen"),
        pytest.param({"static_clutter": True}, id="a haze that stands still"),
        pytest.param({"drift_fraction": -0.16}, id="to the other side"),
        pytest.param({"noise": 30.0}, id="noisy"),
    ],
)
def test_what_must_not_matter_leaves_the_drift_alone(options: dict[str, Any]) -> None:
    """The same drift of 16 % of the width."""
    finding = judge(drawn(n_frames=90, **{"ecg": "sweep", "drift_fraction": 0.16, **options}))["probe_drift"]

    assert finding.value == pytest.approx(0.16, abs=0.04)


def test_drift_points_the_way_it_went() -> None:
    """The line of evidence runs from left to right, and the words agree."""
    finding = judge(drawn(n_frames=90, drift_fraction=0.2))["probe_drift"]
    shape = finding.evidence[0].shape

    assert isinstance(shape, Polyline)
    assert shape.points[1][1] > shape.points[0][1]
    assert finding.reason == "toward the right of the screen"


def test_breathing_to_and_fro_is_no_drift() -> None:
    """Two whole breaths of ±4 % of the width leave less than a missed drift."""
    finding = judge(drawn(n_frames=140, ecg="sweep", breathing_fraction=0.04))["probe_drift"]

    assert finding.verdict is Verdict.MET


@pytest.mark.parametrize("seed", [4, 9])
def test_a_sweep_is_told_from_a_held_plane(seed: int) -> None:
    """The more the picture turns into another one, the less of it is the same at the end."""
    values = [
        value_of(judge(drawn(seed, n_frames=90, sweep_to_other_plane=share))["plane_held"]) for share in (0.0, 0.5, 1.0)
    ]

    assert values == sorted(values, reverse=True)
    band = CRITERIA["plane_held"].band
    assert band.judge(values[0])[0] is Verdict.MET
    assert band.judge(values[-1])[0] is not Verdict.MET


def test_drift_alone_is_no_change_of_plane() -> None:
    """A heart that wanders by a fifth of the width is still the same plane."""
    assert judge(drawn(n_frames=90, drift_fraction=0.2))["plane_held"].verdict is Verdict.MET


def test_steadiness_has_its_limits() -> None:
    """Black, uniform, one beat, no beat length: not known, each with its reason."""
    rng = np.random.default_rng(6)
    live = rng.integers(0, 255, (30, THUMB, THUMB)).astype(np.uint8)
    still = np.full((30, THUMB, THUMB), 90, np.uint8)

    assert measure_steadiness(still, 10.0).reason == "the picture does not move"
    assert measure_steadiness(live, None).reason.startswith("without a beat length")
    assert measure_steadiness(live, 25.0).reason.startswith("less than one and a half beats")
    assert measure_steadiness(live, 10.0).alike_ratio is None


# --- where the family does not apply ----------------------------------------------------------------------------------


def test_a_still_is_never_a_miss() -> None:
    """Not assessable, because a still has no beats."""
    findings = judge(drawn(n_frames=1))

    assert {f.verdict for f in findings.values()} == {Verdict.NOT_ASSESSABLE}
    assert findings["beats_in_clip"].reason == "a still has no beats"


@pytest.mark.parametrize("mode", [Mode.M_MODE, Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE, Mode.NO_CONTACT, Mode.NOT_ECHO])
def test_strips_and_pages_are_not_asked_for_beats_in_frames(mode: Mode) -> None:
    """Beats, frames a beat, frame rate, drift and plane need a moving picture of a heart."""
    findings = judge(drawn(n_frames=60), mode)

    for key in ("beats_in_clip", "frames_per_beat", "frame_rate_hz", "rhythm_regular", "probe_drift", "plane_held"):
        assert findings[key].verdict is Verdict.NOT_ASSESSABLE, key


def test_findings_carry_their_stage_and_house() -> None:
    """Who says so."""
    source = judge(drawn(n_frames=60))["beats_in_clip"].source

    assert (source.stage, source.version, source.house) == ("critique.time", FAMILY.version, "phantom")


def test_a_clip_without_times_is_still_counted_in_frames() -> None:
    """A video without time stamps: beats yes, frame rate no."""
    phantom = drawn(n_frames=80)
    bare = replace(phantom, clip=replace(phantom.clip, times=FrameTimes(source=TimeSource.NONE)))
    findings = judge(bare)

    assert findings["beats_in_clip"].value == 3
    assert findings["frame_rate_hz"].reason == "no frame times are told"
